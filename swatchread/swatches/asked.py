"""Looking where rows and columns ask for a swatch: paint so near its ground that only its place gives it away."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
import numpy.typing as npt

from swatchread.colour import Floats
from swatchread.swatches.blobs import Blob
from swatchread.swatches.field import LAB_SCALE, Mask, Picture, lab_of
from swatchread.swatches.grid import Grid
from swatchread.swatches.ground import Surface

_CORE = 0.55
_RING = (1.3, 1.75)
_REACH = 1.9
"""Radii of what is looked at, in half-widths of a swatch."""

_SECTORS = 8
_LEAST_SECTORS = 5
_LEAST_OFF = 2.0
_CLEAR = 3.5
_CALM = 0.2
_LEAST_AREA = 0.45
_MOST_AREA = 2.2
_SOLID = 0.8
_SKIPPED = 0.3
"""How far a gap between lines may be from a whole number of steps where a line in between is looked for."""


def find_asked(surface: Surface, lab: Picture, grid: Grid) -> list[Blob]:
    """Look for paint in the empty places of a grid, and where a step between its lines is twice the others.

    Parameters
    ----------
    surface : Surface
    lab : ndarray, shape (h, w, 3), uint8
        8-bit CIELAB of the whole plane.
    grid : Grid

    Returns
    -------
    list of Blob
    """
    if len(grid.cells) < 3:
        return []
    x, y, w, h = surface.box
    radius = float(np.median([c.blob.radius for c in grid.cells]))
    blurred = cv2.GaussianBlur(lab[y : y + h, x : x + w].astype(np.float32), (0, 0), max(0.8, _CALM * radius))
    colours = np.asarray(blurred, dtype=np.float32)
    ground = surface.card.copy()
    for cell in grid.cells:
        left, top = cell.blob.corner[0] - x, cell.blob.corner[1] - y
        part = ground[top : top + cell.blob.mask.shape[0], left : left + cell.blob.mask.shape[1]]
        part &= ~cell.blob.mask
    found = []
    for place in _empty_places(grid) - [x, y]:
        window = _Window.around(place, radius, colours, ground)
        blob = window.paint((x, y)) if window is not None else None
        if blob is not None:
            found.append(blob)
    return found


def _empty_places(grid: Grid) -> Floats:
    """Return where swatches could lie and none was found, plane pixels, shape (n, 2)."""
    cos, sin = np.cos(grid.angle), np.sin(grid.angle)
    turn = np.array([[cos, -sin], [sin, cos]])
    centres = np.array([c.blob.centre for c in grid.cells]) @ turn
    column = np.array([c.column for c in grid.cells])
    row = np.array([c.row for c in grid.cells])
    xs, lean_x = _lines(centres[:, 0], column, centres[:, 1])
    ys, lean_y = _lines(centres[:, 1], row, centres[:, 0])
    middle = centres.mean(axis=0)
    taken = {(xs[c - 1], ys[r - 1]) for c, r in zip(column, row, strict=True)}
    places = [(u, v) for v in _with_skipped(ys) for u in _with_skipped(xs) if (u, v) not in taken]
    if not places:
        return np.zeros((0, 2))
    flat = np.array(places)
    leaning = flat + np.stack([lean_x * (flat[:, 1] - middle[1]), lean_y * (flat[:, 0] - middle[0])], axis=-1)
    return np.asarray(leaning @ turn.T)


def _lines(along: Floats, line: npt.NDArray[np.int64], across: Floats) -> tuple[list[float], float]:
    """Return where each line lies at the middle of the grid, and how much the lines lean, all alike."""
    number = int(line.max())
    design = np.zeros((len(along), number + 1))
    design[np.arange(len(along)), line - 1] = 1.0
    design[:, -1] = across - across.mean()
    held = np.zeros(number + 1)
    held[-1] = 1e-3 * float((design[:, -1] ** 2).sum()) + 1.0
    solution = np.linalg.solve(design.T @ design + np.diag(held + 1e-9), design.T @ along)
    return [float(v) for v in solution[:-1]], float(solution[-1])


def _with_skipped(lines: list[float]) -> list[float]:
    steps = np.diff(lines)
    if len(steps) < 2:
        return lines
    usual = float(np.median(steps))
    extra = []
    for start, step in zip(lines, steps, strict=False):
        count = round(step / usual)
        if count in (2, 3) and abs(step / usual - count) < _SKIPPED:
            extra += [start + step * k / count for k in range(1, count)]
    return lines + extra


@dataclass(frozen=True, eq=False)
class _Window:
    """The surroundings of a place.

    Attributes
    ----------
    corner : ndarray, shape (2,)
    colours : ndarray, shape (h, w, 3)
    ground : ndarray, shape (h, w), bool
        On the card and no swatch found.
    x, y : ndarray, shape (h, w)
        From the place, in half-widths of a swatch.
    radius : float
    """

    corner: npt.NDArray[np.int64]
    colours: npt.NDArray[np.float32]
    ground: Mask
    x: Floats
    y: Floats
    radius: float

    @classmethod
    def around(cls, place: Floats, radius: float, colours: npt.NDArray[np.float32], ground: Mask) -> _Window | None:
        """Cut a window out; None where the place is not on the card."""
        h, w = ground.shape
        reach = _REACH * radius
        low = np.maximum(np.floor(place - reach), 0).astype(np.int64)
        high = np.minimum(np.ceil(place + reach) + 1, [w, h]).astype(np.int64)
        if (high - low < radius).any() or not (0 <= place[0] < w and 0 <= place[1] < h):
            return None
        part = slice(low[1], high[1]), slice(low[0], high[0])
        gy, gx = np.mgrid[low[1] : high[1], low[0] : high[0]]
        return cls(low, colours[part], ground[part], (gx - place[0]) / radius, (gy - place[1]) / radius, radius)

    def paint(self, origin: tuple[int, int]) -> Blob | None:
        """Return the paint in the middle, as it stands off a plane through the ground round it."""
        away = np.hypot(self.x, self.y)
        core = (away < _CORE) & self.ground
        plane = self._ground_plane((away > _RING[0]) & (away < _RING[1]) & self.ground)
        if plane is None or core.sum() < 12:
            return None
        coefficients, spread = plane
        rest = (self.colours - np.stack([np.ones_like(self.x), self.x, self.y], -1) @ coefficients) * LAB_SCALE
        shift = np.median(rest[core], axis=0)
        off = float(np.linalg.norm(shift))
        if off < max(_LEAST_OFF, _CLEAR * spread):
            return None
        like = ((rest @ shift / off**2 > 0.5) & self.ground & (away < _REACH)).astype(np.uint8)
        _, labels, stats, _ = cv2.connectedComponentsWithStats(like, connectivity=4)
        middle = int(labels.ravel()[np.argmin(away.ravel())])
        x, y, w, h, area = (int(v) for v in stats[middle])
        usual = np.pi * self.radius**2
        if not middle or not _LEAST_AREA * usual < area < _MOST_AREA * usual:
            return None
        return self._blob(labels[y : y + h, x : x + w] == middle, (x, y), off, origin)

    def _ground_plane(self, ring: Mask) -> tuple[Floats, float] | None:
        """Fit a plane per channel to the medians of the ring's sectors; return it and their spread about it."""
        sector = ((np.arctan2(self.y, self.x) / (2 * np.pi) + 0.5) * _SECTORS).astype(int) % _SECTORS
        places, medians = [], []
        for k in range(_SECTORS):
            here = ring & (sector == k)
            if here.sum() > 8:
                places.append([1.0, float(self.x[here].mean()), float(self.y[here].mean())])
                medians.append(np.median(self.colours[here], axis=0))
        if len(places) < _LEAST_SECTORS:
            return None
        design, values = np.array(places), np.array(medians, dtype=np.float64)
        coefficients = np.linalg.lstsq(design, values, rcond=None)[0]
        apart = (values - design @ coefficients) * LAB_SCALE
        return coefficients, float(np.sqrt((apart**2).sum() / max(1, len(places) - 3)))

    def _blob(self, mask: Mask, corner: tuple[int, int], off: float, origin: tuple[int, int]) -> Blob | None:
        padded = np.pad(mask.astype(np.uint8), 1)
        contours, _ = cv2.findContours(padded, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_SIMPLE)
        hull = max(float(cv2.contourArea(cv2.convexHull(np.concatenate(contours)))), 1.0)
        solid = min(1.0, float(mask.sum()) / hull)
        if solid < _SOLID:
            return None
        depth = cv2.distanceTransform(padded, cv2.DIST_L2, 3)
        core = depth[1:-1, 1:-1] > 0.4 * depth.max()
        h, w = mask.shape
        inside = slice(corner[1], corner[1] + h), slice(corner[0], corner[0] + w)
        x, y = int(self.corner[0]) + corner[0] + origin[0], int(self.corner[1]) + corner[1] + origin[1]
        lab = lab_of(np.median(self.colours[inside][core], axis=0))
        return Blob(
            centre=np.array([x + (w - 1) / 2.0, y + (h - 1) / 2.0]),
            size=np.array([w, h], dtype=np.float64),
            radius=float(depth.max()),
            mask=mask,
            corner=(x, y),
            lab=lab,
            off=off,
            sharp=1.0,
            solid=solid,
            border=0.0,
        )
