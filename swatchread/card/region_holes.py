"""Islands: the holes that swatches leave in a quiet region, and the bays that they cut into its edge.

They show paint by its edges, where its colour hardly differs from the ground's; a drawn frame and writing are none.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from swatchread.card.background import LAB_SCALE, Mask, Picture, lab_of
from swatchread.card.ground_regions import Box, Region, hull_of
from swatchread.card.lab_image import LabImage
from swatchread.card.segmentation import Blob
from swatchread.card.watershed_split import depth_of, split
from swatchread.colour.order import median, medians, quantile
from swatchread.photo import opencv as cv2

_LEAST_AREA = 30.0
_FULL = 0.3
"""Least share of its box that an island fills."""

_SQUARE = np.ones((7, 7), np.uint8)
_OVER_GRAIN = 1.5
_LEAST_RADIUS = 3.2
_ENOUGH = 250

_LEAST_OFF = 2.5
_RIM = 4
_FILLED = 0.4
_WHOLLY = 0.9
_MOST_ISLANDS = 300
_MOST = 0.75


@dataclass(frozen=True, eq=False)
class Holes:
    """Where a region shows no ground: its holes, and the bays cut into its edge.

    Attributes
    ----------
    labels : ndarray, shape (h, w), int32
        The number of each, within the region's box.
    shore : ndarray, shape (h, w), bool
        The region's outline, a little within.
    broad : list of (int, Box, int)
        Number, box within the region's and area in pixels of those broad enough to hold a swatch.
    """

    labels: npt.NDArray[np.int32]
    shore: Mask
    broad: list[tuple[int, Box, int]]


def holes_of(region: Region, sheet: LabImage) -> Holes:
    """Return where a region shows no ground; none is broad where there are so many that the region is a texture.

    Parameters
    ----------
    region : Region
    sheet : LabImage
    """
    x, y, w, h = region.box
    outside = sheet.outside[y : y + h, x : x + w]
    inner = cv2.erode(np.pad(hull_of(region.bare).astype(np.uint8), 1), _SQUARE)[1:-1, 1:-1]
    shore = cv2.morphologyEx(inner, cv2.MORPH_GRADIENT, np.ones((3, 3), np.uint8)) > 0
    holes = (inner > 0) & ~region.bare & ~outside
    _, labels, stats, _ = cv2.connectedComponentsWithStats(holes.astype(np.uint8), connectivity=4)
    boxes = stats[:, 2] * stats[:, 3]
    wide = (stats[:, 2:4] > 2 * _LEAST_RADIUS).all(axis=1)
    chosen = np.flatnonzero(wide & (stats[:, cv2.CC_STAT_AREA] > np.maximum(_LEAST_AREA, _FULL * boxes)))
    chosen = chosen[chosen > 0] if len(chosen) <= _MOST_ISLANDS else chosen[:0]
    broad = []
    for index, (left, top, wd, hg, area) in zip(chosen.tolist(), stats[chosen].tolist(), strict=True):
        hole = labels[top : top + hg, left : left + wd] == index
        if depth_of(hole).max() >= _LEAST_RADIUS:  # else writing, mostly
            broad.append((index, (left, top, wd, hg), area))
    return Holes(np.asarray(labels, dtype=np.int32), np.asarray(shore), broad)


def islands(region: Region, sheet: LabImage, holes: Holes | None = None) -> list[Blob]:
    """Return the holes of a region that could be swatches, and the bays that swatches near its edge cut into it.

    Parameters
    ----------
    region : Region
    sheet : LabImage
    holes : Holes, optional
        The region's, where they are known.

    Returns
    -------
    list of Blob
        Empty where there are so many that the region is a texture.
    """
    holes = holes_of(region, sheet) if holes is None else holes
    x, y, w, h = region.box
    colours, edge = (whole[y : y + h, x : x + w] for whole in (sheet.lab, sheet.seams))
    found: list[Blob] = []
    for index, (left, top, wide, high), _ in holes.broad:
        inside = slice(top, top + high), slice(left, left + wide)
        for part, (px, py) in split(holes.labels[inside] == index, edge[inside]):
            island = _described(part, (left + px, top + py), region, colours, holes.shore)
            if island is not None:
                found.append(island)
    return found


def _described(mask: Mask, corner: tuple[int, int], region: Region, colours: Picture, shore: Mask) -> Blob | None:
    """Return an island as a painted area; None where its colour is that of the ground round it, as in a drawn frame."""
    h, w = mask.shape
    padded = cv2.copyMakeBorder(mask.astype(np.uint8), _RIM, _RIM, _RIM, _RIM, cv2.BORDER_CONSTANT, value=0)
    depth = cv2.distanceTransform(padded, cv2.DIST_L2, 3)
    ring = cv2.dilate(padded, np.ones((2 * _RIM + 1, 2 * _RIM + 1), np.uint8)) - padded > 0
    x0, y0 = max(0, corner[0] - _RIM), max(0, corner[1] - _RIM)
    x1, y1 = min(region.bare.shape[1], corner[0] + w + _RIM), min(region.bare.shape[0], corner[1] + h + _RIM)
    dx, dy = x0 - corner[0] + _RIM, y0 - corner[1] + _RIM
    view = slice(dy, dy + y1 - y0), slice(dx, dx + x1 - x0)
    seen = colours[y0:y1, x0:x1]
    core = _some(seen[depth[view] > 0.4 * depth.max()])
    around = _some(seen[ring[view] & region.bare[y0:y1, x0:x1]])
    if depth.max() < _LEAST_RADIUS or not len(core) or not len(around):
        return None
    ground = medians(around)
    grain = median(np.linalg.norm((around - ground) * LAB_SCALE, axis=1))
    apart = np.linalg.norm((core - ground) * LAB_SCALE, axis=1)
    off = median(apart)
    # Between the strokes of writing lies the ground.
    if off < max(_LEAST_OFF, _OVER_GRAIN * grain) or float((apart > _FILLED * quantile(apart, 0.9)).mean()) < _WHOLLY:
        return None
    contours, _ = cv2.findContours(padded, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    length = sum(len(contour) for contour in contours)
    ashore = float(np.count_nonzero(shore[corner[1] : corner[1] + h, corner[0] : corner[0] + w] & mask))
    hull = max(float(cv2.contourArea(cv2.convexHull(np.concatenate(contours)))), 1.0)
    x, y = corner[0] + region.box[0], corner[1] + region.box[1]
    return Blob(
        centre=np.array([x + (w - 1) / 2.0, y + (h - 1) / 2.0]),
        size=np.array([w, h], dtype=np.float64),
        radius=float(depth.max()),
        mask=mask,
        corner=(x, y),
        lab=lab_of(medians(core)),
        off=off,
        sharp=1.0,
        solid=min(1.0, float(np.count_nonzero(mask)) / hull),
        border=min(1.0, ashore / length),
    )


def _some(pixels: npt.NDArray[np.uint8]) -> npt.NDArray[np.uint8]:
    return pixels[:: max(1, len(pixels) // _ENOUGH)]


def doubled(blob: Blob) -> Blob:
    """Return a painted area of a sheet as it is on a sheet of twice the size."""
    mask = np.repeat(np.repeat(blob.mask, 2, axis=0), 2, axis=1)
    return _placed(replace(blob, radius=2.0 * blob.radius), mask, 2 * blob.corner[0], 2 * blob.corner[1])


def within(blob: Blob, box: Box) -> Blob | None:
    """Return what a box holds of a painted area; None where that is not most of it.

    Parameters
    ----------
    blob : Blob
    box : tuple of int
        x, y, width, height.

    Returns
    -------
    Blob or None
    """
    x, y = blob.corner[0] - box[0], blob.corner[1] - box[1]
    mask = blob.mask[max(0, -y) : max(0, box[3] - y), max(0, -x) : max(0, box[2] - x)]
    if mask.shape == blob.mask.shape:
        return blob
    if np.count_nonzero(mask) < _MOST * blob.area:
        return None
    return _placed(blob, mask, max(0, x) + box[0], max(0, y) + box[1])


def _placed(blob: Blob, mask: Mask, x: int, y: int) -> Blob:
    h, w = mask.shape
    centre = np.array([x + (w - 1) / 2.0, y + (h - 1) / 2.0])
    return replace(blob, centre=centre, size=np.array([w, h], dtype=np.float64), mask=mask, corner=(x, y))
