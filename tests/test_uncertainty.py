"""What a reading says of its own error: that of lightness is smaller, and a poor chart counts in full."""

from dataclasses import replace

import numpy as np
import pytest

from swatchread.colour.cielab import de00_metric
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
