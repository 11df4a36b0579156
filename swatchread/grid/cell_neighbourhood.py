"""The neighbourhood of one cell of a grid: what differs from the ground in its middle."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from swatchread.colour.cielab import Floats
from swatchread.ground.background import LAB_SCALE
from swatchread.photo import opencv as cv2
from swatchread.photo.masks import Mask, depth_of, dilated, pieces_of
from swatchread.photo.order_statistics import median
from swatchread.plane.finder_settings import settings


@dataclass(frozen=True, eq=False)
class Trace:
    """What differs from the ground in the middle of a cell.

    Attributes
    ----------
    mask : ndarray, shape (h, w), bool
    colour : ndarray, shape (3,)
        8-bit CIELAB levels.
    off : float
        Difference from the ground, CIELAB units.
    off_place : float
        Distance of its centre from the cell's.
    breadth : float
        Half-width of it.
    cut : float
        Length along which the end of the neighbourhood, or of the photo, cuts it off.
    """

    mask: Mask
    colour: Floats
    off: float
    off_place: float
    breadth: float
    cut: float


@dataclass(frozen=True, eq=False)
class CellNeighbourhood:
    """The neighbourhood of one cell.

    Attributes
    ----------
    x, y : ndarray, shape (h, w)
        Places, from the cell's middle, in half-widths of a swatch.
    colours : ndarray, shape (h, w, 3)
        8-bit CIELAB levels.
    free, end, ground : ndarray, shape (h, w), bool
        Neither swatch nor chart; beyond the photo, or on the chart; free and of about the expected colour.
    expected : ndarray, shape (3,)
        Colour of the ground, 8-bit CIELAB levels.
    """

    x: Floats
    y: Floats
    colours: npt.NDArray[np.float32]
    free: Mask
    end: Mask
    ground: Mask
    expected: Floats

    def trace(self) -> Trace | None:
        """Return what differs from the ground in the middle; None where nothing does."""
        known = settings().gaps
        away = np.hypot(self.x, self.y)
        core = (away < known.core) & self.free
        if not core.any():
            return None
        colour: Floats = median(self.colours[core], axis=0).astype(np.float64)
        # Writing, or the blur of swatches beside it, may darken what little ground is seen round an empty cell.
        seen_off = float(np.linalg.norm((colour - self.expected) * LAB_SCALE))
        if seen_off <= known.least_off:
            return None
        rest: Floats = (self.colours - self._ground_plane(away)) * LAB_SCALE
        shift = median(rest[core], axis=0)
        off = float(np.linalg.norm(shift))
        near = np.linalg.norm(rest - shift, axis=-1) < off / 2.0 + settings().ground.least_off
        labels, _ = pieces_of((rest @ shift > off**2 / 2.0) & near & self.free & (away < known.reach))
        middle = int(labels.ravel()[np.argmin(away.ravel())])
        pixels = 1.0 / max(float(np.diff(self.x[0, :2])[0]), 1e-9)
        mask = _smooth(labels == middle, known.smooth * pixels)
        if not middle or not mask.any():
            return None
        beside_end = dilated(np.pad(self.end, 1, constant_values=True), 3)[1:-1, 1:-1]
        ends = (away > known.reach - 2.0 / pixels) | beside_end
        off_place = float(np.hypot(self.x[mask].mean(), self.y[mask].mean()))
        breadth = float(depth_of(mask).max()) / pixels
        return Trace(mask, colour, min(off, seen_off), off_place, breadth, np.count_nonzero(mask & ends) / pixels)

    def _ground_plane(self, away: Floats) -> Floats:
        """Fit a plane per channel to the ground that the ring shows, held by the expected colour; shape (h, w, 3)."""
        known = settings().gaps
        ring = (away > known.ring[0]) & (away < known.ring[1])
        seen = ring & self.ground
        places = np.stack([np.ones_like(self.x), self.x, self.y], axis=-1)
        design, apart = places[seen], self.colours[seen] - self.expected
        normal = design.T @ design + (known.held * float(np.count_nonzero(ring)) + 1e-3) * np.eye(3)
        plane: Floats = self.expected + places @ np.linalg.solve(normal, design.T @ apart)
        return plane


def _smooth(mask: Mask, reach: float) -> Mask:
    """Return a mask without small bays and capes: noise frays paint that is nearly the ground's colour."""
    size = 2 * round(reach) + 1
    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (size, size))
    padded = np.pad(mask.astype(np.uint8), size)
    closed = cv2.morphologyEx(cv2.morphologyEx(padded, cv2.MORPH_CLOSE, disc), cv2.MORPH_OPEN, disc)
    return closed[size:-size, size:-size] > 0
