"""A grid whose size the painter has given: what is painted is put into it, or the size is refused."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from swatchread.card.card_find import CardFind
from swatchread.colour.cielab import Floats
from swatchread.errors import GridMismatchError
from swatchread.grid.rejected_marks import Lines
from swatchread.grid.swatch_grid import Cell, Grid, alike, group_in_lines, largest_cells
from swatchread.ground.segmentation import Blob
from swatchread.photo.geometry import rotation

_CLOSE = 0.8
"""Two lines nearer to each other than this share of a swatch's extent may be one crooked line."""

_WEAK = 0.5
"""Painted area of a line, over the usual, below which it may be dropped."""

_ROOM = 0.4
"""Room that a swatch needs beside the middle of its line, in swatch extents."""

_MOST_LEFT = 0.34
"""Painted areas without a place, over those with one, at most. These four were set on development scenes."""

_CARD_ENDS = (0.005, 0.995)
"""Quantiles of the card's pixels that stand for its ends."""


@dataclass(frozen=True, eq=False)
class _Axis:
    """Swatches along one direction of the card.

    Attributes
    ----------
    along, across, area : ndarray, shape (n,)
    low, high : float
        Where the card begins and ends, pixels.
    extent : float
        Usual size of a swatch, pixels.
    """

    along: Floats
    across: Floats
    area: Floats
    low: float
    high: float
    extent: float

    def lines(self, count: int) -> Lines | None:
        """Return the line of each swatch, 1 to `count`, or 0 for none; None where the lines are unclear."""
        found, _ = group_in_lines(self.along, self.across, self.extent)
        while len(np.unique(found[found > 0])) > count:
            fewer = self._one_fewer(found)
            if fewer is None:
                return None
            found = fewer
        names = np.unique(found[found > 0])
        numbers = self._numbers(np.array([self.along[found == n].mean() for n in names]), count)
        if numbers is None:
            return None
        lines = np.zeros(len(found), dtype=np.int64)
        for name, number in zip(names, numbers, strict=True):
            lines[found == name] = number
        return lines

    def _one_fewer(self, found: Lines) -> Lines | None:
        """Join the two nearest lines if they may be one, or drop the weakest if it is much weaker than the others."""
        names = np.unique(found[found > 0])
        middle = np.array([self.along[found == n].mean() for n in names])
        gaps = np.diff(middle)
        nearest = int(np.argmin(gaps))
        if gaps[nearest] < _CLOSE * self.extent:
            return np.where(found == names[nearest + 1], names[nearest], found)
        mass = np.array([self.area[found == n].sum() for n in names])
        weakest = int(np.argmin(mass))
        if mass[weakest] > _WEAK * np.median(np.delete(mass, weakest)):
            return None
        return np.where(found == names[weakest], 0, found)

    def _numbers(self, middle: Floats, count: int) -> Lines | None:
        """Return the numbers of lines at these places, of `count` in all; None where it is unclear which are empty."""
        missing = count - len(middle)
        if missing == 0:
            return np.arange(1, count + 1)
        if len(middle) < 2:
            return None
        gaps = np.diff(middle)
        pitch = float(np.median(gaps[gaps < 1.5 * gaps.min()]))
        empty = np.rint(gaps / pitch).astype(np.int64) - 1
        rest = missing - int(empty.sum())
        before = int((middle[0] - self.low - _ROOM * self.extent) / pitch)
        after = int((self.high - middle[-1] - _ROOM * self.extent) / pitch)
        if rest < 0 or (rest > 0 and (before >= rest) == (after >= rest)) or (rest > 0 and min(before, after) > 0):
            return None
        first = 1 + (rest if before >= rest > 0 else 0)
        numbers: Lines = first + np.concatenate([[0], np.cumsum(1 + empty)]).astype(np.int64)
        return numbers


def fit_given_grid(card: CardFind, size: tuple[int, int]) -> CardFind:
    """Put the swatches of a card into a given number of rows and columns.

    Parameters
    ----------
    card : CardFind
        Upright.
    size : tuple of int
        Rows and columns, as the card's writing reads.

    Returns
    -------
    CardFind
        Where nothing is painted a place stays empty, and the others keep their numbers. Paint without a place is in
        ``grid.left_over``.

    Raises
    ------
    GridMismatchError
        If what is painted does not stand in that many rows and columns.
    """
    members = alike(list(card.seen)) or [c.blob for c in card.grid.cells]
    upright, sideways = _axes(card, members)
    rows, columns = upright.lines(size[0]), sideways.lines(size[1])
    if rows is None or columns is None:
        raise _mismatch(card, size)
    lines = zip(rows.tolist(), columns.tolist(), members, strict=True)
    cells = largest_cells([Cell(row, column, blob) for row, column, blob in lines if row and column])
    taken = {id(c.blob) for c in cells}
    left = tuple(b for b in members if id(b) not in taken)
    if not cells or len(left) > _MOST_LEFT * len(cells):
        raise _mismatch(card, size)
    return replace(card, grid=Grid(cells, card.grid.angle, card.grid.order, left))


def _axes(card: CardFind, members: list[Blob]) -> tuple[_Axis, _Axis]:
    """Return the members along the card's height and along its width."""
    turn = rotation(card.grid.angle)
    centres = np.array([b.centre for b in members]) @ turn
    area = np.array([b.area for b in members], dtype=np.float64)
    at = np.argwhere(card.surface.card[::4, ::4])[:, ::-1] * 4.0 + np.array(card.surface.box[:2])
    low, high = np.quantile(at @ turn, _CARD_ENDS, axis=0)
    extent = float(np.median([b.size.mean() for b in members]))
    x, y = centres.T
    down = _Axis(y, x, area, float(low[1]), float(high[1]), extent)
    return down, _Axis(x, y, area, float(low[0]), float(high[0]), extent)


def _mismatch(card: CardFind, size: tuple[int, int]) -> GridMismatchError:
    cells = card.grid.cells
    rows, columns = len({c.row for c in cells}), len({c.column for c in cells})
    name = card.plane.sample.find.photo.path.name
    swapped = (columns, rows) == size
    return GridMismatchError(
        f"The swatches on the card in {name} do not form {size[0]} rows of {size[1]}",
        f"as its writing reads, or else as the chart lies, it shows {rows} rows and {columns} columns",
        f"Rows come first: ask for --grid {rows}x{columns}" if swapped else "",
    )
