"""Areas as masks: grown, shrunk, filled, measured, and placed in one another. What lies beyond a mask is not in it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import numpy.typing as npt

from swatchread.photo import opencv as cv2

Mask = npt.NDArray[np.bool_]
Picture = npt.NDArray[np.uint8]
Places = npt.NDArray[np.intp]
"""Rows, or columns, of some pixels, shape (n,)."""

Box = tuple[int, int, int, int]
"""x, y, width and height, pixels."""


def square(side: int) -> Picture:
    """Return a square for morphology, `side` pixels wide."""
    return np.ones((side, side), np.uint8)


def dilated(mask: Mask, side: int) -> Mask:
    """Return a mask grown by half a square of so many pixels."""
    return cv2.dilate(mask.astype(np.uint8), square(side)) > 0


def eroded(mask: Mask, side: int) -> Mask:
    """Return a mask shrunk by half a square of so many pixels."""
    return cv2.erode(mask.astype(np.uint8), square(side), borderValue=0) > 0


def with_margin(mask: Mask, margin: int) -> Picture:
    """Return a mask with so many pixels all round it that are not in it: `numpy.pad` takes ten times as long."""
    height, width = mask.shape
    wide = np.zeros((height + 2 * margin, width + 2 * margin), np.uint8)
    wide[margin : margin + height, margin : margin + width] = mask
    return wide


def depth_of(mask: Mask) -> npt.NDArray[np.float32]:
    """Return how far each pixel of a mask lies from its outline, pixels, shape (h, w)."""
    return cv2.distanceTransform(with_margin(mask, 1), cv2.DIST_L2, 3)[1:-1, 1:-1]


def dilated_by_disc(mask: Mask, radius: float) -> Mask:
    """Return a mask grown by a disc: by the distance transform, which costs the same for every radius."""
    return cv2.distanceTransform((~mask).astype(np.uint8), cv2.DIST_L2, 5) <= radius


def eroded_by_disc(mask: Mask, radius: float) -> Mask:
    """Return a mask shrunk by a disc."""
    return cv2.distanceTransform(with_margin(mask, 1), cv2.DIST_L2, 5)[1:-1, 1:-1] > radius


def opened_by_disc(mask: Mask, radius: float) -> Mask:
    """Return a mask without what is narrower than a disc."""
    return dilated_by_disc(eroded_by_disc(mask, radius), radius)


def pieces_of(mask: Mask, connectivity: int = 4) -> tuple[npt.NDArray[np.int32], npt.NDArray[np.int32]]:
    """Return the connected pieces of a mask.

    Parameters
    ----------
    mask : ndarray, shape (h, w), bool
    connectivity : int
        4, or 8 where pixels that touch at a corner are connected.

    Returns
    -------
    labels : ndarray, shape (h, w), int32
        The number of each pixel's piece, from 1; 0 off the mask.
    stats : ndarray, shape (n + 1, 5), int32
        Left, top, width, height and area of each piece, that off the mask being the first.
    """
    count, labels = cv2.connectedComponents(mask.astype(np.uint8), connectivity=connectivity)
    return labels, _extents(labels, count)


def _extents(labels: npt.NDArray[np.int32], count: int) -> npt.NDArray[np.int32]:
    """Return what `pieces_of` tells of so many pieces: from runs along the rows, of which there are few.

    OpenCV counts pixel by pixel, and takes twice as long for pieces and extents together.
    """
    flat, width = labels.ravel(), labels.shape[1]
    begins = np.empty(flat.size, dtype=bool)
    np.not_equal(flat[1:], flat[:-1], out=begins[1:])
    begins[::width] = True
    start = np.flatnonzero(begins)
    piece, length = flat[start], np.diff(start, append=flat.size)
    top, left = np.divmod(start, width)
    stats = np.zeros((count, 5), dtype=np.int32)
    first, end = np.full(count, width, dtype=np.intp), np.zeros(count, dtype=np.intp)
    np.minimum.at(first, piece, left)
    np.maximum.at(end, piece, left + length)
    stats[:, 0] = np.minimum(first, end)  # 0 of no pixels at all
    stats[:, 2] = end - stats[:, 0]
    stats[piece[::-1], 1] = top[::-1]  # of several rows for one piece the last that is set stays
    stats[piece, 3] = top + 1
    stats[:, 3] -= stats[:, 1]
    stats[:, cv2.CC_STAT_AREA] = np.bincount(piece, length, count)
    return stats


def outlines_of(mask: Mask, method: int = cv2.CHAIN_APPROX_SIMPLE) -> Sequence[npt.NDArray[np.int32]]:
    """Return the outer outlines of a mask, points (x, y) of shape (n, 1, 2) each."""
    return cv2.findContours(mask.astype(np.uint8), cv2.RETR_EXTERNAL, method)[0]


def outline_points(mask: Mask, method: int = cv2.CHAIN_APPROX_SIMPLE) -> npt.NDArray[np.int32]:
    """Return the points (x, y) of all outer outlines of a mask together, shape (n, 1, 2)."""
    return np.concatenate(outlines_of(mask, method))


def polygon_mask(corners: npt.NDArray[Any], shape: tuple[int, ...]) -> Mask:
    """Return a mask of a convex polygon with these corners (x, y), rounded to pixels."""
    return cv2.fillConvexPoly(np.zeros(shape[:2], np.uint8), np.rint(corners).astype(np.int32), 1) > 0


def hull_of(mask: Mask) -> Mask:
    """Return the convex hull of a mask: its holes filled, and the bays in its outline."""
    return polygon_mask(cv2.convexHull(outline_points(mask)), mask.shape)


def turned_rectangle(mask: Mask) -> npt.NDArray[np.float32]:
    """Return the corners (x, y) of the smallest rectangle round a mask, at any turn, shape (4, 2)."""
    return cv2.boxPoints(cv2.minAreaRect(outline_points(mask, cv2.CHAIN_APPROX_NONE)))


def share_of_rectangle(mask: Mask) -> float:
    """Return the share of the smallest rectangle round a mask, at any turn, that it fills."""
    _, (wide, high), _ = cv2.minAreaRect(outline_points(mask))
    return float(np.count_nonzero(mask)) / max(1.0, wide * high)


def put(into: npt.NDArray[Any], mask: npt.NDArray[Any], corner: Sequence[int] | npt.NDArray[np.integer[Any]]) -> None:
    """Add a mask to a larger one with its corner at (x, y); what would lie beyond the larger one is left out."""
    x, y = (int(v) for v in corner)
    part = mask[max(0, -y) :, max(0, -x) :]
    under = into[max(0, y) : max(0, y) + part.shape[0], max(0, x) : max(0, x) + part.shape[1]]
    under |= part[: under.shape[0], : under.shape[1]]


def ring_round(mask: Mask, corner: tuple[int, int], sides: tuple[int, int]) -> tuple[Places, Places]:
    """Return the rows and columns of the pixels round a mask, between two squares, which may lie beyond the picture.

    Parameters
    ----------
    mask : ndarray, shape (h, w), bool
    corner : tuple of int
        x, y of the mask's corner in the picture.
    sides : tuple of int
        Sides of the squares by which the mask is grown to the inner and to the outer end of the ring, pixels.
    """
    reach = sides[1] // 2 + 1
    padded = with_margin(mask, reach)
    inner, outer = (cv2.dilate(padded, square(side)) if side > 1 else padded for side in sides)
    rows, columns = np.divmod(np.flatnonzero(outer > inner), padded.shape[1])
    return rows + corner[1] - reach, columns + corner[0] - reach


def lie_inside(rows: Places, columns: Places, shape: tuple[int, ...]) -> Mask:
    """Tell which of some pixels lie in a picture of this shape."""
    return (rows >= 0) & (rows < shape[0]) & (columns >= 0) & (columns < shape[1])


def holds(mask: Mask, point: npt.NDArray[Any]) -> bool:
    """Tell whether a mask holds the pixel nearest to a point (x, y); none lies beyond the mask."""
    x, y = np.rint(point).astype(int)
    return bool(0 <= x < mask.shape[1] and 0 <= y < mask.shape[0] and mask[y, x])


def part_of(box: Box) -> tuple[slice, slice]:
    """Return the rows and columns of a box, to index an array of the plane."""
    x, y, w, h = box
    return slice(y, y + h), slice(x, x + w)


def box_round(one: Box, other: Box) -> Box:
    """Return the smallest box that holds two boxes."""
    x, y = min(one[0], other[0]), min(one[1], other[1])
    right, bottom = max(one[0] + one[2], other[0] + other[2]), max(one[1] + one[3], other[1] + other[3])
    return x, y, right - x, bottom - y


def box_widened(box: Box, reach: int, shape: tuple[int, int]) -> Box:
    """Return a box with so many pixels more on each side, as far as a picture of this height and width goes."""
    x, y, w, h = box
    left, top = max(0, x - reach), max(0, y - reach)
    return left, top, min(x + w + reach, shape[1]) - left, min(y + h + reach, shape[0]) - top
