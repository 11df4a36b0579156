"""Painted swatches on a ground: marks that are broad, whole and sharp-edged, as writing, tape and shadows are not."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
import numpy.typing as npt

from swatchread.colour import Floats
from swatchread.swatches.ground import Mask, Surface

_LEAST_OFF = 2.2
_MOST_OFF = 7.0
_THIN = 0.42
"""Share of the usual half-width below which a mark is writing, not paint."""


@dataclass(frozen=True, eq=False)
class Blob:
    """One painted area, in pixels of the plane.

    Attributes
    ----------
    centre : ndarray, shape (2,)
        Of its bounding box.
    size : ndarray, shape (2,)
        Width and height of its bounding box.
    radius : float
        Of the largest disc inside.
    mask : ndarray, shape (h, w), bool
    corner : tuple of int
        x, y of the mask's corner.
    lab : ndarray, shape (3,)
        Median colour, CIELAB-like units.
    off : float
        Median difference from the ground.
    sharp : float
        Share of the step at its outline that happens within two pixels.
    """

    centre: Floats
    size: Floats
    radius: float
    mask: Mask
    corner: tuple[int, int]
    lab: Floats
    off: float
    sharp: float

    @property
    def area(self) -> int:
        """Number of pixels."""
        return int(self.mask.sum())


def find_blobs(surface: Surface, lab: npt.NDArray[np.uint8]) -> list[Blob]:
    """Find painted areas on a ground.

    Parameters
    ----------
    surface : Surface
    lab : ndarray, shape (h, w, 3), uint8
        8-bit CIELAB of the whole plane.

    Returns
    -------
    list of Blob
    """
    x, y, w, h = surface.box
    colours = lab[y : y + h, x : x + w]
    threshold = float(np.clip(3.2 * surface.noise + 0.6, _LEAST_OFF, _MOST_OFF))
    paint = (surface.off > threshold).astype(np.uint8)
    paint = _without_thin(paint)
    if not paint.any():
        return []
    count, labels, stats, _ = cv2.connectedComponentsWithStats(paint, connectivity=4)
    blobs = []
    for index in range(1, count):
        bx, by, bw, bh, area = (int(v) for v in stats[index])
        if area < 30 or area > 0.5 * surface.card.sum():
            continue
        mask = labels[by : by + bh, bx : bx + bw] == index
        for part, (px, py) in _parts(mask, colours[by : by + bh, bx : bx + bw]):
            blobs.append(_described(part, (bx + px, by + py), surface, colours))
    return blobs


def _without_thin(paint: npt.NDArray[np.uint8]) -> npt.NDArray[np.uint8]:
    """Take away strokes: writing, pencil frames, the rim of tape."""
    depth = cv2.distanceTransform(np.pad(paint, 1), cv2.DIST_L2, 3)[1:-1, 1:-1]
    count, found = cv2.connectedComponents(paint, connectivity=4)
    labels = np.asarray(found, dtype=np.intp)
    deepest = np.zeros(count)
    np.maximum.at(deepest, labels.ravel(), depth.ravel())
    deepest[0] = 0.0
    usual = _usual(deepest[deepest >= 2.5])
    if usual is None:
        return np.zeros_like(paint)
    reach = max(1, round(_THIN * usual))
    kernel = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * reach + 1, 2 * reach + 1))
    return np.asarray(cv2.morphologyEx(paint, cv2.MORPH_OPEN, kernel), dtype=np.uint8)


def _usual(depths: Floats) -> float | None:
    """Return the usual half-width of the swatches: the median, each mark counted by its area."""
    if not len(depths):
        return None
    order = np.sort(depths)
    mass = np.cumsum(order**2)
    return float(order[np.searchsorted(mass, mass[-1] / 2)])


def _parts(mask: Mask, colours: npt.NDArray[np.uint8]) -> list[tuple[Mask, tuple[int, int]]]:
    """Split touching swatches of different colours along the edge between them."""
    whole = [(mask, (0, 0))]
    depth = cv2.distanceTransform(np.pad(mask.astype(np.uint8), 1), cv2.DIST_L2, 3)[1:-1, 1:-1]
    if max(mask.shape) < 2.6 * depth.max():
        return whole
    smooth = cv2.medianBlur(np.ascontiguousarray(colours), 5)
    edge = cv2.morphologyEx(smooth, cv2.MORPH_GRADIENT, np.ones((3, 3), np.uint8)).max(axis=2)
    inner = (mask & (edge < 14)).astype(np.uint8)
    reach = max(1, int(0.25 * depth.max()))
    inner = cv2.erode(inner, cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * reach + 1, 2 * reach + 1)))
    count, found = cv2.connectedComponents(inner, connectivity=4)
    seeds = _necks(np.asarray(found, dtype=np.int32), count, np.asarray(depth, dtype=np.float64))
    count = int(seeds.max()) + 1
    if count <= 2:
        return whole
    markers = seeds + 1
    markers[mask & (seeds == 0)] = 0
    flooded = cv2.watershed(cv2.cvtColor(edge, cv2.COLOR_GRAY2BGR), markers.astype(np.int32))
    parts = []
    for index in range(2, count + 1):
        part = (flooded == index) & mask
        if part.sum() > 0.08 * mask.sum() and part.sum() > 30:
            rows, cols = np.nonzero(part)
            y, x = int(rows.min()), int(cols.min())
            parts.append((part[y : rows.max() + 1, x : cols.max() + 1], (x, y)))
    return parts or whole


def _necks(seeds: npt.NDArray[np.int32], count: int, depth: Floats) -> npt.NDArray[np.int32]:
    """Return seeds of the parts: where colour does not part them, the narrow necks of the outline do."""
    if count > 2:
        return seeds
    core = (depth > 0.62 * depth.max()).astype(np.uint8)
    cores, labels = cv2.connectedComponents(core, connectivity=8)
    return np.asarray(labels, dtype=np.int32) if cores > 2 else seeds


def _described(mask: Mask, corner: tuple[int, int], surface: Surface, colours: npt.NDArray[np.uint8]) -> Blob:
    x, y = corner
    h, w = mask.shape
    inside = slice(y, y + h), slice(x, x + w)
    depth = cv2.distanceTransform(np.pad(mask.astype(np.uint8), 1), cv2.DIST_L2, 3)[1:-1, 1:-1]
    core = depth > min(0.4 * depth.max(), 3.0)
    scale = np.array([1 / 2.55, 1.0, 1.0])
    lab = (np.median(colours[inside][core], axis=0) - [0.0, 128.0, 128.0]) * scale
    off = float(np.median(surface.off[inside][core]))
    ring = cv2.dilate(np.pad(mask.astype(np.uint8), 4), np.ones((5, 5), np.uint8))[4:-4, 4:-4].astype(bool) & ~mask
    rim = float(np.median(surface.off[inside][ring])) if ring.any() else 0.0
    return Blob(
        centre=np.array([x + (w - 1) / 2.0, y + (h - 1) / 2.0]) + surface.box[:2],
        size=np.array([w, h], dtype=np.float64),
        radius=float(depth.max()),
        mask=mask,
        corner=(x + surface.box[0], y + surface.box[1]),
        lab=lab,
        off=off,
        sharp=1.0 - rim / max(off, 1e-6),
    )
