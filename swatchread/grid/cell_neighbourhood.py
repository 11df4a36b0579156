"""The neighbourhood of one cell of a grid: paint there, as it differs from the ground round it."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt

from swatchread.colour.cielab import Floats
from swatchread.ground.background import LAB_SCALE, lab_of
from swatchread.ground.finder_settings import settings
from swatchread.ground.ground_regions import Region
from swatchread.ground.segmentation import Blob
from swatchread.photo import opencv as cv2
from swatchread.photo.masks import Mask, dilated, pieces_of

# Measured on development scenes. Lengths are in half-widths of a swatch, colour differences in CIELAB units.

_CORE, RING, REACH, _KEPT = 0.55, (1.3, 1.75), 1.9, 1.5
"""Radii of the middle, of the ring that shows the ground, of the whole neighbourhood, and of the paint that is kept."""

_LEAST_CORE = 12
"""Pixels of the middle that must be free."""

_SECTORS, _SHARE, _LEAST_PIXELS = 8, 0.3, 8.0
"""Sectors of the ring, and the share and number of its pixels by which a sector shows ground."""

_LEAST_SECTORS, _LEAST_OPEN, _TILTED = 3, 4, 5
"""Sectors that must show ground: at least, together with those that show paint, and to fit slanting light."""

_LEAST_OFF, _CLEAR = 2.0, 3.5
"""Difference of paint from the ground: in CIELAB units, and in the ground's own spread."""

_FAINT_OFF, _FAINT = 1.5, 2.3
"""The same two of a faint trace."""

_FAINT_OFF_PLACE, _FAINT_AREA, _FAINT_PAINTED = 0.3, (0.6, 1.7), 0.15
"""How far off the middle a faint trace may lie, its area over a swatch's, and the share of the ring that swatches may
take: between swatches that nearly touch, everything seems to differ from the ground."""

_LEAST_AREA, _MOST_AREA, _SOLID = 0.45, 2.2, 0.8
"""Area of paint over a swatch's, and the share of its hull that it fills."""

_CUT = 0.5
"""Length along which the end of the neighbourhood, or of the photo, may cut paint off."""

_NEAR, _GRAIN = 0.5, 2.0
"""How far a pixel may differ from the paint: as a share of the paint's own difference, and CIELAB units more."""

_SMOOTH = 0.25
"""Radius of the disc that smooths the outline."""

_Plane = tuple[Floats, float]
"""Coefficients of the ground's colours over x and y, and their spread about that."""


@dataclass(frozen=True, eq=False)
class _Mark:
    """What differs from the ground in the middle: where, by how much, and the ground's spread."""

    mask: Mask
    off: float
    spread: float

    @property
    def faint(self) -> bool:
        """Whether the ground's own spread could explain it."""
        return self.off < max(_LEAST_OFF, _CLEAR * self.spread)


