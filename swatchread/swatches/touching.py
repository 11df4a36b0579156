"""Parting swatches that touch: along the edge between their colours, or at the neck of their common outline."""

from __future__ import annotations

import cv2
import numpy as np
import numpy.typing as npt

from swatchread.swatches.ground import Mask, Picture

_EDGE = 14
_LEAST_PART = 0.08
_LONG = 2.6

Piece = tuple[Mask, tuple[int, int]]


def split(mask: Mask, colours: Picture) -> list[Piece]:
    """Split a painted area into the swatches it is made of.

    Parameters
    ----------
    mask : ndarray, shape (h, w), bool
    colours : ndarray, shape (h, w, 3), uint8
        8-bit CIELAB under the mask.

    Returns
    -------
    list of (mask, (x, y))
        The parts with the places of their corners in the mask given; the mask itself where it is one swatch.
    """
    whole: list[Piece] = [(mask, (0, 0))]
    depth = cv2.distanceTransform(np.pad(mask.astype(np.uint8), 1), cv2.DIST_L2, 3)[1:-1, 1:-1]
    deepest = float(depth.max())
    if max(mask.shape) < _LONG * deepest:
        return whole
    smooth = cv2.medianBlur(np.ascontiguousarray(colours), 5)
    edge = np.asarray(cv2.morphologyEx(smooth, cv2.MORPH_GRADIENT, np.ones((3, 3), np.uint8)).max(axis=2), np.uint8)
    seeds = _seeds(mask, edge, np.asarray(depth, dtype=np.float32))
    count = int(seeds.max())
    if count < 2:
        return whole
    markers = seeds + 1
    markers[mask & (seeds == 0)] = 0
    flooded = cv2.watershed(cv2.cvtColor(edge, cv2.COLOR_GRAY2BGR), markers.astype(np.int32))
    parts: list[Piece] = []
    for index in range(2, count + 2):
        part = (flooded == index) & mask
        if part.sum() > max(_LEAST_PART * mask.sum(), 30):
            rows, cols = np.nonzero(part)
            y, x = int(rows.min()), int(cols.min())
            parts.append((part[y : rows.max() + 1, x : cols.max() + 1], (x, y)))
    return parts or whole


def _seeds(mask: Mask, edge: Picture, depth: npt.NDArray[np.float32]) -> npt.NDArray[np.int32]:
    """Return a numbered seed for each part: flat colours first, and where they do not part, the outline's necks."""
    deepest = float(depth.max())
    reach = max(1, int(0.25 * deepest))
    kernel = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * reach + 1, 2 * reach + 1))
    inner = cv2.erode((mask & (edge < _EDGE)).astype(np.uint8), kernel)
    count, seeds = cv2.connectedComponents(inner, connectivity=4)
    if count > 2:
        return np.asarray(seeds, dtype=np.int32)
    core = (depth > 0.62 * deepest).astype(np.uint8)
    cores, labels = cv2.connectedComponents(core, connectivity=8)
    return np.asarray(labels if cores > 2 else seeds, dtype=np.int32)
