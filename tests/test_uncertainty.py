"""What a reading says of its own error: that of lightness is smaller, and a poor chart counts in full."""

from dataclasses import replace

import numpy as np
import pytest

from swatchread.colour.cielab import de00_metric, delta_e_2000
from swatchread.correction.uncertainty import counted_variance, estimate_uncertainty
from swatchread.note.card_warnings import card_warnings
from swatchread.reading import read_card
from tests.scene import SceneSpec, save_dng

SPEC = SceneSpec(seed=21, width=1000, height=750, rows=3, columns=3, chart_fraction=0.36)


@pytest.fixture(scope="module")
def reading(photograph):
    return read_card(photograph(SPEC)[0])


def stated(reading, variance=None, departure=None):
    """Return the uncertainty of the card's swatches, as if the chart had left another variance or departure."""
    calibration, paint = reading.calibration, reading.sample
    if variance is not None:
        calibration = replace(calibration, fitted=replace(calibration.fitted, variance=variance))
    if departure is not None:
        calibration = replace(calibration, lamp=replace(calibration.lamp, departure=departure))
    return estimate_uncertainty(calibration, paint.linear, paint.error, paint.places)


def test_a_chart_that_fits_as_well_as_any_says_little_and_one_that_does_not_counts_in_full():
    """Variances of 0.3 and 0.6 are usual in simulated photos; those of real photographs were 2 to 16."""
    assert counted_variance(0.6) < 1.7 * counted_variance(0.3)
    for variance in (8.0, 16.0):
        assert 0.9 * variance < counted_variance(variance) < variance
    assert (np.diff([counted_variance(v) for v in np.linspace(0.0, 20.0, 50)]) > 0).all()


def test_lightness_is_surer_than_colour(reading):
    """In units of CIEDE2000, where the eye's own ellipsoid would make all directions alike.

    Simulated errors of 700 swatches were 0.27 along lightness, 0.5 and 0.3 along the ellipsoid's other axes, on hard
    photos, whose charts leave a variance of about 1.5 and a departure of 1.5.
    """
    told = stated(reading, 1.5, 1.5)
    inner = told.outside < -0.3
    assert inner.sum() >= 3
    metric = de00_metric(told.lab)[inner]
    lightness = np.sqrt(metric[:, 0, 0] * told.covariance[inner, 0, 0])
    colour = np.sqrt(np.einsum("nij,nji->n", metric[:, 1:, 1:], told.covariance[inner, 1:, 1:]) / 2.0)
    assert np.median(lightness / colour) < 0.8


def test_a_chart_that_fits_badly_makes_all_readings_less_sure(reading):
    # No model fits a chart better than a plain matrix does by more than the model's own freedom.
    fine, poor = stated(reading, 0.3, 0.7), stated(reading, 9.0, 3.0)
    assert (poor.de00 > 2.0 * fine.de00).all()
    assert (np.einsum("nii->ni", poor.covariance) > np.einsum("nii->ni", fine.covariance)).all()


def test_a_burnt_out_channel_leaves_the_colour_unsure(reading):
    """By ten per cent of its light, drawn many times over; a channel a little below full scale counts as recorded."""
    calibration, paint = reading.calibration, reading.sample
    full = calibration.find.photo.encoding.table[:, -1]
    linear = paint.linear.copy()
    linear[1, 0] = full[0]
    linear[2, 0] = 0.97 * full[0]
    told = estimate_uncertainty(calibration, linear, paint.error, paint.places)
    assert np.all(told.burnt_de00[[0, 2]] == 0.0)
    rng = np.random.default_rng(3)
    light = np.tile(linear[1], (4000, 1))
    light[:, 0] *= 1.0 + rng.normal(0.0, 0.02, len(light))  # a fifth of it, because colours bend
    drawn = calibration.lab(light, np.tile(paint.places[1], (len(light), 1)))
    metric = de00_metric(told.lab)[1]
    assert told.burnt_de00[1] == pytest.approx(5.0 * np.sqrt(np.trace(metric @ np.cov(drawn.T))), rel=0.1)
    assert told.de00[1] > told.burnt_de00[1] > 2.0


