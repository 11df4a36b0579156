"""Grids of painted areas that are drawn by hand, without the simulator, so that each rule is tested by itself."""

from dataclasses import replace

import cv2
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from swatchread.card.card_view import spanning
from swatchread.card.swatches_without_ground import grounds_between_patches
from swatchread.grid.grid_gaps import missing_cells
from swatchread.grid.rejected_marks import with_texture
from swatchread.grid.swatch_grid import Cell, Grid, arrange
from swatchread.ground.background import lab_of
from swatchread.ground.ground_regions import Surface
from swatchread.ground.segmentation import Blob
from swatchread.plane.lab_image import edge_levels
from tests.drawn_cards import lab_image

PAPER = (232, 228, 220)


def paint(x, y, radius=10.0, **more):
    """Return a round painted area at a place."""
    r = int(radius)
    gy, gx = np.mgrid[-r : r + 1, -r : r + 1]
    mask = np.hypot(gx, gy) <= radius
    plain = Blob(mask, (int(x) - r, int(y) - r), radius, solid=0.98, lab=np.array([50.0, 10.0, 20.0]), off=30.0)
    return replace(plain, **more)


def rows_of_paint(rows, columns, step=30.0, **more):
    return [paint(100 + step * c, 100 + step * r, **more) for r in range(rows) for c in range(columns)]


def numbered(grid):
    return {(c.row, c.column): tuple(c.blob.centre) for c in grid.cells}


def test_two_blocks_of_one_card_are_both_kept():
    left = rows_of_paint(4, 3)
    right = [b.moved(135, 0) for b in left]
    assert len(arrange(left + right).cells) == 24


def test_columns_of_writing_beside_the_swatches_are_dropped():
    """Writing is as large as a swatch and stands in rows and columns too, but has strokes."""
    swatches = [paint(100 + 90 * c, 100 + 30 * r) for r in range(5) for c in range(3)]
    writing = [paint(b.centre[0] + 35, b.centre[1], radius=8.0, rough=0.7, off=6.0) for b in swatches]
    cells = arrange(swatches + writing).cells
    assert len(cells) == 15
    assert {c.blob.rough for c in cells} == {0.0}


def test_writing_in_rows_of_its_own_does_not_make_columns_small():
    """Below the swatches of the outer columns, two small pieces each."""
    swatches = [paint(100 + 40 * c, 100 + 60 * r) for r in range(3) for c in range(5)]
    writing = [
        paint(b.centre[0] + shift, b.centre[1] + 27, radius=6.0, rough=0.8, off=6.0)
        for b in swatches
        for shift in (-8, 8)
        if b.centre[0] in (100, 260)
    ]
    assert {c.blob.rough for c in arrange(swatches + writing).cells} == {0.0}
    assert len(arrange(swatches + writing).cells) == 15


def test_writing_as_broad_as_the_swatches_is_told_by_its_strokes():
    """On a grainy ground the paint itself is somewhat rough, and half of all marks are writing."""
    swatches = [paint(100 + 90 * c, 100 + 30 * r, rough=0.12) for r in range(5) for c in range(3)]
    writing = [paint(b.centre[0] + 35, b.centre[1], rough=0.45) for b in swatches]
    assert {c.blob.rough for c in arrange(swatches + writing).cells} == {0.12}


def test_one_swatch_alone_in_its_row_is_kept_where_writing_stands_beside_it():
    """Writing that passed for paint shares the row; it goes, the swatch stays."""
    card = [b for b in rows_of_paint(5, 3, step=60.0, rough=0.05) if b.centre[1] > 100 or b.centre[0] == 100]
    writing = [paint(130, 100 + 60 * r, radius=7.0, rough=1.2) for r in (0, 2, 3)]
    assert numbered(arrange([*card, *writing])) == numbered(arrange(card))
    assert len(arrange(card).cells) == 13


@pytest.mark.parametrize(("rough", "rows"), [(0.0, 4), (0.2, 3)])
def test_a_full_row_of_small_marks_is_paint_when_they_are_even(rough, rows):
    """Pale paint is seen smaller than it is; writing has strokes."""
    card = [*rows_of_paint(3, 4, step=40.0), *(paint(100 + 40 * c, 220, radius=6.8, rough=rough) for c in range(4))]
    assert len({c.row for c in arrange(card).cells}) == rows


def roughness(picture, mask):
    """Return how rough a painted area of a picture on white paper is."""
    image = lab_image(picture)
    bare = ~cv2.dilate(mask.astype(np.uint8), np.ones((9, 9))).astype(bool)
    surface = Surface(bare, np.ones(mask.shape, bool), np.zeros(mask.shape, np.float32), 0.5, (0, 0, 120, 120), PAPER)
    return with_texture([Blob.of(mask, (0, 0), lab_of([90.0, 135.0, 140.0]), 40.0)], surface, image)[0].rough


