"""Corrections by a painter who points: lines that part the rows and columns, swatches that were missed, and stains."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from swatchread.card.card_find import CardFind
from swatchread.colour.cielab import Floats
from swatchread.errors import NoSwatchesError, PointedPlaceError
from swatchread.grid.rejected_marks import Lines
from swatchread.grid.swatch_grid import Cell, Grid, alike, largest_cells, rows_and_columns
from swatchread.ground.segmentation import Blob
from swatchread.hints.manual_hints import GridLines, ManualHints
from swatchread.photo.geometry import project, rotation
from swatchread.photo.masks import Mask, Picture, part_of, pieces_of

_NEAR = 1.0
"""Distance from the middle of a swatch, in its extents, within which a click means it (choice)."""

_LEAST_PIECE = 0.2
"""Share of the usual swatch's area that a line must leave on its side of a painted area to make a swatch (choice)."""

_SEED, _GROWN = 0.12, 1.1
"""Half-widths of the squares, in a usual swatch's extents, in which a clicked colour is taken, and looked for."""

_ALIKE = 7.0
"""Difference from the clicked colour, CIELAB units as balanced by the chart, that is still the same paint. The
steps between neighbouring swatches are larger or have ground between them."""

_LEAST_AREA = 0.08
"""Share of a usual swatch's area below which what was clicked is too small to be measured."""


def correct_swatches(card: CardFind, hints: ManualHints) -> CardFind:
    """Change a card's swatches as the painter has pointed.

    Parameters
    ----------
    card : CardFind
        Upright.
    hints : ManualHints
        Its `lines`, `added` and `removed` count.

    Returns
    -------
    CardFind
        With rows and columns numbered anew, unless lines or a grid say how they count.

    Raises
    ------
    PointedPlaceError
        If nothing that could be a swatch is at a place that was pointed at.
    NoSwatchesError
        If no swatch is left.
    """
    if hints.lines is None and not len(hints.added) and not len(hints.removed):
        return card
    to_plane = np.asarray(np.linalg.inv(card.plane.to_photo), dtype=np.float64)
    kept = list(card.grid.cells)
    for place in project(to_plane, hints.removed):
        kept = _without(kept, place)
    added = [
        _painted_at(card, place, name) for place, name in zip(project(to_plane, hints.added), hints.added, strict=True)
    ]
    if hints.lines is not None:
        seen = [b for b in alike(list(card.seen)) if not _is_removed(b, project(to_plane, hints.removed))]
        blobs = _each_once([*added, *(c.blob for c in kept), *seen])
        cells = _between_lines(blobs, _Parting.of(hints.lines, to_plane, card.grid.angle))
    elif hints.grid is not None:
        cells = _numbered_like(kept, added, card.grid)
    else:
        cells = _numbered_anew([c.blob for c in kept] + added, card.grid)
    if not cells:
        raise NoSwatchesError(f"No swatch is left on the card in {card.plane.sample.find.photo.path.name}")
    return replace(card, grid=replace(card.grid, cells=cells))


def _extent(grid: Grid) -> float:
    """Return the usual extent of a swatch, pixels."""
    return float(np.median([c.blob.size.mean() for c in grid.cells])) if grid.cells else 0.0


def _holds(blob: Blob, place: Floats) -> bool:
    x, y = np.rint(place).astype(int) - blob.corner
    height, width = blob.mask.shape
    return bool(0 <= x < width and 0 <= y < height and blob.mask[y, x])


def _without(cells: list[Cell], place: Floats) -> list[Cell]:
    """Return the cells without the one at a place; all of them if there is none (it may be gone already)."""
    if not cells:
        return cells
    off = [
        0.0 if _holds(c.blob, place) else float(np.hypot(*(c.blob.centre - place)) / c.blob.size.mean()) for c in cells
    ]
    nearest = int(np.argmin(off))
    return [c for k, c in enumerate(cells) if k != nearest or off[k] > _NEAR]


