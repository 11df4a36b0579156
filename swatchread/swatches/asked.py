"""Looking where rows and columns ask for a swatch: paint so near its ground that only its place gives it away."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
import numpy.typing as npt

from swatchread.colour import Floats
from swatchread.swatches.blobs import Blob
from swatchread.swatches.field import LAB_SCALE, Mask, lab_of
from swatchread.swatches.grid import Grid
from swatchread.swatches.ground import Sheet, Surface
from swatchread.swatches.places import empty_places

_CORE = 0.55
_RING = (1.3, 1.75)
_REACH = 1.9
"""Radii of what is looked at, in half-widths of a swatch."""

_SECTORS = 8
_TILTED = 5
_LEAST_SECTORS = 3
_LEAST_OPEN = 5
_MOST_SECTORS = 0.76
_SHARE = 0.3
_LEAST_OFF = 2.0
_CLEAR = 3.5
_CALM = 0.2
_LEAST_AREA = 0.45
_MOST_AREA = 2.2
_SOLID = 0.8
_CUT = 0.5
_SAME = 0.2
_SMOOTH = 0.25
_MARGIN = 6.0
_NEAREST = 4
_TINT = 5.0
_DARKER, _LIGHTER = 0.72, 1.4
_ROUGH = 2.0


def find_asked(surface: Surface, sheet: Sheet, grid: Grid) -> list[Blob]:
    """Look for paint in the empty places of a grid, where a step between its lines is twice the others, and beyond.

    Parameters
    ----------
    surface : Surface
    sheet : Sheet
        The whole plane's colours.
    grid : Grid

    Returns
    -------
    list of Blob
    """
    if len(grid.cells) < 3:
        return []
    radius = float(np.median([c.blob.radius for c in grid.cells]))
    places = empty_places(grid)
    if not len(places):
        return []
    view = _View.of(surface, sheet, grid, places, radius)
    found = [view.paint(place) for place in places]
    return [blob for blob in found if blob is not None]


@dataclass(frozen=True, eq=False)
class _View:
    """The surroundings of a grid.

    Attributes
    ----------
    corner : ndarray, shape (2,)
        Of the arrays below in the plane.
    colours : ndarray, shape (h, w, 3)
        8-bit CIELAB levels, smoothed.
    free : ndarray, shape (h, w), bool
        In the photo, and neither chart nor swatch.
    painted : ndarray, shape (h, w), bool
        Swatches.
    quiet : ndarray, shape (h, w), bool
        Known as the card's ground.
    centres, grounds : ndarray, shape (n, 2), (n, 3)
        Swatches, and the colour of the ground beside each.
    radius : float
        Usual half-width of a swatch, pixels.
    tint : float
        How far the ground's a* and b* go astray.
    """

    corner: npt.NDArray[np.int64]
    colours: npt.NDArray[np.float32]
    free: Mask
    painted: Mask
    quiet: Mask
    centres: Floats
    grounds: Floats
    radius: float
    tint: float

    @classmethod
    def of(cls, surface: Surface, sheet: Sheet, grid: Grid, places: Floats, radius: float) -> _View:
        """Cut the surroundings of a grid out of the plane."""
        centres = np.array([c.blob.centre for c in grid.cells])
        every = np.concatenate([centres, places])
        size = np.array(sheet.outside.shape[::-1])
        low = np.clip(np.floor(every.min(axis=0) - 3 * radius), 0, size - 1).astype(np.int64)
        high = np.clip(np.ceil(every.max(axis=0) + 3 * radius), low + 1, size).astype(np.int64)
        part = slice(low[1], high[1]), slice(low[0], high[0])
        blurred = cv2.GaussianBlur(sheet.lab[part].astype(np.float32), (0, 0), max(0.8, _CALM * radius))
        painted = np.zeros(blurred.shape[:2], dtype=bool)
        for cell in grid.cells:
            _put(painted, cell.blob.mask, np.array(cell.blob.corner) - low)
        ground = np.zeros_like(painted)
        quiet = surface.card & (surface.off < max(_ROUGH * surface.noise + 0.5, _LEAST_OFF))
        _put(ground, quiet, np.array(surface.box[:2]) - low)
        ground &= ~painted
        colours = np.asarray(blurred, dtype=np.float32)
        middle = np.median(colours[ground], axis=0) if ground.any() else np.median(colours[~painted], axis=0)
        grounds = [_beside(colours, ground, centre - low, radius) for centre in centres]
        known = np.array([middle if one is None else one for one in grounds], dtype=np.float64)
        tint = max(_TINT, 1.5 * surface.noise)
        return cls(low, colours, ~sheet.outside[part] & ~painted, painted, ground, centres, known, radius, tint)

    def paint(self, place: Floats) -> Blob | None:
        """Return the paint at a place, as it stands off the ground round it."""
        h, w = self.free.shape
        at = place - self.corner
        reach = _REACH * self.radius
        low = np.maximum(np.floor(at - reach), 0).astype(np.int64)
        high = np.minimum(np.ceil(at + reach) + 1, [w, h]).astype(np.int64)
        if (high - low < self.radius).any() or not (0 <= at[0] < w and 0 <= at[1] < h):
            return None
        part = slice(low[1], high[1]), slice(low[0], high[0])
        gy, gx = np.mgrid[low[1] : high[1], low[0] : high[0]]
        x, y = (gx - at[0]) / self.radius, (gy - at[1]) / self.radius
        expected = self._ground_at(place)
        colours, free = self.colours[part], self.free[part]
        ground = _joined(_like(colours, expected, self.tint) & free, self.quiet[part])
        window = _Window(x, y, colours, free, self.painted[part], ground, expected)
        seen = window.paint()
        if seen is None:
            return None
        mask, off = seen
        return _blob(mask, low + self.corner, colours, off)

    def _ground_at(self, place: Floats) -> Floats:
        apart = ((self.centres - place) ** 2).sum(axis=1)
        nearest = np.argsort(apart)[:_NEAREST]
        weight = 1.0 / (apart[nearest] + 1.0)
        return np.asarray((weight[:, None] * self.grounds[nearest]).sum(axis=0) / weight.sum())


@dataclass(frozen=True, eq=False)
class _Window:
    """The surroundings of one place: x and y from it in half-widths, colours, and what lies there.

    `free` is neither swatch nor chart, `painted` a swatch, `ground` free and of about the `expected` colour.
    """

    x: Floats
    y: Floats
    colours: npt.NDArray[np.float32]
    free: Mask
    painted: Mask
    ground: Mask
    expected: Floats

    def paint(self) -> tuple[Mask, float] | None:
        """Return the paint in the middle and how far it stands off; None where there is none."""
        away = np.hypot(self.x, self.y)
        core = (away < _CORE) & self.free
        plane = self._ground_plane(away)
        if plane is None or core.sum() < 12:
            return None
        coefficients, spread, others = plane
        rest = (self.colours - np.stack([np.ones_like(self.x), self.x, self.y], -1) @ coefficients) * LAB_SCALE
        shift = np.median(rest[core], axis=0)
        off = float(np.linalg.norm(shift))
        if off < max(_LEAST_OFF, _CLEAR * spread):
            return None
        middle = np.median(self.colours[core], axis=0)
        if sum(float(np.linalg.norm((middle - other) * LAB_SCALE)) < _SAME * off for other in others) > 1:
            return None  # what lies beyond the card's edge reaches in
        like = (rest @ shift / off**2 > 0.5) & self.free
        mask = self._piece(like & (away < _REACH), away)
        return (mask, off) if mask is not None else None

    def _piece(self, like: Mask, away: Floats) -> Mask | None:
        """Return the piece in the middle; None where it has not a swatch's size, or goes on further."""
        _, labels, stats, _ = cv2.connectedComponentsWithStats(like.astype(np.uint8), connectivity=4)
        middle = int(labels.ravel()[np.argmin(away.ravel())])
        scale = 1.0 / max(float(np.diff(self.x[0, :2])[0]), 1e-9)
        usual = np.pi * scale**2
        if not middle or not _LEAST_AREA * usual < stats[middle, cv2.CC_STAT_AREA] < _MOST_AREA * usual:
            return None
        mask = np.asarray(labels == middle)
        mask = _smooth(mask, _SMOOTH * scale)
        if not mask.any():
            return None
        cut = mask & ((away > _REACH - 2.0 / scale) | self._at_end())
        return mask if cut.sum() < _CUT * scale else None

    def _at_end(self) -> Mask:
        """Tell what lies at the end of the photo, of the view or of another swatch."""
        beyond = np.pad((~self.free & ~self.painted).astype(np.uint8), 1, constant_values=1)
        return np.asarray(cv2.dilate(beyond, np.ones((3, 3), np.uint8))[1:-1, 1:-1] > 0)

    def _ground_plane(self, away: Floats) -> tuple[Floats, float, list[Floats]] | None:
        """Fit a plane per channel to the medians of the ring's sectors that show ground.

        Returns its coefficients, the sectors' spread about it, and the colours of the sectors that show anything else.
        """
        ring = (away > _RING[0]) & (away < _RING[1])
        sector = ((np.arctan2(self.y, self.x) / (2 * np.pi) + 0.5) * _SECTORS).astype(int) % _SECTORS
        places, medians, others, beside = [], [], [], 0
        for k in range(_SECTORS):
            here = ring & (sector == k)
            bare = here & self.ground
            if bare.sum() > max(8.0, _SHARE * here.sum()):
                places.append([1.0, float(self.x[bare].mean()), float(self.y[bare].mean())])
                medians.append(np.median(self.colours[bare], axis=0))
            elif (here & self.painted).sum() > _SHARE * here.sum():
                beside += 1
            elif (here & self.free).any():
                others.append(np.median(self.colours[here & self.free], axis=0))
        if len(places) < _LEAST_SECTORS and len(places) + beside < _LEAST_OPEN:
            return None
        values = np.array([*medians, self.expected], dtype=np.float64)
        if len(places) < _TILTED:
            middle = np.median(values, axis=0)
            spread = float(np.sqrt((((values - middle) * LAB_SCALE) ** 2).sum(axis=1).mean()))
            return np.stack([middle, np.zeros(3), np.zeros(3)]), spread, others
        design, values = np.array(places), values[:-1]
        coefficients = np.linalg.lstsq(design, values, rcond=None)[0]
        # Robust, for writing may fill a sector.
        apart = np.linalg.norm((values - design @ coefficients) * LAB_SCALE, axis=1)
        kept = apart <= np.quantile(apart, _MOST_SECTORS)
        coefficients = np.linalg.lstsq(design[kept], values[kept], rcond=None)[0]
        apart = (values[kept] - design[kept] @ coefficients) * LAB_SCALE
        return coefficients, float(np.sqrt((apart**2).sum() / max(1, int(kept.sum()) - 3))), others


