"""The grid: the painted areas of a card in rows and columns."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from swatchread.colour.cielab import Floats
from swatchread.grid.rejected_marks import Lines, without_rejected_marks
from swatchread.ground.segmentation import Blob
from swatchread.ground.watershed_split import usual_of
from swatchread.photo.geometry import rotation
from swatchread.photo.order_statistics import median
from swatchread.plane.finder_settings import settings


@dataclass(frozen=True, eq=False)
class Cell:
    """A swatch in its place; rows and columns are counted from 1."""

    row: int
    column: int
    blob: Blob

    @property
    def id(self) -> str:
        """The name that a note gives it."""
        return f"r{self.row}c{self.column}"


@dataclass(frozen=True, eq=False)
class Grid:
    """The swatches of a card.

    Attributes
    ----------
    cells : tuple of Cell
        Row by row.
    angle : float
        Of the rows against the plane's x axis, clockwise, radians.
    order : float
        How well the swatches stand in rows and columns: their number, each counting less the further it is off its
        lines; it is lowered by areas that had to be dropped and by empty places.
    left_over : tuple of Blob
        Painted areas without a place in a grid whose size was given.
    """

    cells: tuple[Cell, ...]
    angle: float
    order: float
    left_over: tuple[Blob, ...] = ()

    @cached_property
    def radius(self) -> float:
        """Usual half-width of the swatches, pixels; 0 without swatches."""
        return float(median([cell.blob.radius for cell in self.cells])) if self.cells else 0.0

    @cached_property
    def centres(self) -> Floats:
        """Middles (x, y) of the swatches, in the order of the cells, pixels, shape (n, 2)."""
        return np.array([cell.blob.centre for cell in self.cells]).reshape(-1, 2)

    def turned(self, quarters: int) -> Grid:
        """Return the grid numbered as on a card that lies turned clockwise by so many quarters.

        Parameters
        ----------
        quarters : int
            0 to 3.
        """
        cells = self.cells
        for _ in range(quarters):  # turned clockwise by a quarter, the card's top row is the last column
            last = max((c.column for c in cells), default=0)
            cells = tuple(Cell(last + 1 - c.column, c.row, c.blob) for c in cells)
        cells = tuple(sorted(cells, key=lambda c: (c.row, c.column)))
        return Grid(cells, self.angle + quarters * np.pi / 2.0, self.order, self.left_over)


def arrange(blobs: list[Blob]) -> Grid:
    """Put painted areas into rows and columns, and drop those that do not belong.

    Parameters
    ----------
    blobs : list of Blob

    Returns
    -------
    Grid
        Without cells where nothing belongs.
    """
    members = alike(blobs)
    if not members:
        return Grid((), 0.0, 0.0)
    centres = np.array([b.centre for b in members])
    extent = float(median([b.size.mean() for b in members]))
    angle = direction_of_rows(centres)
    rows, columns, off = rows_and_columns(centres, angle, extent)
    keep = without_rejected_marks(members, rows, columns)
    clean = min(1.0, len(keep) / max(1, sum(b.radius > 0.5 * extent / 2 for b in blobs)))
    worth = float(np.exp(-((off[keep] / (settings().grid.off_line * extent)) ** 2)).sum()) * clean
    cells = [Cell(int(rows[k]), int(columns[k]), members[k]) for k in keep]
    return Grid(_renumbered(cells), angle, worth)


def alike(blobs: list[Blob]) -> list[Blob]:
    """Return areas that are compact, sharply outlined, not part of the card's edge and not much narrower than usual."""
    known = settings().grid
    sharp = [b for b in blobs if _may_be_swatch(b)]
    if not sharp:
        return []
    usual = usual_of(np.array([b.radius for b in sharp]))
    return [b for b in sharp if b.radius > known.least_radius * usual]


def _may_be_swatch(blob: Blob) -> bool:
    """Tell whether an area has the outline and the shape of a swatch."""
    known = settings().grid
    return blob.sharp > known.sharp and blob.solid > known.solid and blob.border < known.border


def _renumbered(cells: list[Cell]) -> tuple[Cell, ...]:
    """Return cells row by row, their rows and columns numbered from 1 without gaps."""
    rows, columns = sorted({c.row for c in cells}), sorted({c.column for c in cells})
    return largest_cells([Cell(rows.index(c.row) + 1, columns.index(c.column) + 1, c.blob) for c in cells])


def largest_cells(cells: list[Cell]) -> tuple[Cell, ...]:
    """Return cells row by row; of several in one place the largest."""
    best: dict[tuple[int, int], Cell] = {}
    for cell in sorted(cells, key=lambda c: -c.blob.area):
        best.setdefault((cell.row, cell.column), cell)
    return tuple(best[place] for place in sorted(best))


def direction_of_rows(centres: Floats) -> float:
    """Return the direction of the rows from the vectors between near neighbours: radians, within 45° of the x axis."""
    if len(centres) < 2:
        return 0.0
    apart = centres[None] - centres[:, None]
    distance = np.hypot(apart[..., 0], apart[..., 1])
    np.fill_diagonal(distance, np.inf)
    near = np.argsort(distance, axis=1)[:, : min(4, len(centres) - 1)]
    vectors = np.take_along_axis(apart, near[..., None], axis=1).reshape(-1, 2)
    length = np.take_along_axis(distance, near, axis=1).ravel()
    weight = 1.0 / (1.0 + (length / max(1.0, median(distance.min(axis=1))) - 1.0) ** 2)
    direction = np.arctan2(vectors[:, 1], vectors[:, 0])
    angle = np.angle(np.sum(weight * np.exp(4j * direction))) / 4.0
    for spread in (0.25, 0.12, 0.08):  # radians: diagonal neighbours drop out of the mean
        turn = np.angle(np.exp(4j * (direction - angle))) / 4.0
        close = weight * np.exp(-((turn / spread) ** 2))
        angle += float((close * turn).sum() / max(close.sum(), 1e-9))
    return float(np.angle(np.exp(4j * angle)) / 4.0)


def rows_and_columns(centres: Floats, angle: float, extent: float) -> tuple[Lines, Lines, Floats]:
    """Return the row and the column of each centre, and how far it is off their lines."""
    x, y = (centres @ rotation(angle)).T
    rows, off_y = group_in_lines(y, x, extent)
    columns, off_x = group_in_lines(x, y, extent)
    return rows, columns, np.hypot(off_x, off_y)


def group_in_lines(along: Floats, across: Floats, extent: float) -> tuple[Lines, Floats]:
    """Group values into lines that may all slant alike; return the number of each, from 1, and how far off it is."""
    known = settings().grid
    slant = 0.0
    lines = np.zeros(len(along), dtype=np.int64)
    off = np.zeros(len(along))
    for _ in range(3):
        straight = along - slant * across
        order = np.argsort(straight, kind="stable")
        jumps = np.diff(straight[order]) > known.apart * extent
        lines[order] = np.concatenate([[0], np.cumsum(jumps)])
        mean_a, mean_b = _means(along, lines), _means(across, lines)
        da, db = along - mean_a, across - mean_b
        spread = float((db**2).sum())
        slant = float((da * db).sum() / spread) if spread > extent**2 else 0.0
        off = da - slant * db
    return lines + 1, np.abs(off)


def _means(values: Floats, lines: Lines) -> Floats:
    count = np.bincount(lines)
    means: Floats = (np.bincount(lines, values) / np.maximum(count, 1))[lines]
    return means
