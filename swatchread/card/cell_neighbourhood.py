"""A close look at one place of a card: paint there, as it stands off the ground round it."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt

from swatchread.card.background import LAB_SCALE, Mask
from swatchread.card.segmentation import Blob, whole_blob
from swatchread.colour.cielab import Floats
from swatchread.colour.order import medians, quantile
from swatchread.photo import opencv as cv2

_CORE = 0.55
RING = (1.3, 1.75)
REACH = 1.9
_KEPT = 1.5
"""Radii of what is looked at, in half-widths of a swatch."""

_SECTORS = 8
_TILTED = 5
_ROUND = 6
_LEAST_SECTORS = 3
_LEAST_OPEN = 4
"""Sectors of the ring that show ground: to fit a slanting light, round broad paint, at the edge of a card,
and there together with those that show paint."""

_SHARE = 0.3
_LEAST_OFF = 2.0
_CLEAR = 3.5
_FAINT_OFF, _FAINT = 1.5, 2.3
_FAINT_OFF_PLACE, _FAINT_AREA = 0.3, (0.6, 1.7)
_FAINT_PAINTED = 0.15
"""What a faint trace must show: its difference from the ground, alone and over the ground's spread, how far off its
place it lies, and its area over a swatch's; and the most that swatches may take of the ground round it, for between
swatches that nearly touch all seems to stand off."""

_COVERED, _WHOLLY = 5.0, 0.9
"""What covers the ground: least difference from it, and share of its place that differs so much."""

_BROAD = 0.05
"""Share of the ring round it from which paint spoils it."""

_LEAST_AREA = 0.45
_MOST_AREA = 2.2
_SOLID = 0.8
_CUT = 0.5
_SAME = 0.2
_NEAR = 0.5
_GRAIN = 2.0
_SMOOTH = 0.25


_Plane = tuple[Floats, float, list[Floats]]


@dataclass(frozen=True, eq=False)
class _Mark:
    """What stands in the middle of a window: where, how far off its ground, that one's spread, and what is neither."""

    mask: Mask
    off: float
    spread: float
    others: list[Floats]

    @property
    def faint(self) -> bool:
        """Whether the ground's own spread could be all that it shows."""
        return self.off < max(_LEAST_OFF, _CLEAR * self.spread)