def _smooth(mask: Mask, reach: float) -> Mask:
    """Return a mask without small bays and capes: noise frays paint that is nearly the ground's colour."""
    size = 2 * round(reach) + 1
    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (size, size))
    padded = cv2.copyMakeBorder(mask.astype(np.uint8), size, size, size, size, cv2.BORDER_CONSTANT, value=0)
    closed = cv2.morphologyEx(cv2.morphologyEx(padded, cv2.MORPH_CLOSE, disc), cv2.MORPH_OPEN, disc)
    return np.asarray(closed[size:-size, size:-size] > 0)


def _put(into: Mask, mask: Mask, corner: npt.NDArray[np.int64]) -> None:
    """Add a mask to a larger one, less what lies beyond it."""
    x, y = (int(v) for v in corner)
    part = mask[max(0, -y) :, max(0, -x) :]
    x, y = max(0, x), max(0, y)
    view = into[y : y + part.shape[0], x : x + part.shape[1]]
    view |= part[: view.shape[0], : view.shape[1]]


def _beside(colours: npt.NDArray[np.float32], ground: Mask, centre: Floats, radius: float) -> Floats | None:
    """Return the colour of the ground beside a swatch; None where none is seen."""
    reach = (_RING[1] + 0.5) * radius
    low = np.maximum(np.floor(centre - reach), 0).astype(int)
    high = np.ceil(centre + reach).astype(int) + 1
    part = slice(low[1], high[1]), slice(low[0], high[0])
    bare = colours[part][ground[part]]
    return np.asarray(np.median(bare, axis=0), dtype=np.float64) if len(bare) > 20 else None


