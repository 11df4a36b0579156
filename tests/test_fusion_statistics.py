"""The weights, outliers and uncertainties of fused readings, on tables of readings whose errors are known."""

from types import SimpleNamespace

import numpy as np
import pytest

from swatchread.colour.cielab import delta_e_2000
from swatchread.comparison.fusion_outliers import _as_photo, drop_outliers
from swatchread.comparison.fusion_weights import differing, mean_of, weighted_mean, weights

TRUE = np.stack([np.linspace(25, 85, 30), np.linspace(5, 20, 30), np.linspace(22, 8, 30)], axis=-1)
STATED = np.array([0.4, 0.8, 0.9])
LIGHTS = np.array([0.34, 0.38, 0.31])
"""Variance between photos in different light over the variance stated, as `fusion_weights` says."""


def readings(photos, off=0.0, sd=0.0, seed=1, swatches=30):
    """Return a table of readings: the truth, something off by photo and swatch, and errors of their own."""
    rng = np.random.default_rng(seed)
    true = np.resize(TRUE, (swatches, 3))
    lab = true + np.broadcast_to(off, (photos, swatches, 3)) + sd * rng.normal(size=(photos, swatches, 3))
    return SimpleNamespace(
        lab=lab,
        variance=np.broadcast_to(STATED**2, lab.shape).copy(),
        own=np.full(lab.shape, 0.01),
        de00=np.full(lab.shape[:2], 0.7),
    )


def one_off(photos, swatch, times, photo=1):
    """Let one reading lie so many standard uncertainties of a difference from the others, in L*, a* and b* alike."""
    gathered = readings(photos)
    others = photos - 1
    # The median of more than two normal values is less certain than their mean by pi / 2 (any handbook).
    spread = 1.0 + (np.pi / 2.0 if others > 2 else 1.0) / others
    which = (photo, slice(None)) if swatch is None else (photo, swatch)
    gathered.lab[which] += times * np.sqrt(spread * LIGHTS * STATED**2)
    return gathered


@pytest.mark.parametrize("photos", [3, 4, 6])
def test_a_reading_four_times_off_is_left_out(photos):
    assert drop_outliers(one_off(photos, 5, 3.9)).readings == ()
    found = drop_outliers(one_off(photos, 5, 4.1))
    (out,) = found.readings
    assert (out.photo, out.swatch) == (1, 5)
    assert out.times == pytest.approx(4.1, rel=1e-6)
    assert out.de00 == pytest.approx(delta_e_2000(one_off(photos, 5, 4.1).lab[1, 5], TRUE[5]))
    assert not found.used[1, 5]
    assert found.used.sum() == photos * 30 - 1
    assert found.photos == ()


def test_of_two_readings_nobody_can_tell_which_is_right():
    found = drop_outliers(one_off(2, 5, 4.1))
    assert [one.swatch for one in found.disputed] == [5]
    assert found.readings == ()
    assert found.used.all()
    assert drop_outliers(one_off(2, 5, 3.9)).disputed == ()


@pytest.mark.parametrize("photos", [3, 5])
def test_a_photo_three_times_off_is_left_out(photos):
    """In the median swatch, whose square is 0.789 of the mean one (chi-squared of three, any table)."""
    assert drop_outliers(one_off(photos, None, 2.9 * np.sqrt(0.789))).photos == ()
    (out,) = drop_outliers(one_off(photos, None, 3.1 * np.sqrt(0.789))).photos
    assert (out.photo, out.swatch) == (1, None)
    assert out.times == pytest.approx(3.1, rel=1e-6)
    assert drop_outliers(one_off(2, None, 9.0)).photos == ()


def test_a_usual_photo_lies_as_far_off_as_is_allowed_for():
    gathered = readings(5, sd=np.sqrt(LIGHTS) * STATED, swatches=2000)
    for photo in range(5):
        assert _as_photo(gathered.lab, differing(gathered), photo).times == pytest.approx(1.0, abs=0.08)


def test_a_photos_common_shift_does_not_make_its_swatches_odd():
    gathered = readings(4)
    gathered.lab[2] += 2.0 * np.sqrt(LIGHTS) * STATED
    gathered.lab[2, 7] += 2.5 * np.sqrt(LIGHTS) * STATED
    found = drop_outliers(gathered)
    assert found.photos == ()
    assert found.readings == ()