def _is_removed(blob: Blob, places: Floats) -> bool:
    return any(_holds(blob, place) for place in places)


def _each_once(blobs: list[Blob]) -> list[Blob]:
    """Return blobs without those that mostly lie under an earlier one."""
    kept: list[Blob] = []
    for blob in blobs:
        if not any(_overlap(blob, other) > 0.5 * min(blob.area, other.area) for other in kept):
            kept.append(blob)
    return kept


def _overlap(one: Blob, other: Blob) -> int:
    """Return how many pixels two areas share."""
    low = np.maximum(one.corner, other.corner)
    high = np.minimum(np.add(one.corner, one.mask.shape[::-1]), np.add(other.corner, other.mask.shape[::-1]))
    if (high <= low).any():
        return 0
    box = (int(low[0]), int(low[1]), int(high[0] - low[0]), int(high[1] - low[1]))
    parts = [b.mask[part_of((box[0] - b.corner[0], box[1] - b.corner[1], *box[2:]))] for b in (one, other)]
    return int(np.count_nonzero(parts[0] & parts[1]))


def _painted_at(card: CardFind, place: Floats, named: Floats) -> Blob:
    """Return the painted area at a place: one that was seen and not taken, or the colour around the place."""
    for blob in card.seen:
        if _holds(blob, place) and not any(c.blob is blob for c in card.grid.cells) and alike([blob]):
            return blob
    lab = card.plane.lab
    extent = _extent(card.grid) or 40.0
    found = _like_its_middle(lab, place, extent)
    if found is None or found[0].sum() < _LEAST_AREA * extent**2:
        x, y = named
        raise PointedPlaceError(
            "There is no paint that could be measured where you pointed",
            f"at {x:.0f},{y:.0f} the colour changes at once",
        )
    mask, corner = found
    inside = lab[corner[1] : corner[1] + mask.shape[0], corner[0] : corner[0] + mask.shape[1]][mask]
    colour = _as_lab(np.median(inside, axis=0))
    return Blob.of(mask, corner, colour, float(np.linalg.norm(colour - card.surface.lab)))


def _like_its_middle(lab: Picture, place: Floats, extent: float) -> tuple[Mask, tuple[int, int]] | None:
    """Return what has the colour at a place and hangs together with it, cut to what it holds, and its corner."""
    height, width = lab.shape[:2]
    x, y = np.rint(place).astype(int)
    if not (0 <= x < width and 0 <= y < height):
        return None
    reach, seed = max(4, round(_GROWN * extent)), max(1, round(_SEED * extent))
    left, top = max(0, x - reach), max(0, y - reach)
    window = lab[top : y + reach + 1, left : x + reach + 1].astype(np.float64)
    around = lab[max(0, y - seed) : y + seed + 1, max(0, x - seed) : x + seed + 1].reshape(-1, 3)
    apart = np.linalg.norm(_as_lab(window) - _as_lab(np.median(around, axis=0)), axis=-1)
    labels, _ = pieces_of(apart < _ALIKE)
    own = labels[y - top, x - left]
    if own == 0:
        return None
    mask = labels == own
    rows, columns = np.flatnonzero(mask.any(axis=1)), np.flatnonzero(mask.any(axis=0))
    cut: Mask = mask[rows[0] : rows[-1] + 1, columns[0] : columns[-1] + 1]
    return cut, (int(left + columns[0]), int(top + rows[0]))


def _as_lab(bytes_: Floats) -> Floats:
    """Return CIELAB of 8-bit CIELAB."""
    return np.asarray(bytes_, dtype=np.float64) * [100.0 / 255.0, 1.0, 1.0] - [0.0, 128.0, 128.0]


def _numbered_anew(blobs: list[Blob], grid: Grid) -> tuple[Cell, ...]:
    """Return areas in rows and columns that are counted from 1 without gaps."""
    if not blobs:
        return ()
    extent = float(np.median([b.size.mean() for b in blobs]))
    rows, columns, _ = rows_and_columns(np.array([b.centre for b in blobs]), grid.angle, extent)
    return largest_cells([Cell(int(r), int(c), b) for r, c, b in zip(rows, columns, blobs, strict=True)])


