"""What lies between the swatches of a grid, and between them and the photo's end, seen along many straight lines.

One card shows one ground. So some way from one row to the next crosses nothing but ground, in one light or from light
into shadow. Between two cards every way crosses the table. And where a card lies wholly in the photo, every line from
its outermost row to the photo's end crosses the card's edge, and ground beyond that edge is another card's.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from swatchread.colour.cielab import Floats
from swatchread.grid.swatch_grid import Cell, Grid
from swatchread.ground.background import in_its_light, lab_of
from swatchread.photo.encoded_photo import Floats32
from swatchread.photo.geometry import rotation
from swatchread.photo.masks import Mask, Picture, pieces_of
from swatchread.photo.order_statistics import median
from swatchread.plane.finder_settings import settings


@dataclass(frozen=True, eq=False)
class GridView:
    """A grid in the picture in which it was found.

    Attributes
    ----------
    lab : ndarray, shape (h, w, 3), uint8
        8-bit CIELAB of the plane.
    bare : ndarray, shape (h, w), bool
        The card's ground.
    corner : tuple of int
        x, y of the ground's corner in the plane.
    grid : Grid
    """

    lab: Picture
    bare: Mask
    corner: tuple[int, int]
    grid: Grid

    def partings(self) -> list[tuple[int, int]]:
        """Return (0, k) where no ground joins column k to column k + 1, and (1, k) likewise of rows."""
        found = []
        for axis in (0, 1):
            lines = self._lines(axis)
            for number, (one, other) in enumerate(pairwise(lines), start=1):
                start, end = self._between(one, other, axis)
                step = self._turned(other)[:, axis].mean() - self._turned(one)[:, axis].mean()
                enough = len(start) >= settings().sight.least_lines
                if enough and self._parted(start, end, [*one, *other], step / self.step(axis)):
                    found.append((axis, number))
        return found

    def _parted(self, start: Floats, end: Floats, beside: list[Cell], steps: float) -> bool:
        """Tell whether something lies between two rows or columns that are so many usual steps apart.

        Writing may cross every straight line between them, but ground leads round it.
        """
        known = settings().sight
        ground = self._see(start, end, self._ground_beside(beside))
        pieces, _ = pieces_of(ground)
        # Of 2,700 such spaces on drawn cards none showed less than 0.57 of its ground.
        if ground.mean() < 0.5 or not np.intersect1d(pieces[:, 0], pieces[:, -1]).any():
            return True
        if steps > known.far and self.grid.order < known.loose * len(self.grid.cells):
            return True
        colours = self.colours(_along(start, end)[ground.all(axis=1)])
        return steps > known.wide and largest_step(colours, passing=True) > known.edge

    def outwards(self, axis: int, *, last: bool, reach: float) -> tuple[Floats, npt.NDArray[np.bool_]]:
        """Look outwards from the first or last row (axis 1) or column (axis 0).

        Parameters
        ----------
        axis : int
        last : bool
            Outwards from the last row or column, else from the first.
        reach : float
            Length of the lines, pixels.

        Returns
        -------
        places : ndarray, shape (n, steps, 2)
            Places along the lines, in the plane.
        ground : ndarray, shape (n, steps), bool
            Where they show the ground.
        """
        outer = self._lines(axis)[-1 if last else 0]
        sign = 1.0 if last else -1.0
        across = self._places(outer, outer, axis)
        begin = self._side(outer, axis, across, sign)
        start, end = self._in_plane(across, begin, begin + sign * reach, axis)
        return _along(start, end), self._see(start, end, self._ground_beside(outer))

    def reach(self) -> Floats:
        """Return the corners of the rectangle, turned as the grid, that the card's ground fills, in the plane, (4, 2).

        On each side it ends where ground that is joined to the outer swatches does along most lines of sight, or after
        a step and a half.
        """
        known = settings().sight
        ends = np.empty((2, 2))
        for axis in (0, 1):
            for last in (False, True):
                places, ground = self.outwards(axis, last=last, reach=known.reach * self.step(axis))
                pieces, _ = pieces_of(ground)
                joined = np.isin(pieces, pieces[pieces[:, 0] > 0, 0])
                seen = np.where(joined, np.arange(joined.shape[1]), 0).max(axis=1)
                turned = places[np.arange(len(places)), seen] @ rotation(self.grid.angle)
                most = 1.0 - known.outliers if last else known.outliers
                ends[int(last), axis] = np.quantile(turned[:, axis], most)
        corners: Floats = np.array([ends[[j, k], [0, 1]] for j, k in ((0, 0), (1, 0), (1, 1), (0, 1))])
        return corners @ rotation(self.grid.angle).T

    def colours(self, places: Floats) -> Floats32:
        """Return the 8-bit CIELAB at places of the plane, shape (..., 3); beyond it, of its last pixel."""
        h, w = self.lab.shape[:2]
        column = np.clip(np.rint(places[..., 0]), 0, w - 1).astype(np.intp)
        row = np.clip(np.rint(places[..., 1]), 0, h - 1).astype(np.intp)
        return self.lab[row, column].astype(np.float32)

    def half(self, axis: int, *, last: bool) -> float:
        """Return half the extent of the swatches of the first or last row (axis 1) or column (axis 0), pixels."""
        outer = self._lines(axis)[-1 if last else 0]
        return float(median([cell.blob.size[axis] for cell in outer])) / 2.0

    def step(self, axis: int) -> float:
        """Return the usual distance from one row (axis 1) or column (axis 0) to the next, pixels."""
        for one in (axis, 1 - axis):
            middles = [self._turned(line)[:, one].mean() for line in self._lines(one)]
            if len(middles) > 1:
                return float(median(np.diff(middles)))
        return 3.0 * self.grid.radius

    def _lines(self, axis: int) -> list[list[Cell]]:
        """Return the cells of each column (axis 0) or row (axis 1) that holds any."""
        number = [(cell.column, cell.row)[axis] for cell in self.grid.cells]
        return [[c for c, n in zip(self.grid.cells, number, strict=True) if n == k] for k in sorted(set(number))]

    def _turned(self, cells: list[Cell]) -> Floats:
        return np.array([cell.blob.centre for cell in cells]) @ rotation(self.grid.angle)

    def _places(self, one: list[Cell], other: list[Cell], axis: int) -> Floats:
        """Return places along two lines of the grid from which to look, from the first swatch to the last."""
        known = settings().sight
        along = [self._turned(line)[:, 1 - axis] for line in (one, other)]
        low, high = max(a.min() for a in along), min(a.max() for a in along)
        if low > high:
            low, high = min(a.min() for a in along), max(a.max() for a in along)
        beyond = known.margin * self.grid.radius
        return np.arange(low - beyond, high + beyond, max(1.0, known.spacing * self.grid.radius))

    def _side(self, cells: list[Cell], axis: int, across: Floats, sign: float) -> Floats:
        """Return where the outer (1) or inner (-1) sides of a line's swatches run, at places along the line."""
        turned = self._turned(cells)
        along, place = turned[:, axis], turned[:, 1 - axis]
        slanted = len(cells) > 2 and np.ptp(place) > 2 * self.grid.radius
        slope, middle = np.polyfit(place, along, 1) if slanted else (0.0, along.mean())
        half = float(median([cell.blob.size[axis] for cell in cells])) / 2.0
        side: Floats = slope * across + middle + sign * settings().sight.rim * half
        return side

    def _between(self, one: list[Cell], other: list[Cell], axis: int) -> tuple[Floats, Floats]:
        across = self._places(one, other, axis)
        begin, end = self._side(one, axis, across, 1.0), self._side(other, axis, across, -1.0)
        apart = end > begin
        return self._in_plane(across[apart], begin[apart], end[apart], axis)

    def _in_plane(self, across: Floats, begin: Floats, end: Floats, axis: int) -> tuple[Floats, Floats]:
        back = rotation(self.grid.angle).T
        order = (lambda a: (a, across)) if axis == 0 else (lambda a: (across, a))
        return np.stack(order(begin), axis=-1) @ back, np.stack(order(end), axis=-1) @ back

    def _ground_beside(self, cells: list[Cell]) -> Floats:
        """Return colours of the ground beside some swatches, 8-bit CIELAB, shape (n, 3); of all ground, if none."""
        centres, sizes = (np.array([getattr(cell.blob, name) for cell in cells]) for name in ("centre", "size"))
        reach = sizes / 2 + self.grid.radius
        low, high = (np.maximum(ends - self.corner, 0).astype(int) for ends in (centres - reach, centres + reach))
        left, top = low.min(axis=0).tolist()
        bare = self.bare[top : int(high[:, 1].max()), left : int(high[:, 0].max())]
        near = np.zeros_like(bare)
        for (x, y), (right, bottom) in zip((low - [left, top]).tolist(), (high - [left, top]).tolist(), strict=True):
            near[y:bottom, x:right] = True
        rows, columns = np.nonzero(bare & near)
        if not len(rows):
            (rows, columns), left, top = np.nonzero(self.bare), 0, 0
        some = slice(None, None, max(1, len(rows) // settings().sight.enough))
        across, down = columns[some] + (left + self.corner[0]), rows[some] + (top + self.corner[1])
        ground: Floats = self.lab[down, across].astype(np.float64)
        return ground

    def _see(self, start: Floats, end: Floats, ground: Floats) -> npt.NDArray[np.bool_]:
        """Tell along some lines what could be the ground, in any light that it shows, shape (n, steps).

        What is thin passes. A shadow may cross the ground in any direction.
        """
        known = settings().sight
        usual = median(ground, axis=0)
        off, share = in_its_light(self.colours(_along(start, end)), usual.astype(np.float32))
        darkest, lightest = np.quantile(in_its_light(ground, usual)[1], [known.outliers, 1.0 - known.outliers])
        like = (off < settings().ground.tint) & (share > darkest - known.light) & (share < lightest + known.light)
        thin = round(max(known.least_thin, known.thin * self.grid.radius))
        return ~_runs(~like, thin + 1)


def _along(start: Floats, end: Floats) -> Floats:
    """Return places along some lines, at steps of a pixel on the longest, shape (n, steps, 2)."""
    steps = max(2, int(np.ceil(np.linalg.norm(end - start, axis=1).max())))
    places: Floats = start[:, None] + (end - start)[:, None] * np.linspace(0.0, 1.0, steps)[:, None]
    return places


def largest_step(colours: Floats32, *, passing: bool = False) -> float:
    """Return the largest step of colour that lies across most of some lines, CIELAB units.

    A white card on a white table shows such a step alone, and only in many lines together. Their median passes over
    the writing that some of them cross. They are taken in three bundles, because the edge may run aslant.

    Parameters
    ----------
    colours : ndarray, shape (n, steps, 3)
        8-bit CIELAB.
    passing : bool
        Whether only what goes back again beyond counts: beyond a shadow's edge the light stays what it has become.

    Returns
    -------
    float
    """
    known = settings().sight
    window = max(3, colours.shape[1] // known.windows)
    if colours.shape[1] <= 2 * window + 1 or len(colours) < known.bundles:
        return 0.0
    found = []
    for bundle in np.array_split(colours, known.bundles):
        total = np.cumsum(lab_of(median(bundle, axis=0)), axis=0)
        mean = (total[window:] - total[:-window]) / window
        step = np.linalg.norm(mean[window + 1 :] - mean[: -window - 1], axis=1).max(initial=0.0)
        found.append(float(step) - (float(np.linalg.norm(mean[-1] - mean[0])) if passing else 0.0))
    return float(median(found))


def _runs(those: npt.NDArray[np.bool_], least: int) -> npt.NDArray[np.bool_]:
    """Return which of those stand in runs of at least so many along the last axis."""
    length = those.shape[1]
    if length < least:
        return np.zeros_like(those)
    whole = np.lib.stride_tricks.sliding_window_view(those, least, axis=1).all(axis=2)
    kept = np.zeros_like(those)
    for k in range(least):
        kept[:, k : length - least + 1 + k] |= whole
    return kept
