"""Ranking the quiet regions of a table, drawn by hand, with tables that could be cards themselves."""

from dataclasses import replace

import cv2
import numpy as np
import pytest

from swatchread.card.ranking import judge, rank_card_regions, shows_swatches_of, united
from swatchread.ground.ground_regions import Region
from swatchread.plane.finder_settings import settings
from swatchread.plane.lab_image import edge_levels
from tests.drawn_cards import lab_image

HIGH, WIDE = 420, 520
CARD = (200, 160, 200, 60)
HUES = [(60, 40, 30), (120, 60, 40), (190, 120, 60), (60, 90, 150)]


def table():
    """Return a dark table with a grain."""
    grain = cv2.GaussianBlur(np.random.default_rng(4).normal(0, 30, (HIGH, WIDE)), (0, 0), 1.5) * 2
    return np.clip(np.array([90, 75, 60]) + grain[..., None], 0, 255).astype(np.uint8)


def checked(side=24):
    """Return a cloth of pale squares, each second one with a spot of some colour."""
    picture = np.full((HIGH, WIDE, 3), 205, np.uint8)
    rng = np.random.default_rng(7)
    for y in range(0, HIGH, side):
        for x in range((y // side % 2) * side, WIDE, 2 * side):
            cv2.rectangle(picture, (x, y), (x + side - 2, y + side - 2), rng.integers(20, 230, 3).tolist(), -1)
    return picture


def with_row(picture, number, radius=8):
    x, y, w, h = CARD
    picture[y : y + h, x : x + w] = (150, 145, 140)
    for k in range(number):
        cv2.circle(picture, (x + 30 + 45 * k, y + h // 2), radius, HUES[k], -1)
    return picture


def likeliest(picture, pitch):
    """Return the candidates that would be looked at closely, the likeliest first."""
    image = lab_image(picture)
    ranked = rank_card_regions(image, edge_levels(image), pitch)
    return [candidate for candidate in ranked if candidate.score > settings().least_score]


def on_card(candidate):
    x, y, w, h = candidate.region.box
    return x >= CARD[0] - 3 and y >= CARD[1] - 3 and x + w <= CARD[0] + CARD[2] + 3 and y + h <= CARD[1] + CARD[3] + 3


def test_a_swatch_as_broad_as_its_card_does_not_part_it():
    x, y, w, h = CARD
    picture = with_row(table(), 4)
    cv2.rectangle(picture, (x + 88, y), (x + 108, y + h - 1), HUES[3], -1)
    best = likeliest(picture, 30.0)[0]
    assert on_card(best)
    assert best.region.box[2] > 0.95 * w


def test_a_card_is_less_likely_when_a_closer_look_finds_that_its_swatches_repeat_their_colours():
    best = likeliest(with_row(table(), 4), 30.0)[0]
    one = best.grid.cells[0].blob
    alike = replace(
        best.grid, cells=tuple(replace(cell, blob=replace(cell.blob, lab=one.lab)) for cell in best.grid.cells)
    )
    assert best.score_with(best.grid, 30.0) == pytest.approx(best.score)
    assert best.score_with(alike, 30.0) < best.score - 3.0


@pytest.mark.parametrize("parted_by", ["shadow", "table"])
def test_two_pieces_are_one_card_where_a_shadows_edge_parts_them_and_not_where_the_table_does(parted_by):
    x, y, w, h = CARD
    picture = with_row(table(), 4)
    light = np.interp(np.arange(w), [90, 104], [1.0, 0.6])[:, None]
    picture[y : y + h, x : x + w] = np.rint(picture[y : y + h, x : x + w] * light).astype(np.uint8)
    if parted_by == "table":
        picture[y : y + h, x + 88 : x + 106] = table()[y : y + h, x + 88 : x + 106]
    image = lab_image(picture)
    pieces = []
    for left, right in ((x + 2, x + 88), (x + 106, x + w - 2)):
        bare = np.ones((h - 4, right - left), bool)
        for k in range(4):
            cv2.circle(disc := np.zeros(bare.shape, np.uint8), (x + 30 + 45 * k - left, h // 2 - 2), 10, 1, -1)
            bare &= disc == 0
        pieces.append(judge(Region(bare, (left, y + 2, right - left, h - 4)), image, 30.0))
    assert [len(piece.grid.cells) for piece in pieces] == [2, 2]
    both = united(*pieces, image, 30.0)
    assert (both is not None) == (parted_by == "shadow")
    assert both is None or len(both.grid.cells) == 4


def test_the_same_swatches_are_told_whatever_ground_shows_them():
    best = likeliest(with_row(table(), 4), 30.0)[0]
    some = replace(best, ground=np.zeros(3), grid=replace(best.grid, cells=best.grid.cells[:2]))
    assert shows_swatches_of(best, some)
    assert not shows_swatches_of(some, best)


def test_two_cards_in_a_row_are_not_one_card():
    x, y, w, h = CARD
    picture = with_row(table(), 4)
    picture[y : y + h, x + 88 : x + 108] = table()[y : y + h, x + 88 : x + 108]
    assert all(one.region.box[2] < 0.6 * w for one in likeliest(picture, 30.0))


@pytest.mark.parametrize("number", [1, 2, 3, 4])
def test_few_swatches_are_a_card_on_a_clear_rectangle(number):
    found = likeliest(with_row(table(), number), 30.0)
    assert found
    assert on_card(found[0])
    assert len(found[0].grid.cells) == number


def test_specks_on_a_clear_rectangle_are_no_swatches_beside_a_large_chart():
    """Half-widths of a twentieth of its patches."""
    assert not [c for c in likeliest(with_row(table(), 3), 160.0) if on_card(c)]


def test_the_likeliest_card_has_most_swatches_of_its_size():
    """The same card with four swatches scores higher than with one."""
    scores = [likeliest(with_row(table(), number), 30.0)[0].score for number in (1, 4)]
    assert scores[1] > scores[0] + 1.0


def test_a_busy_cloth_does_not_hide_a_card():
    found = likeliest(with_row(checked(), 4), 30.0)
    assert found
    assert on_card(found[0])
    assert len(found[0].grid.cells) == 4


def test_a_busy_cloth_alone_is_no_card():
    assert likeliest(checked(), 45.0) == []