@dataclass(frozen=True, eq=False)
class CellNeighbourhood:
    """The neighbourhood of one cell.

    Attributes
    ----------
    x, y : ndarray, shape (h, w)
        Places, from the cell's middle, in half-widths of a swatch.
    colours : ndarray, shape (h, w, 3)
        8-bit CIELAB levels.
    free, painted, ground : ndarray, shape (h, w), bool
        Neither swatch nor chart; a swatch; free and of about the expected colour.
    expected : ndarray, shape (3,)
        Colour of the ground, 8-bit CIELAB levels.
    """

    x: Floats
    y: Floats
    colours: npt.NDArray[np.float32]
    free: Mask
    painted: Mask
    ground: Mask
    expected: Floats

    @property
    def around(self) -> float:
        """Share of the ring that shows ground."""
        return float(self.ground[self._ring].mean())

    def paint(self, *, in_gap: bool = False) -> tuple[Mask, Floats, float] | None:
        """Return the paint in the middle, its colour and how far it stands off; None where there is none.

        A faint trace counts only where the grid leaves a cell empty (`in_gap`), and only in that cell's middle.
        """
        if np.count_nonzero(self._core) < _LEAST_CORE or self._plane is None:
            return None
        found = self._marked(self._plane)
        if found is None:
            return None
        if found.faint:
            open_ = in_gap and settings().gap_faint and self.painted[self._ring].mean() < _FAINT_PAINTED
            if not open_ or found.off < max(_FAINT_OFF, _FAINT * found.spread) or not self._in_place(found.mask):
                return None
        middle: Floats = np.median(self.colours[self._core], axis=0).astype(np.float64)
        return found.mask & (self._away < _KEPT), middle, found.off

    @cached_property
    def _away(self) -> Floats:
        return np.hypot(self.x, self.y)

    @cached_property
    def _ring(self) -> Mask:
        return (self._away > RING[0]) & (self._away < RING[1])

    @cached_property
    def _core(self) -> Mask:
        return (self._away < _CORE) & self.free

    @cached_property
    def _plane(self) -> _Plane | None:
        return self._ground_plane()

    def _marked(self, plane: _Plane) -> _Mark | None:
        """Return what differs from a ground in the middle; None where it has not a swatch's size, or goes on."""
        coefficients, spread = plane
        ground = np.stack([np.ones_like(self.x), self.x, self.y], -1) @ coefficients
        rest: Floats = (self.colours - ground) * LAB_SCALE
        shift = np.median(rest[self._core], axis=0)
        off = float(np.linalg.norm(shift))
        near = np.linalg.norm(rest - shift, axis=-1) < _NEAR * off + _GRAIN
        mask = self._piece((rest @ shift / max(off, 1e-9) ** 2 > 0.5) & near)
        return None if mask is None else _Mark(mask, off, spread)

    def _in_place(self, mask: Mask) -> bool:
        """Tell whether paint lies in the middle and is as large as a swatch."""
        share = np.count_nonzero(mask) / (np.pi * self._scale**2)
        off_place = float(np.hypot(self.x[mask].mean(), self.y[mask].mean()))
        return bool(off_place < _FAINT_OFF_PLACE and _FAINT_AREA[0] < share < _FAINT_AREA[1])

    @property
    def _scale(self) -> float:
        """Half-width of a swatch, pixels."""
        return 1.0 / max(float(np.diff(self.x[0, :2])[0]), 1e-9)

    def _piece(self, like: Mask) -> Mask | None:
        """Return the free piece in the middle; None where it is not of a swatch's size, or goes on further."""
        like = like & self.free & (self._away < REACH)
        labels, stats = pieces_of(like)
        middle = int(labels.ravel()[np.argmin(self._away.ravel())])
        scale, usual = self._scale, np.pi * self._scale**2
        if not middle or not _LEAST_AREA * usual < stats[middle, cv2.CC_STAT_AREA] < _MOST_AREA * usual:
            return None
        mask = _smooth(labels == middle, _SMOOTH * scale)
        if not mask.any():
            return None
        cut = mask & ((self._away > REACH - 2.0 / scale) | self._at_end())
        return mask if np.count_nonzero(cut) < _CUT * scale else None

    def _at_end(self) -> Mask:
        """Tell what lies at the end of the photo or of the neighbourhood."""
        return dilated(np.pad(~self.free & ~self.painted, 1, constant_values=True), 3)[1:-1, 1:-1]

    def _ground_plane(self) -> _Plane | None:
        """Fit a plane per channel to the medians of the ring's sectors that show ground."""
        ring = np.flatnonzero(self._ring)
        x, y, colours = self.x.ravel()[ring], self.y.ravel()[ring], self.colours.reshape(-1, 3)[ring]
        ground, painted = self.ground.ravel()[ring], self.painted.ravel()[ring]
        sector = ((np.arctan2(y, x) / (2 * np.pi) + 0.5) * _SECTORS).astype(int) % _SECTORS
        places, middles, beside = [], [], 0
        for k in range(_SECTORS):
            here = sector == k
            bare, least = here & ground, _SHARE * np.count_nonzero(here)
            if np.count_nonzero(bare) > max(_LEAST_PIXELS, least):
                places.append([1.0, float(x[bare].mean()), float(y[bare].mean())])
                middles.append(np.median(colours[bare], axis=0))
            elif np.count_nonzero(here & painted) > least:
                beside += 1
        if len(places) < _LEAST_SECTORS and (not places or len(places) + beside < _LEAST_OPEN):
            return None
        values = np.array([*middles, self.expected], dtype=np.float64)
        if len(places) < _TILTED:
            middle = np.median(values, axis=0)
            spread = float(np.sqrt((((values - middle) * LAB_SCALE) ** 2).sum(axis=1).mean()))
            return np.stack([middle, np.zeros(3), np.zeros(3)]), spread
        design, values = np.array(places), values[:-1]
        coefficients = np.linalg.lstsq(design, values, rcond=None)[0]
        apart = (values - design @ coefficients) * LAB_SCALE
        return coefficients, float(np.sqrt((apart**2).sum() / max(1, len(values) - 3)))


def _smooth(mask: Mask, reach: float) -> Mask:
    """Return a mask without small bays and capes: noise frays paint that is nearly the ground's colour."""
    size = 2 * round(reach) + 1
    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (size, size))
    padded = np.pad(mask.astype(np.uint8), size)
    closed = cv2.morphologyEx(cv2.morphologyEx(padded, cv2.MORPH_CLOSE, disc), cv2.MORPH_OPEN, disc)
    return closed[size:-size, size:-size] > 0


def blob_of_paint(mask: Mask, corner: tuple[int, int], colour: Floats, off: float) -> Blob | None:
    """Describe paint as other painted areas are; None where it is ragged.

    Parameters
    ----------
    mask : ndarray, shape (h, w), bool
    corner : tuple of int
        x, y of the mask's corner in the plane.
    colour : ndarray, shape (3,)
        8-bit CIELAB levels.
    off : float
        Its difference from the ground, CIELAB units.
    """
    region = Region.of(mask, corner)
    blob = Blob.of(region.bare, region.box[:2], lab_of(colour), off)
    return blob if blob.solid >= _SOLID else None
