"""Parting swatches that touch: along the edge between their colours, or at the neck of their common outline."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from swatchread.card.background import Mask, Picture
from swatchread.colour.order import median
from swatchread.photo import opencv as cv2
from swatchread.photo.edge_strength import edge_strength

_EDGE = 14
_LEAST_PART = 0.3
"""Share of the usual part's area below which a part is a rim or a brush mark."""

_LONG = 2.6
_COMPACT = 1.35
_CORE = 0.45
_SPECK = 8

Piece = tuple[Mask, tuple[int, int]]


def seams(colours: Picture) -> Picture:
    """Return how strong the edges between paints are, the bristles' marks smoothed away.

    Parameters
    ----------
    colours : ndarray, shape (h, w, 3), uint8
        8-bit CIELAB.

    Returns
    -------
    ndarray, shape (h, w), uint8
    """
    return edge_strength(np.asarray(cv2.medianBlur(np.ascontiguousarray(colours), 5), dtype=np.uint8))


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
    whole: list[Piece] = [(mask, (0, 0))]
    depth = depth_of(mask)
    seeds = _by_colour(mask & (edge < _EDGE))
    few = 1 if max(mask.shape) > _COMPACT * min(mask.shape) else 3  # two or three that touch are not as wide as high
    if seeds.max() <= few and max(mask.shape) >= _LONG * float(depth.max()):
        seeds = max(seeds, _by_necks(depth), key=lambda s: int(s.max()))
        few = 1
    count = int(seeds.max())
    if count <= few:
        return whole
    markers = seeds + 1
    markers[mask & (seeds == 0)] = 0
    flooded = cv2.watershed(cv2.cvtColor(np.ascontiguousarray(edge), cv2.COLOR_GRAY2BGR), markers.astype(np.int32))
    # Watershed leaves a line between the parts, so that each is a piece by itself.
    _, pieces, stats, _ = cv2.connectedComponentsWithStats(((flooded > 1) & mask).astype(np.uint8), connectivity=4)
    areas = stats[1:, cv2.CC_STAT_AREA]
    if not len(areas):
        return whole
    least = max(30.0, _LEAST_PART * median(areas[areas > _SPECK]) if (areas > _SPECK).any() else 0.0)
    parts: list[Piece] = []
    for index in (1 + np.flatnonzero(areas > least)).tolist():
        x, y, w, h = (int(v) for v in stats[index, :4])
        parts.append((np.asarray(pieces[y : y + h, x : x + w] == index), (x, y)))
    return parts if len(parts) > 1 else whole


def depth_of(mask: Mask) -> npt.NDArray[np.float32]:
    """Return how far each pixel of a mask lies from its outline, pixels."""
    padded = cv2.copyMakeBorder(mask.astype(np.uint8), 1, 1, 1, 1, cv2.BORDER_CONSTANT, value=0)
    return np.asarray(cv2.distanceTransform(padded, cv2.DIST_L2, 3)[1:-1, 1:-1], dtype=np.float32)


def deepest_of(pieces: npt.NDArray[np.intp], depth: npt.NDArray[np.float32], count: int) -> npt.NDArray[np.float32]:
    """Return the largest depth in each of so many numbered pieces; both arrays are flat."""
    deepest = np.zeros(count, dtype=np.float32)  # of the depth's own type: else numpy takes thirty times as long
    np.maximum.at(deepest, pieces, depth)
    return deepest


def _by_colour(flat: Mask) -> npt.NDArray[np.int32]:
    """Return a numbered seed for each flat colour that is about as broad as the others."""
    depth = depth_of(flat)
    count, pieces = cv2.connectedComponents(flat.astype(np.uint8), connectivity=4)
    deepest = deepest_of(np.asarray(pieces, dtype=np.intp).ravel(), depth.ravel(), count)
    deepest[0] = 0.0
    order = np.argsort(deepest)
    mass = np.cumsum(deepest[order] ** 2)
    usual = float(deepest[order][np.searchsorted(mass, mass[-1] / 2)]) if mass[-1] > 0 else 0.0
    broad = (deepest > max(2.0, _CORE * usual))[pieces]
    _, seeds = cv2.connectedComponents((broad & (depth > _CORE * usual)).astype(np.uint8), connectivity=8)
    return np.asarray(seeds, dtype=np.int32)


def _by_necks(depth: npt.NDArray[np.float32]) -> npt.NDArray[np.int32]:
    """Return a numbered seed for each bulge of the outline."""
    _, cores = cv2.connectedComponents((depth > 0.62 * float(depth.max())).astype(np.uint8), connectivity=8)
    return np.asarray(cores, dtype=np.int32)
