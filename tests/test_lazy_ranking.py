"""Only those quiet regions are judged that can be the card, or more of its ground. The scenes are drawn by hand."""

import cv2
import numpy as np
import pytest

from swatchread.card.ground_regions import find_regions
from swatchread.card.ranking import LazyRanking
from tests.drawn_cards import lab_image

HIGH, WIDE = 480, 640
WOOD, WHITE, CREAM, SLATE = (110, 80, 60), (225, 226, 224), (230, 218, 190), (70, 76, 84)


def ranking_of(table, card=CREAM, swatches=12):
    """Return the ranking of a plain table with a card, and a tray of another colour with three things in it."""
    picture = np.full((HIGH, WIDE, 3), table, np.uint8)
    picture[120:330, 150:430] = card
    for k in range(swatches):
        hue = tuple(int(v) for v in np.random.default_rng(k).integers(20, 150, 3))
        cv2.circle(picture, (190 + 65 * (k % 4), 155 + 65 * (k // 4)), 18, hue, -1)
    picture[390:440, 430:610] = SLATE
    for k in range(3):
        cv2.circle(picture, (465 + 55 * k, 415), 14, (200, 190, 60), -1)
    image = lab_image(picture)
    return LazyRanking(find_regions(image), image)


def holding(candidates, x, y):
    """Return the candidates whose bare ground lies at a place."""
    return [c for c in candidates if c.region.within((x, y, 1, 1)).any()]


def test_a_table_of_another_colour_is_not_judged_once_the_card_is_known():
    ranking = ranking_of(WOOD)
    some = ranking.promising()
    assert max(c.cells for c in holding(some, 160, 130)) == 12
    assert not holding(some, 40, 40)
    assert not holding(some, 436, 396)


def test_a_table_of_the_cards_own_colour_is_judged_too():
    """It may be more of the card beyond a shadow."""
    some = ranking_of(WHITE, card=(232, 233, 230)).promising()
    assert holding(some, 160, 130)
    assert holding(some, 40, 40)


@pytest.mark.parametrize("swatches", [2, 3])
def test_where_no_card_is_without_doubt_all_is_judged(swatches):
    ranking = ranking_of(WOOD, swatches=swatches)
    assert len(ranking.promising()) == len(ranking.every())


def test_a_larger_card_is_judged_though_a_small_one_is_without_doubt():
    """Twelve swatches on another ground are worth more than four."""
    picture = np.full((HIGH, WIDE, 3), WOOD, np.uint8)
    picture[40:190, 40:190] = SLATE
    picture[220:440, 200:480] = CREAM
    for k in range(4):
        cv2.circle(picture, (80 + 70 * (k % 2), 80 + 70 * (k // 2)), 18, (200, 190, 60), -1)
    for k in range(12):
        cv2.circle(picture, (240 + 65 * (k % 4), 260 + 65 * (k // 4)), 18, (60, 90, 150), -1)
    image = lab_image(picture)
    some = LazyRanking(find_regions(image), image).promising()
    assert max(c.cells for c in some) == 12
