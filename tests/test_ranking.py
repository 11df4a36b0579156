"""Ranking the quiet regions of a table, drawn by hand, with tables that could be cards themselves."""

import cv2
import numpy as np
import pytest

from swatchread.card.lab_image import edge_levels
from swatchread.card.ranking import rank_card_regions
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
    image = lab_image(picture)
    return [candidate for candidate, _ in rank_card_regions(image, edge_levels(image), pitch)]


def on_card(candidate):
    x, y, w, h = candidate.region.box
    return x >= CARD[0] - 3 and y >= CARD[1] - 3 and x + w <= CARD[0] + CARD[2] + 3 and y + h <= CARD[1] + CARD[3] + 3


@pytest.mark.parametrize(("number", "pitch", "credible"), [(4, 60.0, True), (4, 95.0, False), (3, 60.0, False)])
def test_four_small_swatches_in_a_row_are_a_card_where_three_are_not(number, pitch, credible):
    """Against a large chart: half-widths of less than a fifth, and of less than a tenth, of its patches."""
    found = [c for c in likeliest(with_row(table(), number), pitch) if on_card(c)]
    assert bool(found) == credible


@pytest.mark.parametrize("shape", ["rectangle", "blot"])
def test_a_few_broad_swatches_in_no_rows_are_a_card_when_they_lie_on_a_rectangle(shape):
    """The others are too pale to be seen at first; a blot or a palette has no corners."""
    picture = table()
    if shape == "rectangle":
        picture[100:358, 170:368] = (205, 203, 196)
    else:
        cv2.ellipse(picture, (265, 225), (115, 145), 0, 0, 360, (205, 203, 196), -1)
    for place, hue in zip(((201, 176), (328, 223), (294, 164), (282, 287)), HUES, strict=True):
        cv2.ellipse(picture, place, (16, 15), 20, 0, 360, hue, -1)
    on_it = [c for c in likeliest(picture, 34.0) if c.region.box[0] > 100]
    assert bool(on_it) == (shape == "rectangle")


#: A few swatches strewn over a wide card, no two rows or columns clear.
STREWN = [(201, 176), (328, 223), (294, 164), (222, 287), (270, 240), (330, 310)]


def strewn(*, letters, slant):
    """Return a table with a card of strewn swatches; letters are pieces of paper that ink shuts in."""
    picture = table()
    left, top, right, bottom = 165, 120, 368, 348
    corners = np.array([(left, top), (right - slant, top), (right, bottom), (left + slant, bottom)])
    cv2.fillPoly(picture, [corners.astype(np.int32)], (205, 203, 196))
    for place, hue in zip(STREWN, [*HUES, (80, 40, 90), (150, 90, 60)], strict=True):
        cv2.circle(picture, place, 16, hue, -1)
    for x, y in ((215, 220), (238, 222), (300, 272)) if letters else ():
        cv2.circle(picture, (x, y), 4, (70, 70, 80), -1)
    return picture


def test_letters_among_strewn_swatches_do_not_hide_the_card():
    assert [c for c in likeliest(strewn(letters=True, slant=0), 34.0) if c.region.box[0] > 100]


def test_many_swatches_of_one_size_are_a_card_on_a_rectangle_that_is_not_quite_one():
    """Seen at a slant, with bent corners: with four swatches it would have to be squarer."""
    assert [c for c in likeliest(strewn(letters=False, slant=13), 34.0) if c.region.box[0] > 100]


def test_a_busy_cloth_does_not_hide_a_card():
    found = likeliest(with_row(checked(), 4), 30.0)
    assert found
    assert on_card(found[0])
    assert found[0].cells == 4


def test_a_busy_cloth_alone_is_no_card():
    assert likeliest(checked(), 45.0) == []


def test_the_whole_card_comes_before_the_part_that_a_shadow_leaves():
    picture = table()
    picture[100:300, 100:420] = (235, 232, 226)
    for x, y, hue in ((160, 150, HUES[0]), (160, 250, HUES[2]), (340, 150, HUES[1])):
        cv2.circle(picture, (x, y), 30, hue, -1)
    shade = np.ones((HIGH, WIDE))
    shade[:, 250:] = 0.78
    picture = np.rint(picture * cv2.GaussianBlur(shade, (0, 0), 2.0)[..., None]).astype(np.uint8)
    assert likeliest(picture, 40.0)[0].cells == 3
