"""Which ground is the card's: what lies beyond its edge is left out, and a shadow is not taken for it."""

import numpy as np
import pytest

from swatchread.correction.calibration import calibrate
from swatchread.correction.ground_selection import distance_outside, of_one_colour, select_card_ground
from swatchread.reading import read_card
from tests.scene import SceneSpec

#: A card of 4 × 3 swatches from -0.5 to 0.5 across and from -0.9 to -0.3 down; a chart would lie round (0, 0).
SWATCHES = np.stack(np.meshgrid(np.linspace(-0.35, 0.35, 4), np.linspace(-0.8, -0.4, 3)), axis=-1).reshape(-1, 2)
PLACES = np.stack(np.meshgrid(np.linspace(-0.62, 0.62, 16), np.linspace(-1.0, -0.2, 12)), axis=-1).reshape(-1, 2)
ON_CARD = (np.abs(PLACES[:, 0]) < 0.5) & (PLACES[:, 1] > -0.92) & (PLACES[:, 1] < -0.28)


def turned(points, degrees):
    angle = np.radians(degrees)
    return points @ np.array([[np.cos(angle), np.sin(angle)], [-np.sin(angle), np.cos(angle)]])


def kept(log_light, turn=0.0):
    grain = np.random.default_rng(5).normal(0.0, 0.004, len(PLACES))
    return select_card_ground(0.7 * np.exp(log_light + grain), turned(PLACES, turn), turned(SWATCHES, turn))


def test_distances_are_told_in_distances_between_swatches():
    """By hand: neighbours are 0.2 apart; (0.55, -0.6) lies 0.2 to the right of the outermost column."""
    np.testing.assert_allclose(distance_outside(SWATCHES, np.array([[0.55, -0.6]])), [1.0], rtol=1e-5)
    assert distance_outside(SWATCHES, np.array([[0.0, -0.6]]))[0] < 0


@pytest.mark.parametrize("turn", [0.0, 28.0, 90.0])
@pytest.mark.parametrize("step", [-0.4, 0.08])
def test_a_table_beyond_the_cards_edge_is_left_out(turn, step):
    fall_off = 0.3 * PLACES[:, 0] - 0.1 * PLACES[:, 1] ** 2
    told = kept(np.where(ON_CARD, 0.0, step) + fall_off, turn)
    assert told[ON_CARD].all()
    assert not told[~ON_CARD].any()


@pytest.mark.parametrize("turn", [0.0, 28.0])
def test_a_table_beyond_one_side_is_left_out(turn):
    """One straight line parts it from the card, but along the card's rows, as the card ends."""
    beyond = PLACES[:, 1] > -0.28
    told = kept(np.where(beyond, 0.3, 0.0), turn)
    np.testing.assert_array_equal(told, ~beyond)


def test_light_that_falls_off_leaves_nothing_out():
    assert kept(0.35 * PLACES[:, 0] + 0.2 * PLACES[:, 1] - 0.1 * (PLACES**2).sum(axis=1)).all()


@pytest.mark.parametrize("offset", [0.0, 0.15])
def test_a_shadow_among_the_swatches_leaves_nothing_out(offset):
    assert kept(-0.3 * (offset < PLACES @ [0.8, 0.6] + 0.36)).all()


def test_a_shadow_across_a_corner_beyond_the_swatches_leaves_nothing_out():
    dark = PLACES @ [np.sqrt(0.5), np.sqrt(0.5)] > 0.12
    assert 5 < dark.sum() < 40
    assert kept(np.where(dark, -0.3, 0.0)).all()


@pytest.mark.parametrize("turn", [0.0, 28.0])
@pytest.mark.parametrize("step", [-0.5, 0.4])
def test_a_table_is_left_out_though_a_shadow_falls_among_the_swatches(turn, step):
    """The shadow goes on over the table, and the ground on the card's shaded part stays.

    Right at the edge, within half the distance of two pieces, brightness tells nothing.
    """
    beyond = PLACES @ [0.35, 0.94] + 0.58
    told = kept(np.where(ON_CARD, 0.0, step) - 0.45 * (beyond > 0), turn)
    assert told[ON_CARD].all()
    assert not told[~ON_CARD & (np.abs(beyond) > 0.04)].any()


def test_rows_are_told_from_few_swatches_too():
    """Eight swatches along two sides of a card: the smallest rectangle round them stands at 45 degrees."""
    corner = SWATCHES[(SWATCHES[:, 0] < -0.3) | (SWATCHES[:, 1] < -0.7)]
    dark = PLACES @ [np.sqrt(0.5), np.sqrt(0.5)] > -0.15
    light = np.where(dark, -0.3, 0.0)
    assert select_card_ground(np.exp(light), PLACES, corner).all()


def test_few_swatches_tell_nothing():
    step = np.where(ON_CARD, 1.0, 1.4)
    assert select_card_ground(step, PLACES, SWATCHES[:2]).all()


def test_ground_of_another_colour_is_left_out():
    xyz = np.tile([0.6, 0.62, 0.5], (len(PLACES), 1)) * np.linspace(0.5, 1.0, len(PLACES))[:, None]
    odd = np.arange(len(PLACES)) % 7 == 3
    xyz[odd] *= [1.0, 1.0, 0.8]
    np.testing.assert_array_equal(of_one_colour(xyz, PLACES), ~odd)


def test_a_shadow_that_the_sky_lights_is_ground_all_the_same():
    """Bluer by a fifth, and nothing but one straight line between (common practice: open shade is blue)."""
    shade = PLACES @ [0.8, 0.6] + 0.36 > 0
    xyz = np.tile([0.6, 0.62, 0.5], (len(PLACES), 1)) * np.where(shade[:, None], [0.55, 0.6, 0.72], 1.0)
    assert of_one_colour(xyz, PLACES).all()


def test_a_table_taken_for_ground_does_not_spoil_the_light(photograph):
    """The same photo with the ground round the card a third brighter, as of a paler table: read nearly as before.

    Without the places of the swatches nothing tells the table, and the readings lose part of that third. Not quite as
    before, as less ground is left to tell the light by: half a unit of L* where the table costs several.
    """
    path, _ = photograph(SceneSpec(seed=21, width=1000, height=750, rows=3, columns=3, chart_fraction=0.36))
    reading = read_card(path)
    paint, sample, before = reading.sample, reading.calibration.sample, reading.calibration
    find = sample.find
    swatches, ground = find.to_lattice(paint.places), find.to_lattice(paint.ground_points)
    beyond = distance_outside(swatches, ground) > 0.7
    assert 10 < beyond.sum() < 0.6 * len(beyond)
    linear = paint.ground_linear * np.where(beyond, 4.0 / 3.0, 1.0)[:, None]
    told = calibrate(sample, linear, paint.ground_points, paint.places).lab(paint.linear, paint.places)
    untold = calibrate(sample, linear, paint.ground_points).lab(paint.linear, paint.places)
    wanted = before.lab(paint.linear, paint.places)
    off = np.abs(untold - wanted)[:, 0].max()
    assert off > 2.0
    assert np.abs(told - wanted).max() < 0.25 * off
