"""Separating swatches that touch: along the edges between their colours."""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

from swatchread.photo import opencv as cv2
from swatchread.photo.masks import Mask, Picture, depth_of, pieces_of
from swatchread.plane.finder_settings import settings

Piece = tuple[Mask, tuple[int, int]]


def split(mask: Mask, edge: Picture) -> list[Piece]:
    """Split a painted area into the swatches it is made of.

    Parameters
    ----------
    mask : ndarray, shape (h, w), bool
    edge : ndarray, shape (h, w), uint8
        The `seams` under the mask.

    Returns
    -------
    list of (mask, (x, y))
        The parts with the places of their corners in the mask given; the mask itself where it is one swatch.
    """
    known = settings().paint
    whole: list[Piece] = [(mask, (0, 0))]
    seeds = _seeds_by_colour(mask & (edge < known.seam))
    # Two or three that touch are not as wide as high.
    few = 1 if max(mask.shape) > known.compact * min(mask.shape) else 3
    if int(seeds.max()) <= few:
        return whole
    markers = seeds + 1
    markers[mask & (seeds == 0)] = 0
    flooded = cv2.watershed(cv2.cvtColor(np.ascontiguousarray(edge), cv2.COLOR_GRAY2BGR), markers)
    # Watershed leaves a line between the parts, so that each is a piece by itself.
    pieces, stats = pieces_of((flooded > 1) & mask)
    areas = stats[1:, cv2.CC_STAT_AREA]
    if not len(areas):
        return whole
    usual = float(np.median(areas))
    parts: list[Piece] = []
    for index in (1 + np.flatnonzero(areas > known.least_part * usual)).tolist():
        x, y, w, h = stats[index, :4].tolist()
        parts.append((pieces[y : y + h, x : x + w] == index, (x, y)))
    return parts if len(parts) > 1 else whole


def deepest_of(pieces: npt.NDArray[np.int32], depth: npt.NDArray[np.float32], count: int) -> npt.NDArray[np.float32]:
    """Return the largest depth in each of so many numbered pieces; both arrays are flat."""
    deepest = np.zeros(count, dtype=np.float32)  # of the depth's own type: else numpy takes thirty times as long
    np.maximum.at(deepest, pieces, depth)
    return deepest


def usual_of(radii: npt.NDArray[Any]) -> float:
    """Return the usual of some half-widths: the median, each counted by its area; 0 where none is broader than 0."""
    ordered = np.sort(radii).astype(np.float64)
    mass = np.cumsum(ordered**2)
    return float(ordered[np.searchsorted(mass, mass[-1] / 2)]) if len(mass) else 0.0


def _seeds_by_colour(flat: Mask) -> npt.NDArray[np.int32]:
    """Return a numbered seed for each flat colour that is about as broad as the others."""
    depth, known = depth_of(flat), settings().paint
    count, pieces = cv2.connectedComponents(flat.astype(np.uint8), connectivity=4)
    deepest = deepest_of(pieces.ravel(), depth.ravel(), count)
    least = known.seed * usual_of(deepest)
    broad = (deepest > max(known.least_seed, least))[pieces]
    return cv2.connectedComponents((broad & (depth > least)).astype(np.uint8), connectivity=8)[1]
