"""Marks beside the card, in line with its swatches, are told from swatches by the ground on which they lie."""

import numpy as np
import pytest

from swatchread.card.background import lab_of
from swatchread.card.grid import Cell, Grid
from swatchread.card.lab_image import EdgeLevel
from swatchread.card.off_card_marks import off_card_marks
from swatchread.card.segmentation import Blob

SIDE, STEP = 12, 24
CARD, CLOTH = 1, 2


def card(columns=4, rows=5, cloth_from=None):
    """Make a grid all over a plane of one piece; from a column on it is another piece, with an edge between."""
    labels = np.full((rows * STEP, columns * STEP), CARD, np.int32)
    if cloth_from is not None:
        labels[:, cloth_from * STEP :] = CLOTH
        labels[:, cloth_from * STEP - 1 : cloth_from * STEP + 1] = 0
    cells = [cell(r, c) for r in range(rows) for c in range(columns)]
    return labels, cells


def cell(row, column):
    mask = np.ones((SIDE, SIDE), bool)
    corner = (int(column * STEP) + (STEP - SIDE) // 2, int(row * STEP) + (STEP - SIDE) // 2)
    return Cell(int(row) + 1, column + 1, Blob.of(mask, corner, lab_of([120.0, 130.0, 140.0]), 20.0))


def levels_of(labels, cells):
    for one in cells:
        x, y = one.blob.corner
        labels[y - 1 : y + SIDE + 1, x - 1 : x + SIDE + 1] = 0
    return [EdgeLevel(labels, np.zeros((3, 5), np.int32))]


def places(blobs, cells):
    gone = {id(b) for b in blobs}
    return sorted((c.row, c.column) for c in cells if id(c.blob) in gone)


def test_a_few_marks_on_a_cloth_beside_the_card_are_off_it():
    labels, cells = card(columns=5, cloth_from=4)
    cells = [c for c in cells if c.column < 5 or c.row in (2, 4)]
    assert places(off_card_marks(Grid(tuple(cells), 0.0, 1.0), levels_of(labels, cells), 1), cells) == [(2, 5), (4, 5)]


def test_the_line_before_them_is_off_the_card_too():
    labels, cells = card(columns=6, cloth_from=4)
    cells = [c for c in cells if c.column < 6 or (c.row, c.column) in {(2, 6), (4, 6)}]
    cells = [c for c in cells if c.column != 5 or c.row in (1, 3)]
    gone = places(off_card_marks(Grid(tuple(cells), 0.0, 1.0), levels_of(labels, cells), 1), cells)
    assert gone == [(1, 5), (2, 6), (3, 5), (4, 6)]


@pytest.mark.parametrize("kept", [(1, 2, 3, 4, 5), (2, 4)], ids=["full", "sparse"])
def test_a_column_on_the_card_itself_is_kept(kept):
    labels, cells = card(columns=5)
    cells = [c for c in cells if c.column < 5 or c.row in kept]
    assert off_card_marks(Grid(tuple(cells), 0.0, 1.0), levels_of(labels, cells), 1) == []


def test_a_full_column_beyond_a_hard_shadow_is_kept():
    labels, cells = card(columns=5, cloth_from=4)
    assert off_card_marks(Grid(tuple(cells), 0.0, 1.0), levels_of(labels, cells), 1) == []


def test_a_mark_that_the_card_half_surrounds_is_kept():
    """Weak edges, or the paint itself, may part the card's end from its ground."""
    labels, cells = card(columns=4)
    cells = [c for c in cells if c.column < 4 or c.row == 1]
    labels[:, 3 * STEP + STEP // 2 - 1 :] = CLOTH
    assert off_card_marks(Grid(tuple(cells), 0.0, 1.0), levels_of(labels, cells), 1) == []


def test_a_grid_without_marks_is_numbered_anew():
    _, cells = card(columns=3, rows=2)
    grid = Grid(tuple(cells), 0.0, 1.0)
    left = grid.without([c.blob for c in cells if c.column == 1])
    assert [(c.row, c.column) for c in left.cells] == [(1, 1), (1, 2), (2, 1), (2, 2)]