def _like(colours: npt.NDArray[np.float32], ground: Floats, tint: float) -> Mask:
    """Tell where the ground could lie, under somewhat more or less light: L* + 16, a* and b* scale alike."""
    share = (colours[..., 0] / 2.55 + 16.0) / (ground[0] / 2.55 + 16.0)
    apart = (colours[..., 1:] - 128.0) - (ground[1:] - 128.0) * share[..., None]
    return np.asarray((np.hypot(apart[..., 0], apart[..., 1]) < tint) & (share > _DARKER) & (share < _LIGHTER))


def _joined(like: Mask, known: Mask) -> Mask:
    """Return those pieces of what looks like ground that hang together with known ground."""
    _, labels = cv2.connectedComponents(like.astype(np.uint8), connectivity=4)
    chosen = np.zeros(int(labels.max()) + 1, dtype=bool)
    chosen[labels[known & like]] = True
    chosen[0] = False
    return np.asarray(chosen[labels])


def _blob(mask: Mask, corner: npt.NDArray[np.int64], colours: npt.NDArray[np.float32], off: float) -> Blob | None:
    """Describe paint as other painted areas are; None where it is ragged."""
    left, top, w, h = cv2.boundingRect(mask.astype(np.uint8))
    inside = slice(top, top + h), slice(left, left + w)
    mask = mask[inside]
    padded = np.pad(mask.astype(np.uint8), 1)
    contours, _ = cv2.findContours(padded, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_SIMPLE)
    hull = max(float(cv2.contourArea(cv2.convexHull(np.concatenate(contours)))), 1.0)
    solid = min(1.0, float(mask.sum()) / hull)
    if solid < _SOLID:
        return None
    depth = cv2.distanceTransform(padded, cv2.DIST_L2, 3)
    core = depth[1:-1, 1:-1] > 0.4 * depth.max()
    x, y = int(corner[0]) + left, int(corner[1]) + top
    return Blob(
        centre=np.array([x + (w - 1) / 2.0, y + (h - 1) / 2.0]),
        size=np.array([w, h], dtype=np.float64),
        radius=float(depth.max()),
        mask=mask,
        corner=(x, y),
        lab=lab_of(np.median(colours[inside][core], axis=0)),
        off=off,
        sharp=1.0,
        solid=solid,
        border=0.0,
    )
