"""Marks at the ends of a grid that do not lie on the card: a cloth's pattern, where its colour runs into the card's."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from swatchread.card.grid import Cell, Grid
from swatchread.card.lab_image import EdgeLevel
from swatchread.card.masks import Mask, hull_of, lie_inside
from swatchread.card.segmentation import Blob
from swatchread.colour.cielab import Floats
from swatchread.photo import opencv as cv2

# Measured on development scenes.

_NEAR, _FAR = 2, 6
"""Pixels from a mark's outline between which the ground beside it is looked at."""

_HELD = 0.1
"""A piece of ground lies beside a mark if it takes more than this share of the mark's surroundings."""

_PART_OF_CELLS, _MOST_OF_CELLS = 0.25, 0.7
"""A piece is the card's ground if it lies beside this share of the marks; such pieces must lie beside the second."""

_WITHIN = 0.5
"""A mark is off the card if the shares of it and of its surroundings that lie on the card add up to less."""

_SPARSE = 0.65
"""A line may be dropped if it fills less than this share of the grid's breadth."""


def off_card_marks(grid: Grid, levels: list[EdgeLevel], scale: int) -> list[Blob]:
    """Return the marks of sparse lines at the ends of a grid that lie beyond the ground on which most others stand.

    Parameters
    ----------
    grid : Grid
    levels : list of EdgeLevel
        Of the image, or of the same at a smaller size, the weakest edges first. The first level decides that shows
        most marks beside a few large pieces of ground: one piece, or those into which a hard shadow cuts it.
    scale : int
        Pixels of the grid to one of the edge levels.

    Returns
    -------
    list of Blob
    """
    if not _off_card_at_ends(grid.cells, np.zeros(len(grid.cells))):
        return []  # no line is sparse
    for level in levels:
        around = [_pieces_beside(cell.blob, level, scale) for cell in grid.cells]
        seen = np.concatenate([_frequent(ring) for ring in around])
        counts = np.bincount(seen) if len(seen) else np.zeros(1)
        main = np.flatnonzero(counts >= max(2.0, _PART_OF_CELLS * len(around)))
        on = np.array([_share(np.isin(ring, main)) for ring in around])
        if (on > _HELD).mean() >= _MOST_OF_CELLS:
            hull = hull_of(np.isin(level.labels, main))
            return _off_card_at_ends(grid.cells, on + [_inside(cell.blob, hull, scale) for cell in grid.cells])
    return []  # swatches that nearly touch leave no piece of ground that lies beside many of them


def _frequent(ring: npt.NDArray[np.int32]) -> npt.NDArray[np.int64]:
    """Return the numbers of the pieces that take a part of a mark's surroundings."""
    counts = np.bincount(ring, minlength=1)
    counts[0] = 0
    return np.flatnonzero(counts > _HELD * max(1, len(ring)))


def _share(those: Mask) -> float:
    return float(those.mean()) if those.size else 0.0


def _pieces_beside(blob: Blob, level: EdgeLevel, scale: int) -> npt.NDArray[np.int32]:
    """Return the numbers of the pieces beside a mark, pixel by pixel; 0 is an edge."""
    mask = np.pad(blob.mask[::scale, ::scale].astype(np.uint8), _FAR)
    away = cv2.distanceTransform(1 - mask, cv2.DIST_L2, 3)
    rows, columns = np.nonzero((away > _NEAR) & (away <= _FAR))
    rows, columns = rows + blob.corner[1] // scale - _FAR, columns + blob.corner[0] // scale - _FAR
    inside = lie_inside(rows, columns, level.labels.shape)
    beside: npt.NDArray[np.int32] = level.labels[rows[inside], columns[inside]]
    return beside


def _inside(blob: Blob, hull: Mask, scale: int) -> float:
    """Return the share of a mark that lies within the convex hull of the card's ground."""
    rows, columns = np.nonzero(blob.mask[::scale, ::scale])
    h, w = hull.shape
    rows, columns = rows + blob.corner[1] // scale, columns + blob.corner[0] // scale
    return _share(hull[np.minimum(rows, h - 1), np.minimum(columns, w - 1)])


def _off_card_at_ends(cells: tuple[Cell, ...], within: Floats) -> list[Blob]:
    """Return the marks of sparse end lines that are off the card, and of the next lines once these are gone."""
    places = np.array([[cell.row, cell.column] for cell in cells])
    left = np.ones(len(cells), dtype=bool)
    changed = True
    while changed:
        changed = False
        for axis in (0, 1):
            number = len(np.unique(places[left, 1 - axis]))
            for end in {int(places[left, axis].min()), int(places[left, axis].max())}:
                line = left & (places[:, axis] == end)
                off = bool((within[line] < _WITHIN).all())
                if off and line.sum() < _SPARSE * number and (left & ~line).any():
                    left &= ~line
                    changed = True
    return [cell.blob for cell, kept in zip(cells, left, strict=True) if not kept]