@pytest.mark.parametrize(
    ("photos", "shown", "is_mark"), [(3, 1, False), (4, 1, True), (4, 2, False), (9, 2, True), (9, 3, False)]
)
def test_what_few_of_many_photos_show_is_a_mark(photos, shown, is_mark):
    gathered = readings(photos)
    gathered.lab[shown:, 11] = np.nan
    found = drop_outliers(gathered)
    assert bool(found.marks) is is_mark
    assert len(found.marks) == (shown if is_mark else 0)
    assert found.used[:, 11].any() is np.bool_(not is_mark)


def test_surer_readings_weigh_more_and_stray_ones_less():
    """By one over the standard uncertainty, and beyond it by one over the distance (Huber 1964)."""
    gathered = readings(4)
    gathered.de00[0] = 0.35
    weight = weights(gathered, np.ones((4, 30), bool))
    np.testing.assert_allclose(weight, 1.0 / gathered.de00)
    gathered.lab[2, 5] += 6.0 * np.sqrt(LIGHTS) * STATED
    stray = weights(gathered, np.ones((4, 30), bool))
    mean = mean_of(gathered.lab, stray)
    off = np.sqrt((((gathered.lab[2, 5] - mean[5]) ** 2) / (LIGHTS * STATED**2)).mean())
    assert stray[2, 5] == pytest.approx(1.0 / 0.7 / off, rel=0.02)
    unused = np.ones((4, 30), bool)
    unused[3, 0] = False
    assert weights(gathered, unused)[3, 0] == 0.0
    np.testing.assert_allclose(
        mean_of(gathered.lab, weight)[9], np.average(gathered.lab[:, 9], axis=0, weights=weight[:, 9])
    )


@pytest.mark.parametrize("photos", [3, 8])
def test_photos_in_other_light_state_what_they_share_and_what_averages_out(photos):
    """Drawn as photos in different light were found to err: a fifth or a quarter of the variance is shared."""
    ratios = []
    for seed in range(60):
        shared = np.sqrt([0.2, 0.26, 0.26]) * STATED * np.random.default_rng(seed + 900).normal(size=(1, 30, 3))
        gathered = readings(photos, shared, np.sqrt(LIGHTS) * STATED, seed)
        fused = weighted_mean(gathered, np.ones((photos, 30), bool))
        ratios.append((fused.lab - TRUE) / fused.sigma)
    assert np.sqrt(np.mean(np.square(ratios))) == pytest.approx(1.0, abs=0.15)


def test_photos_that_repeat_one_error_are_no_surer_than_one():
    gathered = readings(5)
    fused = weighted_mean(gathered, np.ones((5, 30), bool))
    assert np.all(fused.sigma > 0.75 * STATED)
    differs = weighted_mean(readings(5, sd=np.sqrt(LIGHTS) * STATED), np.ones((5, 30), bool))
    assert np.median(differs.sigma / fused.sigma) < 0.75
    assert np.all(fused.sigma <= STATED + 1e-12)


def test_a_swatch_that_one_photo_shows_keeps_what_it_states():
    gathered = readings(4, sd=np.sqrt(LIGHTS) * STATED)
    used = np.ones((4, 30), bool)
    used[1:, 3] = False
    fused = weighted_mean(gathered, used)
    np.testing.assert_allclose(fused.lab[3], gathered.lab[0, 3])
    assert np.all(fused.sigma[3] >= STATED - 1e-12)
    assert fused.de00[3] >= 0.7 - 1e-12


def test_readings_that_contradict_each_other_are_less_sure():
    usual = weighted_mean(readings(2, sd=np.sqrt(LIGHTS) * STATED, seed=3), np.ones((2, 30), bool))
    odd = readings(2, sd=np.sqrt(LIGHTS) * STATED, seed=3)
    odd.lab[1, 4] += 12.0 * np.sqrt(LIGHTS) * STATED
    assert np.all(weighted_mean(odd, np.ones((2, 30), bool)).sigma[4] > 2.0 * usual.sigma[4])
