"""Flat, four-sided regions of a picture: where the patches of a chart may be.

A patch is flat and has an edge all round, whether it is brighter or darker than its surround. So the picture is cut
along edges of several strengths, and each area between the edges is kept if it has four sides.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from swatchread.colour.cielab import Floats
from swatchread.photo import opencv as cv2
from swatchread.photo.derived_pictures import edge_strength

_STRENGTHS = (5, 9, 16, 28, 48)
"""Edge strengths in 8-bit levels: a dark patch on a dark surround needs a low one, noise a high one."""

_NOISY = 9
"""Edge strength up to which noise leaves so many specks that it pays to take them away first: that saved 1 to 17 % of
the search on ten photos."""

_LEAST_SIDE = 9.0
"""Least side of a region, pixels: smaller patches cannot be sampled clear of their blurred rims."""

_LARGEST_SHARE = 0.03
"""Largest area of a region as a share of the picture: 24 patches and their gaps must fit into it."""

_MOST = 1500
"""Most regions kept: a patterned table gives thousands of small ones, and a usable chart's patches are large."""

_LEAST_SOLIDITY = 0.86
"""Least area of an outline as a share of its convex hull."""

_LEAST_FILLED = 0.8
"""Least share of the rectangle round an outline that it fills, if its own corners are not four."""

_SIDE_RATIO = 2.5
"""Largest ratio of a region's two sides: squares, seen tilted."""

_LEAST_SINE = 0.45
"""Least sine of the angle between a region's sides."""

_SAME_PLACE = 0.3
"""Distance of centres below which two regions are one, in sides of the larger."""

_SAME_SIZE = 0.45
"""A region at the place of a larger one is kept beside it if it is smaller than this share of its area."""


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
        One region at each place, the largest found there.
    """
    edges = edge_strength(cv2.medianBlur(picture, 3))
    smallest, largest = _LEAST_SIDE**2 * 0.7, _LARGEST_SHARE * edges.size
    quads: list[Floats] = []
    for strength in _STRENGTHS:
        flat = (edges < strength).astype(np.uint8)
        flat = _without_specks(flat) if strength <= _NOISY else flat
        contours, _ = cv2.findContours(flat, cv2.RETR_LIST, cv2.CHAIN_APPROX_SIMPLE)
        for contour in contours:
            if len(contour) >= 4 and smallest <= (area := cv2.contourArea(contour)) <= largest:  # most are specks
                quad = _four_sides(contour, area)
                if quad is not None:
                    quads.append(quad)
    return _largest_of_each_place(regions_of(np.reshape(quads, (-1, 4, 2))))


def _without_specks(flat: npt.NDArray[np.uint8]) -> npt.NDArray[np.uint8]:
    """Return a mask of 0 and 1 without its pieces and holes of three pixels by three and less: no outline else changes.

    Noise leaves tens of thousands of them, and each costs as much as the outline of a patch.
    """
    square = np.ones((3, 3), np.uint8)
    inside, whole = (
        cv2.boxFilter(flat, -1, (side, side), normalize=False, borderType=cv2.BORDER_CONSTANT) for side in (3, 5)
    )
    ring = cv2.subtract(whole, inside)
    pieces, holes = (cv2.dilate((ring == around).view(np.uint8), square) for around in (0, 16))
    return cv2.max(cv2.subtract(flat, pieces), holes)


def _four_sides(contour: npt.NDArray[np.int32], area: float) -> Floats | None:
    """Return the corners of a contour that is nearly a convex quadrangle, else None."""
    hull = cv2.convexHull(contour)
    if area < _LEAST_SOLIDITY * cv2.contourArea(hull):
        return None
    corners = cv2.approxPolyDP(hull, 0.06 * cv2.arcLength(hull, True), True)
    if len(corners) != 4:
        box = cv2.boxPoints(cv2.minAreaRect(hull))
        if area < _LEAST_FILLED * cv2.contourArea(box):
            return None
        corners = box
    return corners.reshape(4, 2).astype(np.float64)


def regions_of(quads: Floats) -> Regions:
    """Return the quadrilaterals that may be squares seen tilted, and are large enough.

    Parameters
    ----------
    quads : ndarray, shape (n, 4, 2)
        Corners in order round each quadrilateral, pixels.

    Returns
    -------
    Regions
    """
    u = (quads[:, 1] - quads[:, 0] + quads[:, 2] - quads[:, 3]) / 2.0
    v = (quads[:, 3] - quads[:, 0] + quads[:, 2] - quads[:, 1]) / 2.0
    regions = Regions(quads.mean(axis=1), u, v, np.abs(u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]))
    length_u, length_v = np.hypot(*u.T), np.hypot(*v.T)
    ratio = length_u / np.maximum(length_v, 1e-9)
    wide = regions.area > _LEAST_SINE * length_u * length_v
    square = (ratio > 1.0 / _SIDE_RATIO) & (ratio < _SIDE_RATIO)
    return regions.take(square & wide & (np.minimum(length_u, length_v) >= _LEAST_SIDE))


def _largest_of_each_place(regions: Regions) -> Regions:
    """Keep the largest of the regions at one place: the cuts at several strengths find the same one again and again."""
    order = np.argsort(-regions.area, kind="stable")[: 2 * _MOST]
    regions = regions.take(order)
    near = (_SAME_PLACE * np.sqrt(regions.area)) ** 2
    x, y = regions.centre.T
    keep = np.ones(len(regions), dtype=bool)
    for index in range(len(regions)):
        if keep[index]:
            later = slice(index + 1, None)
            apart = (x[later] - x[index]) ** 2 + (y[later] - y[index]) ** 2
            keep[later] &= (apart >= near[index]) | (regions.area[later] <= _SAME_SIZE * regions.area[index])
    return regions.take(np.flatnonzero(keep)[:_MOST])