def test_glints_do_not_make_paint_rough_as_strokes_make_writing():
    gy, gx = np.mgrid[:120, :120]
    mask = np.hypot(gx - 60, gy - 60) < 40
    picture = np.full((120, 120, 3), PAPER, np.uint8)
    strokes, paint_with_glints = picture.copy(), picture.copy()
    paint_with_glints[mask] = (110, 80, 60)
    paint_with_glints[mask & ((gx + gy) % 24 < 5)] = (235, 232, 228)
    strokes[mask & ((gx + gy) % 12 < 4)] = (70, 60, 60)
    assert roughness(paint_with_glints, mask) < 0.1
    assert roughness(strokes, mask) > 0.25


@pytest.mark.parametrize(("rough", "columns"), [(1.0, 3), (0.15, 4)])
def test_one_mark_in_a_column_of_its_own_is_writing_when_it_is_all_strokes(rough, columns):
    """Of 42 single marks of a roughness above 0.3 on drawn cards none was a swatch."""
    swatches = rows_of_paint(4, 3, step=60.0)
    beside = paint(swatches[2].centre[0] + 60, swatches[2].centre[1], rough=rough)
    assert len({c.column for c in arrange([*swatches, beside]).cells}) == columns


INK = np.array([56.0, 9.0, 13.0])


def row_with_writing(colours, **more):
    """Return a row of smooth swatches, each of its own colour, and rough marks of given colours between them."""
    swatches = [paint(100 + 90 * c, 100, lab=np.array([30.0 + 8 * c, 5.0 * c, 10.0])) for c in range(len(colours) + 1)]
    return swatches + [paint(145 + 90 * c, 100, rough=0.32, lab=lab, **more) for c, lab in enumerate(colours)]


@pytest.mark.parametrize(
    ("colours", "radius"), [([INK, INK + [0, 9, 9], INK - [9, 0, 0]], 8.0), ([INK, INK + 1, INK - 1], 10.0)]
)
def test_rough_marks_of_several_colours_or_as_broad_as_the_others_are_swatches(colours, radius):
    """Glints make them rough."""
    assert len(arrange(row_with_writing(colours, radius=radius)).cells) == 7


def test_the_only_row_of_a_card_is_no_writing():
    row = [replace(b, rough=0.9 if k in (1, 3) else 0.1) for k, b in enumerate(rows_of_paint(1, 6))]
    assert len(arrange(row).cells) == 6


def test_a_glint_on_one_swatch_does_not_make_it_writing():
    card = rows_of_paint(4, 4)
    card[5] = replace(card[5], rough=0.9)
    assert len(arrange(card).cells) == 16


def test_a_swatch_alone_in_the_place_of_a_column_is_kept():
    card = [b for b in rows_of_paint(5, 6, step=60.0) if b.centre[0] != 220 or b.centre[1] == 220]
    assert len(arrange(card).cells) == 26


def test_a_swatch_alone_in_its_row_among_rows_two_steps_apart_is_kept():
    """Between full rows lie rows of two, and one place is empty: the step across that place is not an ordinary one."""
    columns = {0: 3, 1: 3, 2: 2, 3: 3, 4: 2, 6: 3, 8: 3, 9: 3}
    card = [paint(100 + 60 * c, 100 + 60 * r) for r, number in columns.items() for c in range(number)]
    alone = paint(160, 100 + 60 * 7)
    assert len(arrange([*card, alone]).cells) == len(card) + 1


def test_a_half_seen_card_is_worth_more_than_marks_strewn_about():
    """Twelve of twenty-four places against twelve marks in lines of their own."""
    rng = np.random.default_rng(3)
    seen = [b for k, b in enumerate(rows_of_paint(4, 6)) if k % 2]
    strewn = [paint(*rng.uniform(50, 700, 2)) for _ in range(12)]
    assert arrange(seen).order > 2 * arrange(strewn).order


def test_gaps_lie_within_a_grid_and_one_step_beyond_its_ends():
    card = rows_of_paint(3, 3)
    del card[4]
    places = missing_cells(arrange(card))
    inner = places.centres[places.beyond == 0]
    np.testing.assert_allclose(inner, [[130, 130]], atol=1)
    below = places.centres[places.beyond == 4]
    np.testing.assert_allclose(sorted(below.tolist()), [[100, 190], [130, 190], [160, 190]], atol=1)
    assert sorted(set(places.beyond.tolist())) == [0, 1, 2, 3, 4]


@pytest.mark.parametrize(("step", "between"), [(90.0, True), (30.0, False)])
def test_one_step_may_skip_a_line_where_a_swatch_fits_between(step, between):
    gaps = missing_cells(arrange([paint(100, 100), paint(100, 100 + step)]))
    assert (np.hypot(*(gaps.centres - [100, 100 + step / 2]).T) < 3).any() == between


def test_a_single_row_says_nothing_about_a_second():
    places = missing_cells(arrange(rows_of_paint(1, 4)))
    assert set(places.beyond.tolist()) == {1, 2}


def colours(number, rng):
    """Return so many colours, light to dark, each its own."""
    return [tuple(int(v) for v in np.clip(rng.normal(180 - 130 * k / number, 25, 3), 5, 250)) for k in range(number)]


