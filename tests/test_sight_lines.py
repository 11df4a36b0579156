"""What parts two cards and what does not, on drawn squares: the truth is where they were drawn."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from swatchread.card import several_cards
from swatchread.card.card_find import CardFind
from swatchread.card.other_cards import another_beside, largest_card
from swatchread.card.ranking import Candidate
from swatchread.grid.sight_lines import GridView, largest_step
from swatchread.grid.swatch_grid import arrange
from swatchread.ground.ground_regions import Region, Surface
from swatchread.ground.segmentation import Blob
from swatchread.photo.masks import polygon_mask

GROUND, INK, TABLE, PAINT = (230, 128, 128), (60, 128, 128), (110, 140, 160), (100, 150, 150)
SIDE, STEP = 24, 60


def squares(corner, rows, columns, turn=0.0, step=STEP):
    """Return the middles (x, y) of squares in rows and columns, turned about the first by degrees."""
    y, x = np.mgrid[:rows, :columns] * step
    a = np.radians(turn)
    return np.stack([x.ravel(), y.ravel()], axis=-1) @ [[np.cos(a), np.sin(a)], [-np.sin(a), np.cos(a)]] + corner


def painted(lab, middles):
    """Paint squares into a picture; returns them as painted areas."""
    blobs = []
    for x, y in np.rint(middles).astype(int) - SIDE // 2:
        lab[y : y + SIDE, x : x + SIDE] = PAINT
        blobs.append(Blob.of(np.ones((SIDE, SIDE), bool), (int(x), int(y)), np.array([40.0, 20.0, 20.0]), 60.0))
    return blobs


def ground(shape=(400, 700)):
    return np.full((*shape, 3), GROUND, np.uint8)


def view_of(lab, blobs):
    return GridView(lab, (lab == GROUND).all(axis=2), (0, 0), arrange(blobs))


def surface_of(lab):
    bare = (lab == GROUND).all(axis=2)
    whole = np.ones_like(bare)
    box = (0, 0, lab.shape[1], lab.shape[0])
    return Surface(bare, whole, np.zeros(bare.shape, np.float32), 0.0, box, np.array([90.0, 0.0, 0.0]))


@pytest.fixture
def two_columns():
    lab = ground((300, 200))
    return lab, painted(lab, squares((60, 60), 4, 2))


def test_writing_that_crosses_every_straight_line_parts_no_card(two_columns):
    lab, blobs = two_columns
    for y in range(6, 290, 12):  # strokes on the left and on the right that together cover every height
        lab[y : y + 9, 76:84], lab[y + 6 : y + 15, 94:102] = INK, INK
    assert view_of(lab, blobs).partings() == []


def test_a_strip_of_the_table_parts_two_cards(two_columns):
    lab, blobs = two_columns
    lab[:, 86:94] = TABLE
    assert view_of(lab, blobs).partings() == [(0, 1)]


def test_cards_at_different_turns_are_told_apart_though_no_edge_shows():
    lab = ground((900, 700))
    upper, lower = squares((60, 60), 4, 6), squares((90, 560), 3, 5, turn=-20)
    blobs = painted(lab, np.concatenate([upper, lower]))
    _, grid, others = largest_card(surface_of(lab), arrange(blobs), lab)
    assert (len(grid.cells), others) == (len(upper), 1)


def test_a_card_ends_at_its_edge_though_its_ground_goes_on_beyond_the_table():
    lab = ground()
    blobs = painted(lab, squares((60, 120), 4, 3))
    lab[:, 230:240] = TABLE  # and beyond it another card of the same stock
    across = view_of(lab, blobs).reach()[:, 0]
    assert across.min() < 20
    assert across.max() == pytest.approx(230, abs=2)


def beside(middles, lab):
    """Tell whether another card is seen in marks that lie on the table beside a card in its upper left."""
    own, marks = painted(lab, squares((60, 60), 2, 2)), painted(lab, middles)
    surface = surface_of(lab)
    surface.card[:, 160:] = False
    table = Candidate(Region(surface.bare, surface.box), tuple(marks), arrange([]), np.zeros(3), np.zeros(8))
    return another_beside(surface, arrange(own), [table], 1)


def test_cards_of_the_tables_colour_are_seen_by_their_swatches_each_at_a_turn_of_its_own():
    cards = [squares((240, 60), 2, 3), squares((560, 60), 3, 3, turn=25)]
    assert beside(np.concatenate(cards), ground())


def test_marks_strewn_on_the_table_are_no_card():
    strewn = np.random.default_rng(3).permutation(squares((240, 60), 5, 7))[:12]
    strewn = strewn + np.random.default_rng(4).uniform(-18, 18, strewn.shape)
    assert not beside(strewn, ground())


def found_with(outline, middles):
    """Return what was found beside a card: the ground within an outline (x, y), with swatches."""
    lab = ground()
    whole = polygon_mask(np.array(outline), lab.shape)
    grid = arrange(painted(lab, middles))
    surface = replace(surface_of(lab), bare=whole & (lab == GROUND).all(axis=2), card=whole)
    return CardFind(SimpleNamespace(resolution=50.0), surface, grid)


def test_a_tube_with_two_fields_on_its_label_is_no_card_and_a_small_card_is():
    first = found_with([(20, 20), (320, 20), (320, 220), (20, 220)], squares((60, 60), 3, 4))
    two = squares((450, 100), 1, 2)
    tube = found_with([(400, 75), (520, 75), (570, 90), (570, 110), (520, 125), (400, 125)], two)
    card = found_with([(400, 60), (570, 60), (570, 140), (400, 140)], two)
    assert not several_cards._is_another(tube, first)
    assert several_cards._is_another(card, first)


@pytest.mark.parametrize(("beyond", "passing"), [(200.0, True), (150.0, False)])
def test_a_step_that_stays_is_a_shadows_edge_and_one_that_goes_back_a_cards(beyond, passing):
    """In levels of L*: paper at 200, something darker in the middle third, and what lies beyond."""
    colours = np.full((30, 90, 3), 128.0, np.float32)
    colours[..., 0] = np.repeat([200.0, 150.0, beyond], 30)
    assert largest_step(colours) > 10.0
    assert (largest_step(colours, passing=True) > 10.0) == passing
