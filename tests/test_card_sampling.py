"""Sampling the ground of a card, drawn by hand: four swatches on a card that lies on a cloth of pale squares."""

from types import SimpleNamespace

import numpy as np
import pytest

from swatchread.sampling.card_sampling import OtherLight, sample_ground

HIGH, WIDE = 400, 300
CARD = slice(40, 360), slice(60, 240)
CLOTH = 90


def card(scraps, width=20):
    """Return a card find whose bare ground holds squares of the cloth, each of so many pixels, to the card's left."""
    bare = np.zeros((HIGH, WIDE), dtype=bool)
    bare[CARD] = True
    pixels = np.full((HIGH, WIDE, 3), CLOTH, np.uint8)
    pixels[CARD] = 200
    cells = []
    for y in (80, 260):
        for x in (80, 180):
            bare[y : y + 40, x : x + 40] = False
            blob = SimpleNamespace(corner=(x, y), size=np.array([40.0, 40.0]))
            cells.append(SimpleNamespace(blob=blob))
    for k in range(scraps):
        bare[60 + 60 * k : 60 + 60 * k + width, 10 : 10 + width] = True
    encoding = SimpleNamespace(linear=lambda values: values / 255.0)
    photo = SimpleNamespace(pixels=pixels, width=WIDE, height=HIGH, encoding=encoding)
    plane = SimpleNamespace(
        sample=SimpleNamespace(find=SimpleNamespace(photo=photo)), photo_points=lambda points: np.asarray(points, float)
    )
    surface = SimpleNamespace(bare=bare, card=bare, box=(0, 0, WIDE, HIGH))
    return SimpleNamespace(surface=surface, plane=plane, grid=SimpleNamespace(cells=cells))


NOWHERE = OtherLight(np.zeros((HIGH, WIDE), dtype=bool))


def test_pale_squares_of_a_cloth_are_not_the_cards_ground():
    linear, places = sample_ground(card(scraps=4), NOWHERE)
    assert len(linear) > 60
    assert linear == pytest.approx(200 / 255)
    assert places[:, 0].min() > 60


def test_a_large_piece_that_a_shadow_cut_off_stays():
    linear, _ = sample_ground(card(scraps=1, width=46), NOWHERE)
    assert linear.min() == pytest.approx(CLOTH / 255)


def test_small_pieces_between_the_swatches_stay():
    one = card(scraps=0)
    one.surface.bare[125:255, 85:215] = False
    one.surface.bare[180:196, 140:156] = True
    _, places = sample_ground(one, NOWHERE)
    assert (np.hypot(*(places - [147.5, 187.5]).T) < 5).any()


def test_where_there_are_no_swatches_all_ground_stays():
    """A table beside a strip of chips tells the light too."""
    table = card(scraps=4)
    table.grid.cells.clear()
    linear, _ = sample_ground(table, NOWHERE)
    assert linear.min() == pytest.approx(CLOTH / 255)
