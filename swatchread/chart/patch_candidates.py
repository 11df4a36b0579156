"""Flat, four-sided regions of a picture: where the patches of a chart may be.

A patch is flat and has an edge all round, whether it is brighter or darker than its surround. So the picture is cut
along its edges at several strengths, and what is left between the edges is kept where it has four sides.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
import numpy.typing as npt

from swatchread.colour.cielab import Floats
from swatchread.photo.edge_strength import edge_strength

_STRENGTHS = (5, 9, 16, 28, 48)
"""Edge strengths in 8-bit levels: a dark patch on a dark surround needs a low one, noise a high one."""

_MIN_SIDE = 9.0
_MOST = 1500
"""A patterned table gives thousands of small regions; the patches of a usable chart are among the largest."""

_MAX_SHARE = 0.03
_MIN_SOLIDITY = 0.86


@dataclass(frozen=True, eq=False)
class Regions:
    """Four-sided regions.

    Attributes
    ----------
    centre : ndarray, shape (n, 2)
        (x, y) in pixels of the picture searched.
    side_u, side_v : ndarray, shape (n, 2)
        Mean vectors along two neighbouring sides.
    area : ndarray, shape (n,)
    """

    centre: Floats
    side_u: Floats
    side_v: Floats
    area: Floats

    def __len__(self) -> int:
        """Return the number of regions."""
        return len(self.area)

    def take(self, index: npt.NDArray[np.intp] | npt.NDArray[np.bool_]) -> Regions:
        """Return some of the regions."""
        return Regions(self.centre[index], self.side_u[index], self.side_v[index], self.area[index])


def find_regions(picture: npt.NDArray[np.uint8]) -> Regions:
    """Find flat, four-sided regions.

    Parameters
    ----------
    picture : ndarray, shape (h, w, 3), uint8, RGB

    Returns
    -------
    Regions
        Each place once, the largest version of it.
    """
    edges = edge_strength(np.asarray(cv2.medianBlur(picture, 3), dtype=np.uint8))
    smallest, largest = _MIN_SIDE**2 * 0.7, _MAX_SHARE * edges.size
    quads: list[Floats] = []
    for strength in _STRENGTHS:
        flat = (edges < strength).astype(np.uint8)
        contours, _ = cv2.findContours(flat, cv2.RETR_LIST, cv2.CHAIN_APPROX_SIMPLE)
        for contour in contours:
            if len(contour) >= 4 and smallest <= (area := cv2.contourArea(contour)) <= largest:  # most are specks
                quad = _four_sides(contour, area)
                if quad is not None:
                    quads.append(quad)
    if not quads:
        empty = np.zeros((0, 2))
        return Regions(empty, empty, empty, np.zeros(0))
    return _once(_measured(np.stack(quads)))


def _four_sides(contour: cv2.typing.MatLike, area: float) -> Floats | None:
    """Return the corners of a contour that is nearly a convex quadrangle, else None."""
    hull = cv2.convexHull(contour)
    if area < _MIN_SOLIDITY * cv2.contourArea(hull):
        return None
    corners = cv2.approxPolyDP(hull, 0.06 * cv2.arcLength(hull, True), True)
    if len(corners) != 4:
        box = cv2.boxPoints(cv2.minAreaRect(hull))
        if area < 0.8 * cv2.contourArea(box):
            return None
        corners = box
    return np.asarray(corners, dtype=np.float64).reshape(4, 2)


def _measured(quads: Floats) -> Regions:
    u = (quads[:, 1] - quads[:, 0] + quads[:, 2] - quads[:, 3]) / 2.0
    v = (quads[:, 3] - quads[:, 0] + quads[:, 2] - quads[:, 1]) / 2.0
    regions = Regions(quads.mean(axis=1), u, v, np.abs(u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]))
    length_u, length_v = np.hypot(*u.T), np.hypot(*v.T)
    ratio = length_u / np.maximum(length_v, 1e-9)
    upright = regions.area > 0.45 * length_u * length_v
    return regions.take((ratio > 0.4) & (ratio < 2.5) & upright & (np.minimum(length_u, length_v) >= _MIN_SIDE))


def _once(regions: Regions) -> Regions:
    """Keep, of the regions found again and again at one place, the largest."""
    order = np.argsort(-regions.area, kind="stable")[: 2 * _MOST]
    regions = regions.take(order)
    near = (0.3 * np.sqrt(regions.area)) ** 2
    x, y = regions.centre.T
    keep = np.ones(len(regions), dtype=bool)
    for index in range(len(regions)):
        if keep[index]:
            later = slice(index + 1, None)
            apart = (x[later] - x[index]) ** 2 + (y[later] - y[index]) ** 2
            keep[later] &= (apart >= near[index]) | (regions.area[later] <= 0.45 * regions.area[index])
    return regions.take(np.flatnonzero(keep)[:_MOST])
