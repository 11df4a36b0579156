"""Rows and columns: the painted areas of a card in their places."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from swatchread.card.grid_outliers import without_grid_outliers
from swatchread.card.segmentation import Blob
from swatchread.colour.cielab import Floats
from swatchread.colour.order import distinct, median
from swatchread.photo.geometry import rotation

_LEAST_RADIUS = 0.5
_MOST_RADIUS = 2.6
_SHARP = 0.5
_LEAST_FAINT = 0.68
_SOLID = 0.72
_LONG = 4.0
_BORDER, _BORDER_OF_NARROW = 0.3, 0.45
_COMPACT = 0.93
_MOST = 0.67
_MOST_DOUBTFUL = 2
_SPARE = 1.2
_APART = 0.5
"""Share of a swatch's usual extent by which rows must lie apart."""


@dataclass(frozen=True, eq=False)
class Cell:
    """A swatch in its place, both counted from 1."""

    row: int
    column: int
    blob: Blob

    @property
    def id(self) -> str:
        """As a note names it."""
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
        How well the swatches stand in rows and columns: their number, each worth less the further it is off, less
        for what had to be dropped and for places left empty.
    left_over : tuple of Blob
        Painted areas that have no place in rows and columns that were asked for.
    """

    cells: tuple[Cell, ...]
    angle: float
    order: float
    left_over: tuple[Blob, ...] = ()

    def turned(self, quarters: int) -> Grid:
        """Return the grid numbered as on a card that lies turned by so many quarters clockwise.

        Parameters
        ----------
        quarters : int
            0 to 3.
        """
        cells = self.cells
        for _ in range(quarters):  # turned by one quarter clockwise, the card's top row is the last column
            last = max((c.column for c in cells), default=0)
            cells = tuple(Cell(last + 1 - c.column, c.row, c.blob) for c in cells)
        cells = tuple(sorted(cells, key=lambda c: (c.row, c.column)))
        return Grid(cells, self.angle + quarters * np.pi / 2.0, self.order, self.left_over)

    def without(self, blobs: list[Blob]) -> Grid:
        """Return the grid without some of its marks, numbered anew.

        Parameters
        ----------
        blobs : list of Blob
        """
        gone = {id(blob) for blob in blobs}
        kept = [c for c in self.cells if id(c.blob) not in gone]
        rows = np.array([c.row for c in kept], dtype=np.int64)
        columns = np.array([c.column for c in kept], dtype=np.int64)
        return Grid(_cells([c.blob for c in kept], rows, columns), self.angle, self.order, self.left_over)


def arrange(blobs: list[Blob], faint: list[Blob] | None = None) -> Grid:
    """Put painted areas into rows and columns, and drop what does not belong.

    Parameters
    ----------
    blobs : list of Blob
    faint : list of Blob, optional
        Doubtful ones: taken only into places that the rows and columns of the others leave empty.

    Returns
    -------
    Grid
        Perhaps without cells.
    """
    members = alike(blobs)
    if not members:
        return Grid((), 0.0, 0.0)
    centres = np.array([b.centre for b in members])
    extent = median([b.size.mean() for b in members])
    angle = _angle(centres)
    rows, columns, off = _lines(centres, angle, extent)
    keep = without_grid_outliers(members, rows, columns, angle)
    clean = min(1.0, len(keep) / max(1, sum(b.radius > 0.5 * extent / 2 for b in blobs)))
    full = _full(len(keep), len(distinct(rows[keep])), len(distinct(columns[keep])))
    # Two marks in one place are no two swatches.
    single = len(distinct(rows[keep] * (columns.max() + 1) + columns[keep])) / max(1, len(keep))
    worth = float(np.exp(-((off[keep] / (0.35 * extent)) ** 2)).sum()) * clean * full * single**2
    kept = [members[k] for k in keep]
    placed = filled(kept, rows[keep], columns[keep], faint or [], angle)
    return Grid(_cells(*placed), angle, worth)


def _full(number: int, rows: int, columns: int) -> float:
    """Return how much more the places are shared than chance would have it: 1 where the grid is nearly full.

    So many marks have twice so many coordinates, less one for each line; marks strewn at random stand mostly in lines
    of their own, while half the swatches of a card, the others too pale to be seen, still share theirs.
    """
    shared = 2 * number - rows - columns
    whole = 2 * rows * columns - rows - columns
    if whole <= 0:
        return 1.0
    return float(min(1.0, _SPARE * shared * rows * columns / (whole * max(1, number))) ** 2)


def filled(
    members: list[Blob],
    rows: npt.NDArray[np.int64],
    columns: npt.NDArray[np.int64],
    faint: list[Blob],
    angle: float,
) -> tuple[list[Blob], npt.NDArray[np.int64], npt.NDArray[np.int64]]:
    """Put doubtful areas into the empty places that rows and columns leave."""
    taken = set(zip(rows.tolist(), columns.tolist(), strict=True))
    radius = median([b.radius for b in members]) if members else 0.0
    turn = rotation(angle)
    places = np.array([b.centre for b in members]).reshape(-1, 2) @ turn
    extra: list[tuple[Blob, int, int]] = []
    for blob in sorted(faint, key=lambda b: -b.area):
        if not (_fit_to_be_one(blob, 0.3) and _LEAST_FAINT * radius < blob.radius < 1.6 * radius):
            continue
        x, y = blob.centre @ turn
        row, off_y = _nearest_line(y, places[:, 1], rows, x - places[:, 0])
        column, off_x = _nearest_line(x, places[:, 0], columns, y - places[:, 1])
        if max(off_x, off_y) < 0.7 * radius and (row, column) not in taken:
            taken.add((row, column))
            extra.append((blob, row, column))
    for place, lines in ((1, rows), (2, columns)):
        extra = _without_hollow_ends(extra, place, lines)
    return (
        [*members, *(e[0] for e in extra)],
        np.append(rows, [e[1] for e in extra]).astype(np.int64),
        np.append(columns, [e[2] for e in extra]).astype(np.int64),
    )


def _without_hollow_ends(
    extra: list[tuple[Blob, int, int]], place: int, lines: npt.NDArray[np.int64]
) -> list[tuple[Blob, int, int]]:
    """Leave out the doubtful areas of a line at either end that one sure area carries: writing beside the swatches."""
    if not extra or not len(lines):
        return extra
    hollow = {
        end
        for end in (int(lines.min()), int(lines.max()))
        if (lines == end).sum() == 1 and sum(e[place] == end for e in extra) > _MOST_DOUBTFUL
    }
    return [e for e in extra if e[place] not in hollow]


def _nearest_line(value: float, values: Floats, lines: npt.NDArray[np.int64], across: Floats) -> tuple[int, float]:
    """Return the line whose members, the nearer ones counting more, lie at about this value, and how far off it is."""
    best, least = 0, np.inf
    for line in distinct(lines):
        index = lines == line
        weight = 1.0 / (1.0 + np.abs(across[index]))
        off = abs(value - float((weight * values[index]).sum() / weight.sum()))
        if off < least:
            best, least = int(line), off
    return best, least


def alike(blobs: list[Blob]) -> list[Blob]:
    """Keep marks of about one breadth, compact, with a sharp outline, not part of the card's own edge.

    Where most marks lie at the edge, they are paint on a narrow card.
    """
    sharp = [b for b in blobs if _fit_to_be_one(b, _SHARP)]
    at_edge = [b for b in blobs if b.solid > _COMPACT and _fit_to_be_one(b, _SHARP, _BORDER_OF_NARROW)]
    if len(sharp) < _MOST * len(at_edge):
        sharp = at_edge
    if not sharp:
        return []
    radii = np.array([b.radius for b in sharp])
    mass = np.cumsum(np.sort(radii) ** 2)
    usual = np.sort(radii)[np.searchsorted(mass, mass[-1] / 2)]
    return [b for b in sharp if _LEAST_RADIUS * usual < b.radius < _MOST_RADIUS * usual]


def _fit_to_be_one(blob: Blob, sharp: float, border: float = _BORDER) -> bool:
    long = blob.size.max() > _LONG * 2 * blob.radius
    return blob.sharp > sharp and blob.solid > _SOLID and blob.border < border and not bool(long)


def _angle(centres: Floats) -> float:
    """Return the direction of the rows, -45 to 45 degrees in radians, from the vectors between near neighbours."""
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
    for spread in (0.25, 0.12, 0.08):  # diagonal neighbours drop out of the mean
        turn = np.angle(np.exp(4j * (direction - angle))) / 4.0
        close = weight * np.exp(-((turn / spread) ** 2))
        angle += float((close * turn).sum() / max(close.sum(), 1e-9))
    return float(np.angle(np.exp(4j * angle)) / 4.0)


def _lines(centres: Floats, angle: float, extent: float) -> tuple[npt.NDArray[np.int64], npt.NDArray[np.int64], Floats]:
    """Return the row and the column of each centre, and how far it is off their lines."""
    cos, sin = np.cos(angle), np.sin(angle)
    x, y = centres[:, 0] * cos + centres[:, 1] * sin, centres[:, 1] * cos - centres[:, 0] * sin
    rows, off_y = groups(y, x, extent)
    columns, off_x = groups(x, y, extent)
    return rows, columns, np.hypot(off_x, off_y)


def groups(along: Floats, across: Floats, extent: float) -> tuple[npt.NDArray[np.int64], Floats]:
    """Group values into lines that may all slant alike; number them upward from 1."""
    slant = 0.0
    groups = np.zeros(len(along), dtype=np.int64)
    off = np.zeros(len(along))
    for _ in range(3):
        straight = along - slant * across
        order = np.argsort(straight, kind="stable")
        jumps = np.diff(straight[order]) > _APART * extent
        groups[order] = np.concatenate([[0], np.cumsum(jumps)])
        mean_a, mean_b = _means(along, groups), _means(across, groups)
        da, db = along - mean_a, across - mean_b
        spread = float((db**2).sum())
        slant = float(np.clip((da * db).sum() / spread, -0.15, 0.15)) if spread > extent**2 else 0.0
        off = da - slant * db
    return groups + 1, np.abs(off)


def _means(values: Floats, groups: npt.NDArray[np.int64]) -> Floats:
    count = np.bincount(groups)
    return np.asarray((np.bincount(groups, values) / np.maximum(count, 1))[groups])


def _cells(blobs: list[Blob], rows: npt.NDArray[np.int64], columns: npt.NDArray[np.int64]) -> tuple[Cell, ...]:
    row_number = {r: k + 1 for k, r in enumerate(sorted(set(rows.tolist())))}
    column_number = {c: k + 1 for k, c in enumerate(sorted(set(columns.tolist())))}
    best: dict[tuple[int, int], Blob] = {}
    for blob, r, c in zip(blobs, rows.tolist(), columns.tolist(), strict=True):
        place = (row_number[r], column_number[c])
        if place not in best or blob.area > best[place].area:
            best[place] = blob
    return tuple(Cell(row, column, best[row, column]) for row, column in sorted(best))