def _numbered_like(kept: list[Cell], added: list[Blob], grid: Grid) -> tuple[Cell, ...]:
    """Return cells that keep their numbers, and areas beside them in the row and column whose middle is nearest."""
    turn = rotation(grid.angle)
    places = grid.centres @ turn
    more = []
    for blob in added:
        x, y = blob.centre @ turn
        row = grid.cells[int(np.argmin(np.abs(places[:, 1] - y)))].row
        column = grid.cells[int(np.argmin(np.abs(places[:, 0] - x)))].column
        more.append(Cell(row, column, blob))
    taken = {(c.row, c.column) for c in more}
    return largest_cells([c for c in kept if (c.row, c.column) not in taken] + more)


@dataclass(frozen=True, eq=False)
class _Parting:
    """Lines in the card's upright frame: along its rows and down its columns.

    Attributes
    ----------
    turn : ndarray, shape (2, 2)
    rows, columns : ndarray, shape (n, 2, 2)
    """

    turn: Floats
    rows: Floats
    columns: Floats

    @classmethod
    def of(cls, lines: GridLines, to_plane: Floats, angle: float) -> _Parting:
        """Bring lines from the photo onto the card."""
        turn = rotation(angle)
        return cls(turn, project(to_plane, lines.rows) @ turn, project(to_plane, lines.columns) @ turn)

    def numbers(self, points: Floats) -> tuple[Lines, Lines]:
        """Return the row and the column of points of the plane, from 1."""
        upright = points @ self.turn
        row, column = np.ones(len(points), dtype=np.int64), np.ones(len(points), dtype=np.int64)
        for line in self.rows:
            row += _beyond(upright, line)
        for line in self.columns:
            column += _beyond(upright[:, ::-1], line[:, ::-1])
        return row, column


def _beyond(points: Floats, line: Floats) -> Lines:
    """Return 1 for points that lie beyond a line in their second coordinate, else 0."""
    (x0, y0), (x1, y1) = line[np.argsort(line[:, 0])]
    slope = (y1 - y0) / max(x1 - x0, 1e-9)
    return np.asarray(points[:, 1] > y0 + slope * (points[:, 0] - x0), dtype=np.int64)


def _between_lines(blobs: list[Blob], parting: _Parting) -> tuple[Cell, ...]:
    """Return the cells that lines make of painted areas; an area on both sides of a line is cut there."""
    usual = float(np.median([b.area for b in blobs])) if blobs else 0.0
    cells = []
    for blob in blobs:
        y, x = np.nonzero(blob.mask)
        rows, columns = parting.numbers(np.stack([x, y], axis=-1) + np.array(blob.corner))
        places, index, counts = np.unique(
            np.stack([rows, columns], axis=-1), axis=0, return_inverse=True, return_counts=True
        )
        large = counts >= _LEAST_PIECE * usual
        if large.sum() <= 1:
            row, column = places[int(np.argmax(counts))].tolist()
            cells.append(Cell(row, column, blob))
            continue
        for k in np.flatnonzero(large):
            part = np.zeros_like(blob.mask)
            part[y[index.ravel() == k], x[index.ravel() == k]] = True
            cells.append(Cell(int(places[k, 0]), int(places[k, 1]), _cut(part, blob)))
    return largest_cells(cells)


def _cut(mask: Mask, blob: Blob) -> Blob:
    """Return a part of an area as an area of its own."""
    rows, columns = np.flatnonzero(mask.any(axis=1)), np.flatnonzero(mask.any(axis=0))
    corner = (int(blob.corner[0] + columns[0]), int(blob.corner[1] + rows[0]))
    return Blob.of(mask[rows[0] : rows[-1] + 1, columns[0] : columns[-1] + 1], corner, blob.lab, blob.off)