def test_what_the_photo_cut_off_is_said_channel_by_channel(reading):
    """A yellow without blue: b* is what nobody knows. The same colour with its blue is known as well as others."""
    calibration = reading.calibration
    yellow = np.array([[0.7, 0.55, 0.0], [0.7, 0.55, 0.03]])
    place = np.tile(calibration.sample.points[:1], (2, 1))
    told = estimate_uncertainty(calibration, yellow, np.zeros((2, 3)), place)
    sigma = np.sqrt(np.einsum("nii->ni", told.covariance))
    assert sigma[0, 2] > 1.4 * sigma[1, 2]
    assert sigma[0, 0] < 1.3 * sigma[1, 0]


def test_a_grainy_photo_makes_readings_less_sure_in_proportion(reading):
    """Variances add: what ten times the noise adds is a hundred times what the noise itself does."""

    def variance(times):
        calibration, paint = reading.calibration, reading.sample
        sample = replace(calibration.sample, noise=calibration.sample.noise * times)
        told = estimate_uncertainty(replace(calibration, sample=sample), paint.linear, paint.error, paint.places)
        return np.einsum("nii->ni", told.covariance)

    none, once, tenfold = variance(0.0), variance(1.0), variance(10.0)
    assert (once > none).all()
    np.testing.assert_allclose(tenfold - none, 100.0 * (once - none), rtol=1e-6)


def test_grain_is_told_by_patches_of_about_that_colour(reading):
    """Noise on the chart's dark patches alone says something of dark paint, and hardly anything of light paint."""
    calibration, sample = reading.calibration, reading.calibration.sample
    lab = calibration.find.chart.lab
    noise = np.where(lab[:, :1] < 45.0, 0.02, 0.0) * np.ones(3)
    black, white = (int(np.argsort(lab[:, 0])[k]) for k in (0, -1))
    linear, place = sample.linear[[black, white]], sample.points[[black, white]]
    plain, grainy = (
        estimate_uncertainty(
            replace(calibration, sample=replace(sample, noise=n)), linear, np.zeros((2, 3)), place
        ).covariance
        for n in (0.0 * noise, noise)
    )
    added = np.einsum("nii->ni", grainy - plain).sum(axis=1)
    assert added[0] > 20.0 * added[1]


def test_a_raw_files_grain_is_told_by_the_paint_alone(photograph, tmp_path):
    """Nothing bends its noise before it is averaged, so that it lies in the mean's own error and nowhere else."""
    path = save_dng(photograph(replace(SPEC, iso=400.0))[1], tmp_path / "grainy.dng")
    raw = read_card(path)
    quiet = replace(raw.calibration.sample, noise=0.0 * raw.calibration.sample.noise)
    paint = raw.sample
    told, without = (
        estimate_uncertainty(replace(raw.calibration, sample=sample), paint.linear, paint.error, paint.places)
        for sample in (raw.calibration.sample, quiet)
    )
    np.testing.assert_allclose(told.covariance, without.covariance, rtol=1e-9)
    assert (told.own_de00 > 0.0).all()


def test_paint_lighter_than_white_is_warned_of(reading):
    """ISO/CIE 11664-4: L* of 100 is the white itself, so paint above it lies in another light than the chart."""
    told = stated(reading)
    assert "too_light" not in {w.code for w in reading.note.warnings}
    lab = told.lab.copy()
    lab[[0, 4], 0] = 102.7, 104.2
    found = card_warnings(reading.sample, reading.calibration, replace(told, lab=lab))
    (warning,) = [w for w in found if w.code == "too_light"]
    places = [f"r{s.cell.row}c{s.cell.column}" for s in reading.sample.swatches]
    assert f"{places[0]} L* 103, {places[4]} L* 104" in warning.message


def errors_of(reading, moved):
    """Return the covariance in CIELAB, shape (n, 3, 3), of the swatches read with something off by a unit deviate."""
    up, down = (moved(reading.calibration, reading.sample, z) for z in (0.1, -0.1))
    off = (up - down) / 0.2
    return off[:, :, None] * off[:, None, :]


