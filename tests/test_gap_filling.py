"""Paint in the gaps of a grid, on cards drawn by hand: what is faint or missing is known."""

import cv2
import numpy as np
import pytest

from swatchread.grid.cell_neighbourhood import CellNeighbourhood
from swatchread.grid.gap_filling import fill_missing_cells
from swatchread.grid.swatch_grid import arrange
from swatchread.ground.background import lab_of
from swatchread.ground.ground_regions import Region, surface_of
from swatchread.ground.segmentation import Blob
from tests.drawn_cards import grey_image

PAPER, RADIUS, STEP = 200.0, 20, 60
SIZE = (460, 420)
FULL = [(r, c) for r in range(5) for c in range(4) if (r, c) != (2, 2)]


def disc(x, y, radius=RADIUS):
    gy, gx = np.mgrid[: SIZE[0], : SIZE[1]]
    return np.hypot(gx - x, gy - y) <= radius


def place(row, column):
    return 100 + STEP * column, 100 + STEP * row


def middle(blob):
    """Return the pixel in the middle of a painted area."""
    return tuple(np.rint(blob.centre).astype(int).tolist())


def paint_in_gaps(levels, cells, *, seen=None, radius=RADIUS):
    """Return the paint found in the gaps of given cells, on a card drawn in levels and known in part."""
    image = grey_image(levels)
    painted = np.zeros(SIZE, bool)
    blobs = []
    for x, y in (place(*cell) for cell in cells):
        painted |= disc(x, y, radius + 2)
        part = disc(x, y, radius)[y - radius : y + radius + 1, x - radius : x + radius + 1]
        blobs.append(Blob.of(part, (x - radius, y - radius), lab_of([90.0, 128, 128]), 40.0))
    known = ~painted if seen is None else ~painted & seen
    surface = surface_of(Region(known, (0, 0, SIZE[1], SIZE[0])), image)
    return fill_missing_cells(surface, image, arrange(blobs))


def card(cells, faint=(), step=0.0, *, uneven=0.0, radius=RADIUS):
    """Return the levels of a card with dark swatches, faint ones a step below the ground, and an uneven ground."""
    rng = np.random.default_rng(5)
    grain = cv2.GaussianBlur(rng.normal(size=SIZE), (0, 0), 9.0)
    levels = PAPER + uneven * grain / grain.std()
    for cell in cells:
        levels[disc(*place(*cell), radius)] = 90.0
    for cell in faint:
        levels[disc(*place(*cell))] -= step
    return levels


@pytest.mark.parametrize(("dark", "pale"), [((-1, 0, 1, 5), (2, 3, 4)), ((0, 3, 4), (1, 2))])
def test_rows_of_pale_swatches_between_dark_ones_are_seen(dark, pale):
    """Four steps lie between the dark rows; or three, and the usual step is one, not the mean of one and three."""
    sure, faint = ([(row, column) for row in rows for column in range(3)] for rows in (dark, pale))
    found = paint_in_gaps(card(sure, faint, 9.0), sure)
    assert sorted(middle(b) for b in found) == sorted(place(*cell) for cell in faint)


@pytest.mark.parametrize("row", [0, 4])
def test_a_pale_swatch_at_the_end_of_a_single_column_is_seen(row):
    column = [(k, 1) for k in range(5) if k != row]
    found = paint_in_gaps(card(column, [(row, 1)], 9.0), column)
    assert [middle(b) for b in found] == [place(row, 1)]


def test_a_swatch_at_the_end_of_a_column_is_seen_where_the_cards_known_part_ends_before_it():
    column = [(row, 1) for row in range(1, 5)]
    known = np.ones(SIZE, bool)
    known[:125] = False
    found = paint_in_gaps(card(column, [(0, 1)], 40.0), column, seen=known)
    assert [middle(b) for b in found] == [place(0, 1)]


def test_two_swatches_are_enough_to_look_for_a_third():
    pair = [(1, 1), (2, 1)]
    assert len(paint_in_gaps(card(pair, [(3, 1)], 9.0), pair)) == 1