def brim_full_card(rng, hues, side=32):
    """Draw a card whose swatches nearly touch each other and reach over its edges, on a table with a grain."""
    grain = cv2.GaussianBlur(rng.normal(0, 40, (400, 500)), (0, 0), 2) * 3
    picture = np.clip(np.array([120, 90, 60]) + grain[..., None], 0, 255).astype(np.uint8)
    picture[100 : 100 + 4 * 38, 120 : 120 + 6 * 38] = PAPER
    for k, hue in enumerate(hues):
        x, y = 121 + 38 * (k % 6), 101 + 38 * (k // 6)
        picture[y - 1 : y + side, x - 3 : x + side] = hue
    return picture


@pytest.fixture
def rng():
    return np.random.default_rng(12)


@pytest.mark.parametrize("side", [32, 33])
def test_swatches_that_reach_the_edges_of_their_card_are_found_without_their_ground(rng, side):
    """Between the broader ones two pixels of the card are left across and four down: beside each lies mostly paint."""
    image = lab_image(brim_full_card(rng, colours(24, rng), side))
    region, marks = max(grounds_between_patches(edge_levels(image), image), key=lambda found: len(found[1]))
    assert len(marks) == 24
    assert arrange(marks).order > 20
    x, y, w, h = region.box
    assert x < 125
    assert y < 105
    assert x + w > 340
    assert y + h > 245


def test_swatches_whose_narrow_gaps_are_blurred_are_found_without_their_ground(rng):
    """A photo that is not quite sharp: between the paints hardly a pixel shows the ground's own colour."""
    image = lab_image(cv2.GaussianBlur(brim_full_card(rng, colours(24, rng)), (0, 0), 2.0))
    found = grounds_between_patches(edge_levels(image), image)
    assert max((len(marks) for _, marks in found), default=0) >= 20


def test_patches_beside_the_card_belong_to_no_region_of_it(rng):
    """A stain in no row and no column: it would lie outside the region."""
    picture = brim_full_card(rng, colours(24, rng))
    cv2.circle(picture, (412, 330), 14, (90, 30, 40), -1)
    cv2.circle(picture, (412, 330), 22, PAPER, 8)
    image = lab_image(picture)
    for region, marks in grounds_between_patches(edge_levels(image), image):
        x, y, w, h = region.box
        for mark in marks:
            assert x <= mark.corner[0]
            assert mark.corner[0] + mark.mask.shape[1] <= x + w
            assert y <= mark.corner[1]
            assert mark.corner[1] + mark.mask.shape[0] <= y + h


def test_tiles_of_one_colour_are_no_card(rng):
    """The same places, all painted alike: a tiled table."""
    image = lab_image(brim_full_card(rng, [(150, 110, 90)] * 24))
    assert grounds_between_patches(edge_levels(image), image) == []


def test_a_checked_cloth_is_no_card(rng):
    """Squares of many colours, corner to corner: no one ground runs between them."""
    picture = np.full((300, 300, 3), 225, np.uint8)
    for r in range(12):
        for c in range(12):
            picture[25 * r : 25 * r + 25, 25 * c : 25 * c + 25] = rng.integers(20, 240, 3)
    assert grounds_between_patches(edge_levels(lab_image(picture)), lab_image(picture)) == []


@st.composite
def strewn(draw):
    """Strew marks of some size anywhere."""
    count = draw(st.integers(0, 14))
    blobs = []
    for _ in range(count):
        side = draw(st.integers(6, 40))
        corner = (draw(st.integers(0, 400)), draw(st.integers(0, 400)))
        blobs.append(Blob.of(np.ones((side, side), bool), corner, lab_of([120.0, 130.0, 140.0]), 20.0))
    return blobs


@given(strewn())
def test_marks_strewn_anywhere_are_put_in_places_or_left(blobs):
    grid = arrange(blobs)
    places = [(c.row, c.column) for c in grid.cells]
    assert len(set(places)) == len(places)
    assert {id(c.blob) for c in grid.cells} <= {id(b) for b in blobs}


def test_a_card_ends_where_the_photo_ends():
    """A swatch at the very end of what the photo shows: the card's rim beyond it is not in the picture."""
    height, width = 90, 150
    mask = np.ones((20, 20), bool)
    corners = [(10, 60), (60, 62), (128, 68)]
    cells = [Cell(1, k + 1, Blob.of(mask, c, lab_of([90.0, 130, 140]), 30.0)) for k, c in enumerate(corners)]
    part = np.ones((40, 120), bool)
    surface = Surface(part, part, np.zeros(part.shape, np.float32), 0.5, (5, 45, 120, 40), np.array([90.0, 0, 0]))
    whole = spanning(surface, Grid(tuple(cells), 0.0, 3.0), (height, width))
    x, y, w, h = whole.box
    assert (x + w, y + h) == (width, height)
    assert whole.card.shape == whole.bare.shape == whole.off.shape == (h, w)
    assert whole.card[68 - y :, 128 - x : 148 - x].all()