def told(reading, calibration=None, error=None):
    paint = reading.sample
    error = paint.error if error is None else error
    return estimate_uncertainty(calibration or reading.calibration, paint.linear, error, paint.places)


def test_uneven_paint_counts_as_it_moves_the_colour(reading):
    """Lighter and darker paint, alike in the three channels; 6 % more, as the constants were found."""
    paint = reading.sample
    error = 0.01 * paint.linear

    def moved(calibration, paint, z):
        return calibration.lab(paint.linear + z * error, paint.places)

    stated = told(reading, error=error).covariance - told(reading, error=0.0 * error).covariance
    np.testing.assert_allclose(stated, 1.06 * errors_of(reading, moved), rtol=0.05, atol=2e-3)
    own = told(reading, error=error).own_de00
    twice, none = (told(reading, error=times * error).own_de00 for times in (2.0, 0.0))
    np.testing.assert_allclose(twice**2 - none**2, 4.0 * (own**2 - none**2), rtol=1e-6)
    assert np.all(none > 0.0)  # rounding


def test_doubt_of_the_light_counts_as_more_or_less_light_would(reading):
    doubt = 0.05
    card_light = reading.calibration.card_light
    wide = replace(reading.calibration, card_light=replace(card_light, doubt=float(np.hypot(card_light.doubt, doubt))))

    def moved(calibration, paint, z):
        step = replace(calibration.card_light, step=calibration.card_light.step + doubt * z)
        return replace(calibration, card_light=step).lab(paint.linear, paint.places)

    stated = told(reading, wide).covariance - told(reading).covariance
    np.testing.assert_allclose(stated, errors_of(reading, moved), rtol=0.1, atol=0.01)


def test_doubt_of_the_light_grows_with_the_way_from_the_chart(reading):
    calibration = replace(
        reading.calibration, card_light=replace(reading.calibration.card_light, doubt=0.1, doubt_per_pitch=0.05)
    )
    find = calibration.find
    at = calibration.card_light_variance(calibration.sample.points[:3])
    np.testing.assert_allclose(at, 0.1**2, rtol=0.02)
    far = calibration.card_light_variance(reading.sample.places)
    apart = find.to_lattice(reading.sample.places)[:, None] - find.chart.centres[None]
    np.testing.assert_allclose(far - 0.1**2, 0.05**2 * np.linalg.norm(apart, axis=-1).min(axis=1), rtol=1e-6)


def test_paint_is_seen_the_less_as_by_the_eye_the_farther_light_and_camera_depart(reading):
    """More than in proportion, by lamps more than by day, and between the two as likely as each is."""
    lamp = reading.calibration.lamp

    def mixtures(departure, daylight):
        probability = np.array([daylight, 1.0 - daylight, 0.0, 0.0])
        there = replace(lamp, departure=departure, probability=probability)
        return told(reading, replace(reading.calibration, lamp=there)).mixture_de00 ** 2

    by_day, by_lamp = mixtures(1.0, 1.0), mixtures(1.0, 0.0)
    assert np.all(mixtures(2.0, 1.0) > 3.0 * by_day)
    assert np.all(by_lamp > 1.2 * by_day)
    np.testing.assert_allclose(mixtures(1.0, 0.25), 0.25 * by_day + 0.75 * by_lamp, rtol=1e-9)
    there = told(reading)
    assert np.all(there.mixture_de00 < there.de00)


def test_the_size_of_an_uncertainty_is_its_covariance_in_the_metric(reading):
    """Drawn from the covariance, the root mean square CIEDE2000 is what is stated (small errors, to first order)."""
    there, rng = told(reading), np.random.default_rng(5)
    for k in range(3):
        drawn = rng.multivariate_normal(np.zeros(3), there.covariance[k] / 100.0, 20_000)
        off = delta_e_2000(there.lab[k] + drawn, np.broadcast_to(there.lab[k], drawn.shape))
        assert 10.0 * np.sqrt((off**2).mean()) == pytest.approx(there.de00[k], rel=0.05)
        assert np.all(np.linalg.eigvalsh(there.covariance[k]) > 0.0)