@dataclass(frozen=True, eq=False)
class CellNeighbourhood:
    """The surroundings of one place: x and y from it in half-widths, colours, and what lies there.

    `free` is neither swatch nor chart, `painted` a swatch, `ground` free and of about the `expected` colour, which is
    judged by this share of its sectors, those that agree best (`agreeing`).
    """

    x: Floats
    y: Floats
    colours: npt.NDArray[np.float32]
    free: Mask
    painted: Mask
    ground: Mask
    expected: Floats
    agreeing: float

    @property
    def around(self) -> float:
        """The share of ground in the ring."""
        return float(self.ground[self._ring].mean())

    def paint(self, *, asked_for: bool = False) -> tuple[Mask, Floats, float] | None:
        """Return the paint in the middle, its colour and how far it stands off; None where there is none.

        Where other swatches leave no doubt that one could lie here, a faint trace will do that lies right in its place.
        """
        if np.count_nonzero(self._core) < 12 or self._plane is None:
            return None
        found = self._marked(self._plane)
        if found is None:
            return None
        if asked_for and found.faint and found.mask[self._ring].mean() > _BROAD:
            # Broad paint that looks like ground under other light spoils what it is judged by.
            plane = self._ground_plane(self.ground & ~_widened(found.mask), 1.0, _ROUND)
            again = None if plane is None else self._marked(plane)
            found = found if again is None or again.faint else again
        if found.faint:
            open_ = asked_for and self.painted[self._ring].mean() < _FAINT_PAINTED
            if not open_ or found.off < max(_FAINT_OFF, _FAINT * found.spread) or not self._in_place(found.mask):
                return None
        middle = medians(self.colours[self._core])
        if sum(float(np.linalg.norm((middle - other) * LAB_SCALE)) < _SAME * found.off for other in found.others) > 1:
            return None  # what lies beyond the card's edge reaches in
        return found.mask & (self._away < _KEPT), middle, found.off

    def covered(self) -> tuple[Mask, Floats, float] | None:
        """Return what covers the ground in the middle, of whatever colours, for glints may lie on paint.

        Its colour is the usual one. None where there is nothing, or strokes with ground between them.
        """
        if self._plane is None:
            return None
        coefficients, spread, _ = self._plane
        rest = self._over(coefficients)
        apart = np.linalg.norm(rest, axis=-1) > max(_COVERED, _CLEAR * spread)
        mask = self._piece(apart)
        if mask is None or self._off_place(mask) > _FAINT_OFF_PLACE or apart[mask].mean() < _WHOLLY:
            return None
        kept = mask & (self._away < _KEPT)
        return kept, medians(self.colours[kept]), float(np.linalg.norm(medians(rest[kept])))

    @cached_property
    def _away(self) -> Floats:
        return np.asarray(np.hypot(self.x, self.y))

    @cached_property
    def _ring(self) -> Mask:
        return np.asarray((self._away > RING[0]) & (self._away < RING[1]))

    @cached_property
    def _core(self) -> Mask:
        return np.asarray((self._away < _CORE) & self.free)

    @cached_property
    def _plane(self) -> _Plane | None:
        return self._ground_plane(self.ground, self.agreeing)

    def _over(self, coefficients: Floats) -> npt.NDArray[np.float64]:
        """Return how all differs from a ground, CIELAB."""
        ground = np.stack([np.ones_like(self.x), self.x, self.y], -1) @ coefficients
        return np.asarray((self.colours - ground) * LAB_SCALE)

    def _marked(self, plane: _Plane) -> _Mark | None:
        """Return what stands in the middle off a ground; None where that has not a swatch's size, or goes on."""
        coefficients, spread, others = plane
        rest = self._over(coefficients)
        shift = medians(rest[self._core])
        off = float(np.linalg.norm(shift))
        near = np.linalg.norm(rest - shift, axis=-1) < _NEAR * off + _GRAIN
        mask = self._piece((rest @ shift / max(off, 1e-9) ** 2 > 0.5) & near)
        return None if mask is None else _Mark(mask, off, spread, others)

    def _in_place(self, mask: Mask) -> bool:
        """Tell whether paint lies in the middle and is as large as a swatch."""
        share = np.count_nonzero(mask) / (np.pi * self._scale**2)
        return bool(self._off_place(mask) < _FAINT_OFF_PLACE and _FAINT_AREA[0] < share < _FAINT_AREA[1])

    def _off_place(self, mask: Mask) -> float:
        """Return how far off the middle a mask lies, in half-widths of a swatch."""
        return float(np.hypot(self.x[mask].mean(), self.y[mask].mean()))

    @property
    def _scale(self) -> float:
        """Half-width of a swatch, pixels."""
        return 1.0 / max(float(np.diff(self.x[0, :2])[0]), 1e-9)

    def _piece(self, like: Mask) -> Mask | None:
        """Return the free piece in the middle; None where it has not a swatch's size, or goes on further."""
        like = like & self.free & (self._away < REACH)
        _, labels, stats, _ = cv2.connectedComponentsWithStats(like.astype(np.uint8), connectivity=4)
        middle = int(labels.ravel()[np.argmin(self._away.ravel())])
        scale, usual = self._scale, np.pi * self._scale**2
        if not middle or not _LEAST_AREA * usual < stats[middle, cv2.CC_STAT_AREA] < _MOST_AREA * usual:
            return None
        mask = np.asarray(labels == middle)
        mask = _smooth(mask, _SMOOTH * scale)
        if not mask.any():
            return None
        cut = mask & ((self._away > REACH - 2.0 / scale) | self._at_end())
        return mask if np.count_nonzero(cut) < _CUT * scale else None

    def _at_end(self) -> Mask:
        """Tell what lies at the end of the photo, of the view or of another swatch."""
        beyond = np.pad((~self.free & ~self.painted).astype(np.uint8), 1, constant_values=1)
        return np.asarray(cv2.dilate(beyond, np.ones((3, 3), np.uint8))[1:-1, 1:-1] > 0)

    def _ground_plane(self, bare_ground: Mask, agreeing: float, sectors: int = _LEAST_SECTORS) -> _Plane | None:
        """Fit a plane per channel to the medians of the ring's sectors that show ground.

        Returns its coefficients, the sectors' spread about it, and the colours of the sectors that show anything else.
        """
        ring = np.flatnonzero(self._ring)
        x, y, colours = self.x.ravel()[ring], self.y.ravel()[ring], self.colours.reshape(-1, 3)[ring]
        free, ground, painted = (mask.ravel()[ring] for mask in (self.free, bare_ground, self.painted))
        sector = ((np.arctan2(y, x) / (2 * np.pi) + 0.5) * _SECTORS).astype(int) % _SECTORS
        places, middles, others, beside = [], [], [], 0
        for k in range(_SECTORS):
            here = sector == k
            bare, least = here & ground, _SHARE * np.count_nonzero(here)
            if np.count_nonzero(bare) > max(8.0, least):
                places.append([1.0, float(x[bare].mean()), float(y[bare].mean())])
                middles.append(medians(colours[bare]))
            elif np.count_nonzero(here & painted) > least:
                beside += 1
            elif (here & free).any():
                others.append(medians(colours[here & free]))
        if len(places) < sectors and (sectors > _LEAST_SECTORS or not places or len(places) + beside < _LEAST_OPEN):
            return None
        values = np.array([*middles, self.expected], dtype=np.float64)
        if len(places) < _TILTED:
            middle = medians(values)
            spread = float(np.sqrt((((values - middle) * LAB_SCALE) ** 2).sum(axis=1).mean()))
            return np.stack([middle, np.zeros(3), np.zeros(3)]), spread, others
        design, values = np.array(places), values[:-1]
        coefficients = np.linalg.lstsq(design, values, rcond=None)[0]
        # Robust, for writing may fill a sector.
        apart = np.linalg.norm((values - design @ coefficients) * LAB_SCALE, axis=1)
        kept = apart <= quantile(apart, agreeing)
        coefficients = np.linalg.lstsq(design[kept], values[kept], rcond=None)[0]
        apart = (values[kept] - design[kept] @ coefficients) * LAB_SCALE
        return coefficients, float(np.sqrt((apart**2).sum() / max(1, int(np.count_nonzero(kept)) - 3))), others


