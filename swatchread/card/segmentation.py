"""Painted swatches on a ground: marks that are broad, whole and sharp-edged, as writing, tape and shadows are not."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from swatchread.card.background import Mask, Picture, lab_of, shrunk, spread
from swatchread.card.ground_regions import Box, Surface
from swatchread.card.watershed_split import deepest_of, seams, split
from swatchread.colour.cielab import Floats
from swatchread.colour.order import median, medians, quantile
from swatchread.photo import opencv as cv2

_LEAST_OFF = 2.0
_MOST_OFF = 12.0
_FAINTEST = 1.3
_THIN = 0.42
"""Share of the usual half-width below which a mark is writing, not paint."""

_BROKEN = 0.3
_FILL = 0.6
_MOST_MARKS = 6000
_MOST_BLOBS = 160
_CORNERS = np.array([[0.0, 0.0], [1.0, 0.0], [0.0, 1.0], [1.0, 1.0]])


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
        Share of the step at its outline that happens within a few pixels.
    solid : float
        Area over that of its convex hull.
    border : float
        Share of its outline that lies on the card's own.
    rough : float
        Detail of lightness inside over `off`; 0 where it was not looked at.
    """

    centre: Floats
    size: Floats
    radius: float
    mask: Mask
    corner: tuple[int, int]
    lab: Floats
    off: float
    sharp: float
    solid: float
    border: float
    rough: float = 0.0

    @property
    def area(self) -> int:
        """Number of pixels."""
        return int(np.count_nonzero(self.mask))


def whole_blob(mask: Mask, corner: tuple[int, int], colour: Floats, off: float) -> Blob:
    """Describe paint that is known to be whole, with a sharp outline, and not part of the card's edge.

    Parameters
    ----------
    mask : ndarray, shape (h, w), bool
        Cut to what it holds.
    corner : tuple of int
        x, y of the mask's corner in the plane.
    colour : ndarray, shape (3,)
        8-bit CIELAB levels.
    off : float
        Difference from the ground, CIELAB units.

    Returns
    -------
    Blob
    """
    padded = np.pad(mask.astype(np.uint8), 1)
    contours, _ = cv2.findContours(padded, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_SIMPLE)
    hull = max(float(cv2.contourArea(cv2.convexHull(np.concatenate(contours)))), 1.0)
    h, w = mask.shape
    return Blob(
        centre=np.array([corner[0] + (w - 1) / 2.0, corner[1] + (h - 1) / 2.0]),
        size=np.array([w, h], dtype=np.float64),
        radius=float(cv2.distanceTransform(padded, cv2.DIST_L2, 3).max()),
        mask=mask,
        corner=corner,
        lab=lab_of(colour),
        off=off,
        sharp=1.0,
        solid=min(1.0, float(np.count_nonzero(mask)) / hull),
        border=0.0,
    )


def hull_round(blobs: list[Blob], box: Box) -> Picture:
    """Return the convex hull of the boxes round painted areas, cut to a box: 1 inside, shape (h, w), uint8."""
    low = np.array([b.corner for b in blobs]) - box[:2]
    corners = low[:, None] + np.array([b.size for b in blobs])[:, None] * _CORNERS
    hull = cv2.convexHull(corners.reshape(-1, 2).astype(np.int32))
    return np.asarray(cv2.fillConvexPoly(np.zeros((box[3], box[2]), np.uint8), hull, 1), dtype=np.uint8)


def usual_radius(surface: Surface) -> float | None:
    """Return the usual half-width of the marks on a surface, weighted by their area; None where there are none."""
    return _usual(_depths(_paint(surface)))


def find_blobs(surface: Surface, lab: Picture) -> list[Blob]:
    """Find painted areas on a ground.

    Parameters
    ----------
    surface : Surface
    lab : ndarray, shape (h, w, 3), uint8
        8-bit CIELAB of the whole plane.

    Returns
    -------
    list of Blob
        Empty where the surface is a texture rather than a ground.
    """
    x, y, w, h = surface.box
    colours = lab[y : y + h, x : x + w]
    paint = _paint(surface)
    depths = _depths(paint)
    usual = _usual(depths)
    if usual is None or len(depths) > _MOST_MARKS:
        return []
    blobs, edge = [], seams(colours)
    for mask, (left, top) in _pieces(_opened(paint, _THIN * usual)):
        high, wide = mask.shape
        for part, (px, py) in split(mask, edge[top : top + high, left : left + wide]):
            blobs.append(_described(part, (left + px, top + py), surface, colours))
    return blobs if len(blobs) <= _MOST_BLOBS else []


def _paint(surface: Surface) -> Picture:
    return (surface.off > _threshold(surface)).astype(np.uint8)


def _threshold(surface: Surface) -> float:
    return float(np.clip(3.4 * surface.noise + 0.5, _LEAST_OFF, _MOST_OFF))