@pytest.mark.parametrize(
    "mark",
    [
        lambda picture, x, y: cv2.putText(picture, "2/3", (x - 18, y + 7), cv2.FONT_HERSHEY_SIMPLEX, 0.7, 120.0, 2),
        lambda picture, x, y: cv2.circle(picture, (x + 14, y), 12, 120.0, -1),  # a stain, off the column
        lambda picture, x, y: cv2.circle(picture, (x, y), 10, 120.0, -1),  # too small
    ],
)
def test_what_is_not_right_in_its_place_makes_no_line_beyond_the_ends(mark):
    column = [(k, 1) for k in range(1, 5)]
    levels = card(column)
    mark(levels, *place(0, 1))
    assert paint_in_gaps(levels, column) == []


def test_paint_beyond_the_cards_edge_makes_no_line():
    column = [(k, 1) for k in range(1, 5)]
    levels = card(column, [(0, 1)], 60.0)
    levels[:102] = np.where(levels[:102] > 170, 100.0, levels[:102])  # the table, on which the mark lies half
    on_card = np.ones(SIZE, bool)
    on_card[:102] = False
    assert paint_in_gaps(levels, column, seen=on_card) == []


def test_on_an_uneven_ground_a_faint_swatch_is_seen_in_an_empty_place():
    found = paint_in_gaps(card(FULL, [(2, 2)], 6.0, uneven=1.5), FULL)
    assert len(found) == 1
    assert found[0].centre == pytest.approx(place(2, 2), abs=4)


def test_an_uneven_ground_alone_is_no_swatch():
    assert paint_in_gaps(card(FULL, uneven=1.5), FULL) == []


@pytest.mark.parametrize("empty", [(2, 2), (0, 1), (0, 0)])
def test_an_empty_place_between_broad_swatches_is_no_paler_swatch(empty):
    """Smoothed with the dark paint beside it, narrow ground darkens, so that the middle of the place stood off it."""
    cells = [(r, c) for r in range(5) for c in range(4) if (r, c) != empty]
    levels = cv2.GaussianBlur(card(cells, radius=28), (0, 0), 1.0)
    on_card = np.zeros(SIZE, bool)
    on_card[66:374, 66:314] = True
    levels[~on_card] = 120.0
    assert paint_in_gaps(levels, cells, seen=on_card, radius=28) == []


def test_writing_in_an_empty_place_is_no_swatch():
    levels = card(FULL)
    x, y = place(2, 2)
    cv2.putText(levels, "2/3", (x - 18, y + 7), cv2.FONT_HERSHEY_SIMPLEX, 0.7, 120.0, 2)
    assert paint_in_gaps(levels, FULL) == []


@pytest.mark.parametrize(("columns", "seen"), [((0, 2), 2), ((1,), 0)])
def test_a_row_beyond_the_grid_is_there_if_its_places_speak_for_it_together(columns, seen):
    """Two of four say that it is one, one of four does not."""
    below = [(5, column) for column in columns]
    found = paint_in_gaps(card(FULL, below, 40.0), FULL)
    assert len(found) == seen


@pytest.mark.parametrize("seen", [1.0, 0.3])
def test_what_looks_like_the_ground_nearby_is_no_paint(seen):
    """Writing, or the blur of swatches that nearly touch, darkens what lies round it: bare paper seems to stand off."""
    y, x = np.mgrid[-2:2:81j, -2:2:81j]
    away, turn = np.hypot(x, y), (np.arctan2(y, x) / np.pi + 1.0) / 2.0
    colours = np.full((81, 81, 3), [PAPER, 128.0, 128.0], np.float32)
    colours[(away > 1.0), 0] -= 20.0
    everywhere, nowhere = np.ones((81, 81), bool), np.zeros((81, 81), bool)
    ground = (away > 1.2) & (turn < seen)
    expected = np.array([PAPER, 128.0, 128.0])
    trace = CellNeighbourhood(x, y, colours, everywhere, nowhere, ground, expected).trace()
    assert trace is None or trace.off < 1.0