def _widened(mask: Mask) -> Mask:
    return np.asarray(cv2.dilate(mask.astype(np.uint8), np.ones((5, 5), np.uint8)) > 0)


def _smooth(mask: Mask, reach: float) -> Mask:
    """Return a mask without small bays and capes: noise frays paint that is nearly the ground's colour."""
    size = 2 * round(reach) + 1
    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (size, size))
    padded = cv2.copyMakeBorder(mask.astype(np.uint8), size, size, size, size, cv2.BORDER_CONSTANT, value=0)
    closed = cv2.morphologyEx(cv2.morphologyEx(padded, cv2.MORPH_CLOSE, disc), cv2.MORPH_OPEN, disc)
    return np.asarray(closed[size:-size, size:-size] > 0)


def described(mask: Mask, corner: npt.NDArray[np.int64], colour: Floats, off: float) -> Blob | None:
    """Describe paint as other painted areas are; None where it is ragged.

    Parameters
    ----------
    mask : ndarray, shape (h, w), bool
    corner : ndarray, shape (2,)
        Of the mask in the plane.
    colour : ndarray, shape (3,)
        8-bit CIELAB levels.
    off : float
        Its difference from the ground.
    """
    left, top, w, h = cv2.boundingRect(mask.astype(np.uint8))
    blob = whole_blob(mask[top : top + h, left : left + w], (int(corner[0]) + left, int(corner[1]) + top), colour, off)
    return blob if blob.solid >= _SOLID else None