def _depths(paint: Picture) -> Floats:
    """Return the half-width of each mark."""
    depth = cv2.distanceTransform(np.pad(paint, 1), cv2.DIST_L2, 3)[1:-1, 1:-1]
    count, found = cv2.connectedComponents(paint, connectivity=4)
    labels = np.asarray(found, dtype=np.intp)
    inside = np.flatnonzero(paint.ravel())
    deepest = deepest_of(labels.ravel()[inside], np.asarray(depth, dtype=np.float32).ravel()[inside], count)
    return deepest[1:].astype(np.float64)


def _usual(depths: Floats) -> float | None:
    """Return the usual half-width: the median, each mark counted by its area."""
    broad = np.sort(depths[depths >= 2.5])
    if not len(broad):
        return None
    mass = np.cumsum(broad**2)
    return float(broad[np.searchsorted(mass, mass[-1] / 2)])


def find_faint(surface: Surface, lab: Picture, usual: float, taken: list[Blob]) -> list[Blob]:
    """Find what `find_blobs` must pass over: paint near the ground's colour, and paint that a dry brush has broken up.

    Writing can look the same, so these count only where the rows and columns of the others ask for a swatch.

    Parameters
    ----------
    surface : Surface
    lab : ndarray, shape (h, w, 3), uint8
    usual : float
        Half-width of the swatches found, pixels.
    taken : list of Blob

    Returns
    -------
    list of Blob
    """
    x, y, w, h = surface.box
    colours = lab[y : y + h, x : x + w]
    paint = (surface.off > max(0.55 * _threshold(surface), _FAINTEST)).astype(np.uint8)
    for blob in taken:
        bx, by = blob.corner[0] - x, blob.corner[1] - y
        paint[by : by + blob.mask.shape[0], bx : bx + blob.mask.shape[1]][blob.mask] = 0
    closed = shrunk(spread(paint, _BROKEN * usual), _BROKEN * usual)
    found = []
    for mask, corner in _pieces(_opened(closed, 0.55 * usual)):
        under = paint[corner[1] : corner[1] + mask.shape[0], corner[0] : corner[0] + mask.shape[1]]
        if float(under[mask].mean()) > _FILL:
            found.append(_described(mask, corner, surface, colours))
    return found


def _opened(paint: Picture, radius: float) -> Picture:
    """Erode, then dilate: what is thinner than the disc goes."""
    return spread(shrunk(paint, radius), radius)


def _pieces(paint: npt.NDArray[np.generic]) -> list[tuple[Mask, tuple[int, int]]]:
    _, labels, stats, _ = cv2.connectedComponentsWithStats(np.asarray(paint, dtype=np.uint8), connectivity=4)
    pieces = []
    for index in range(1, len(stats)):
        x, y, w, h, area = (int(v) for v in stats[index])
        if area >= 30:
            pieces.append((labels[y : y + h, x : x + w] == index, (x, y)))
    return pieces


def _described(mask: Mask, corner: tuple[int, int], surface: Surface, colours: Picture) -> Blob:
    x, y = corner
    h, w = mask.shape
    inside = slice(y, y + h), slice(x, x + w)
    padded = np.pad(mask.astype(np.uint8), 7)
    depth = cv2.distanceTransform(padded, cv2.DIST_L2, 3)[7:-7, 7:-7]
    core = depth > min(0.4 * depth.max(), 3.0)
    lab = lab_of(medians(colours[inside][core]))
    off = median(surface.off[inside][core])
    contours, _ = cv2.findContours(padded, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_SIMPLE)
    contour = max(contours, key=cv2.contourArea)
    hull = max(float(cv2.contourArea(cv2.convexHull(contour))), 1.0)
    rim, border = _around(padded, (x - 7, y - 7), surface)
    return Blob(
        centre=np.array([x + (w - 1) / 2.0, y + (h - 1) / 2.0]) + surface.box[:2],
        size=np.array([w, h], dtype=np.float64),
        radius=float(depth.max()),
        mask=mask,
        corner=(x + surface.box[0], y + surface.box[1]),
        lab=lab,
        off=off,
        sharp=1.0 - rim / max(off, 1e-6),
        solid=min(1.0, float(np.count_nonzero(mask)) / hull),
        border=border,
    )


def _around(padded: Picture, corner: tuple[int, int], surface: Surface) -> tuple[float, float]:
    """Return how far the ground a few pixels out is off, and the share of the surroundings beyond the card.

    The lower third, since a neighbour or a ragged end may lie there.
    """
    wide = cv2.dilate(padded, np.ones((13, 13), np.uint8))
    ring = (wide > 0) & (cv2.dilate(padded, np.ones((7, 7), np.uint8)) == 0)
    rows, cols = np.nonzero(ring)
    rows, cols = rows + corner[1], cols + corner[0]
    h, w = surface.card.shape
    within = (rows >= 0) & (rows < h) & (cols >= 0) & (cols < w)
    on_card = np.zeros(len(rows), dtype=bool)
    on_card[within] = surface.card[rows[within], cols[within]]
    border = 1.0 - float(on_card.mean()) if len(rows) else 1.0
    rim = quantile(surface.off[rows[on_card], cols[on_card]], 0.35) if on_card.any() else 0.0
    return rim, border
