"""The camera model and its fit, on cameras made here with another arithmetic than the reader's."""

import importlib.util
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from swatchread.chart.definition import load_chart
from swatchread.colour.cielab import delta_e_2000, lab_to_xyz, xyz_to_lab
from swatchread.colour.shipped_data import calibration_folder
from swatchread.correction.calibration import calibrate, require_trust
from swatchread.correction.camera_fit import Target, fit_model
from swatchread.correction.camera_model import CameraValues, Shape, cut, expand
from swatchread.correction.light_field import Brightness, first_light, fit_light, light_basis
from swatchread.correction.uncertainty import outside_chart
from swatchread.errors import PoorReadingError
from swatchread.photo.icc_profile import SRGB_TO_XYZ_D50
from tests.scene import easy_spec

CHART = load_chart()


def photographed(xyz, *, curve=0.8, gain=0.9):
    """Return what a camera gives: a matrix near sRGB, then a power curve with a shoulder."""
    matrix = np.array([[0.95, 0.08, -0.03], [0.03, 0.93, 0.04], [-0.02, 0.07, 0.95]])
    linear = np.clip(xyz @ np.linalg.inv(SRGB_TO_XYZ_D50).T @ matrix.T * gain, 1e-4, None) ** curve
    return linear / (1.0 + 0.15 * linear)


def target(linear, light=None, weight=None):
    count = len(linear)
    return Target(
        linear=linear,
        light=np.zeros(count) if light is None else light,
        lab=CHART.lab,
        weight=np.ones(count) if weight is None else weight,
    )


def test_a_smooth_camera_is_undone_for_colours_that_are_not_on_the_chart():
    fitted = fit_model(target(photographed(CHART.xyz)), Shape(3, 5))
    lab = np.random.default_rng(3).uniform([25, -5, 0], [85, 30, 40], (200, 3))
    seen = xyz_to_lab(fitted.model.xyz(photographed(lab_to_xyz(lab))))
    assert np.median(delta_e_2000(seen, lab)) < 0.5
    assert np.percentile(delta_e_2000(seen, lab), 95) < 1.5


def test_the_expansion_is_that_of_the_paper():
    """Finlayson, Mackiewicz & Hurlbert (2015), table I: the terms of the root-polynomials of degree 2 and 3."""
    r, g, b = 0.3, 0.05, 0.7
    second = [r, g, b, (r * g) ** (1 / 2), (g * b) ** (1 / 2), (r * b) ** (1 / 2)]
    third = [x ** (1 / 3) for x in (r * g**2, g * b**2, r * b**2, g * r**2, b * g**2, b * r**2, r * g * b)]
    for degree, terms in ((1, second[:3]), (2, second), (3, second + third)):
        assert sorted(expand(np.array([[r, g, b]]), degree)[0]) == pytest.approx(sorted(terms))


def test_known_light_on_the_patches_is_divided_out():
    light = np.random.default_rng(4).normal(0, 0.25, 24)
    lit = photographed(CHART.xyz * np.exp(light)[:, None])
    assert fit_model(target(lit, light), Shape(3, 5)).de00.mean() < 0.6
    assert fit_model(target(lit), Shape(3, 5)).de00.mean() > 2.0


def test_left_out_residuals_agree_with_real_refits():
    """First-order residuals from the hat matrix, against fits with each patch weightless in turn."""
    noisy = photographed(CHART.xyz) * np.random.default_rng(5).normal(1, 0.03, (24, 3))
    fitted = fit_model(target(noisy), Shape(1, 2))
    real = []
    for k in range(24):
        weight = np.where(np.arange(24) == k, 0.0, 1.0)
        real.append(fit_model(target(noisy, weight=weight), Shape(1, 2)).de00[k])
    assert np.corrcoef(real, fitted.left_out_de00)[0, 1] > 0.9
    assert np.mean(fitted.left_out_de00) == pytest.approx(np.mean(real), rel=0.15)


def test_a_patch_without_weight_does_not_speak():
    spoilt = photographed(CHART.xyz)
    spoilt[18] = 0.02
    weight = np.where(np.arange(24) == 18, 0.0, 1.0)
    fitted = fit_model(target(spoilt, weight=weight), Shape(3, 5))
    assert fitted.de00[weight > 0].mean() < 0.5
    assert fitted.de00[18] > 20


@pytest.mark.parametrize("degree", [1, 3])
def test_root_polynomials_scale_with_exposure(degree):
    """Finlayson, Mackiewicz & Hurlbert (2015): the expansion of k times a colour is k times its expansion."""
    linear = np.random.default_rng(6).uniform(0.01, 1, (50, 3))
    np.testing.assert_allclose(expand(0.37 * linear, degree), 0.37 * expand(linear, degree), rtol=1e-12)


def test_what_a_picture_cut_off_is_guessed_beyond_zero():
    """A cyan whose red is 0 in the file is more cyan than one whose red is just above; greys and raw values stay."""
    model = fit_model(target(photographed(CHART.xyz)), Shape(rendered=True)).model
    cyan = np.array([[0.0, 0.3, 0.4], [0.004, 0.3, 0.4]])
    a_cut, a_kept = xyz_to_lab(model.xyz(cyan))[:, 1]
    assert a_cut < a_kept - 4
    np.testing.assert_allclose(cut(np.full((1, 3), 0.0008)), 0.0, atol=1e-12)
    np.testing.assert_allclose(cut(cyan), [[1, 0, 0], [0, 0, 0]], atol=1e-12)
    raw = fit_model(target(photographed(CHART.xyz)), Shape()).model
    np.testing.assert_allclose(raw.xyz(cyan), raw.xyz(cyan, beyond=(False, False, False)))


@pytest.mark.parametrize("channel", [0, 1, 2])
def test_each_channel_that_a_picture_cut_off_is_put_below_zero(channel):
    """By default all three, each for itself."""
    model = fit_model(target(photographed(CHART.xyz)), Shape(rendered=True)).model
    cut_off = np.where(np.eye(3)[[channel]] > 0, 0.0, [[0.3, 0.35, 0.4]])
    alone = tuple(k == channel for k in range(3))
    others = tuple(k != channel for k in range(3))
    np.testing.assert_allclose(model.xyz(cut_off), model.xyz(cut_off, beyond=alone))
    assert delta_e_2000(*(xyz_to_lab(model.xyz(cut_off, beyond=b)) for b in (alone, others)))[0] > 0.2


def test_the_push_of_saturation_is_undone():
    """Pushed by 15 per cent about the luma of ITU-R BT.709 in stored values, and back."""
    code = photographed(CHART.xyz) ** (1 / 2.2)
    luma = (code @ [0.2126, 0.7152, 0.0722])[:, None]
    pushed = np.maximum(luma + 1.15 * (code - luma), 1e-3) ** 2.2
    plain, undone = (fit_model(target(pushed), Shape(rendered=r)) for r in (False, True))
    assert undone.model.push == pytest.approx(np.log(1.15), abs=0.06)
    assert undone.de00.mean() < 0.8 * plain.de00.mean()


@pytest.mark.parametrize("shape", [Shape(rendered=True), Shape(3, 3), Shape(1, 2, rendered=True), Shape(1, 0)])
def test_the_slopes_of_the_terms_are_those_of_small_steps(shape):
    """Against central differences, cut and pushed channels among them."""
    linear = np.vstack([photographed(CHART.xyz), [[0.0005, 0.3, 0.4], [0.2, 0.001, 0.3], [0.0, 0.5, 0.6]]])
    fitted = fit_model(target(photographed(CHART.xyz)), shape).model
    model = replace(fitted, tone=fitted.tone + 0.03, push=0.2 if shape.rendered else 0.0)
    terms, slopes = model.terms_and_slopes(CameraValues.of(linear))
    np.testing.assert_allclose(terms, model.terms(linear), rtol=1e-9)
    assert slopes.shape == (len(linear), shape.terms, shape.bends)
    for k, step in enumerate(1e-6 * np.eye(len(model.vector))[: shape.bends]):
        up, down = (model.with_vector(model.vector + sign * step).terms(linear) for sign in (1, -1))
        np.testing.assert_allclose(slopes[..., k], (up - down) / 2e-6, rtol=1e-6, atol=1e-7)


@pytest.mark.parametrize("shape", [Shape(rendered=True), Shape(1, 2)])
def test_the_slopes_of_colour_and_of_brightness_are_those_of_small_steps(shape):
    """Of CIELAB under some light, and of the logarithm of luminance, by every kind of parameter."""
    linear, light = photographed(CHART.xyz)[:12], np.linspace(-0.2, 0.2, 12)
    model = fit_model(target(photographed(CHART.xyz)), shape).model

    def seen(vector):
        moved = model.with_vector(vector)
        return xyz_to_lab(moved.xyz(linear) * np.exp(-light)[:, None]), np.log(moved.xyz(linear)[:, 1])

    of_lab, of_brightness = model.lab_slopes(linear, light), model.brightness_slopes(linear)
    for k in (0, shape.bends - 1, *range(shape.bends, shape.bends + 6), len(model.vector) - 1):
        step = 1e-6 * np.eye(len(model.vector))[k]
        (lab_up, bright_up), (lab_down, bright_down) = seen(model.vector + step), seen(model.vector - step)
        np.testing.assert_allclose(of_lab[..., k], (lab_up - lab_down) / 2e-6, rtol=1e-4, atol=1e-4)
        np.testing.assert_allclose(of_brightness[:, k], (bright_up - bright_down) / 2e-6, rtol=1e-4, atol=1e-5)


@pytest.mark.parametrize(("lab", "outside"), [((30, -28, -4), True), ((60, 12, 18), False), ((50, 0, 0), False)])
def test_more_saturated_than_any_patch_lies_outside(lab, outside):
    """A deep viridian green, a flesh, a grey; brightness alone never leads outside."""
    lab = np.array([lab], float)
    assert bool(outside_chart(lab, CHART.lab)[0] > 0) is outside
    brighter = lab_to_xyz(lab) * 1.5
    assert bool(outside_chart(xyz_to_lab(brighter), CHART.lab)[0] > 0) is outside


def test_the_prior_is_what_its_sensors_give(tmp_path):
    """Sixty sensors drawn anew: the same mean, to five of its standard errors."""
    script = Path(__file__).parent.parent / "calibration" / "camera_prior.py"
    spec = importlib.util.spec_from_file_location("calibration_camera_prior", script)
    build = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(build)
    build.write_camera_prior(tmp_path, 60)
    fresh, shipped = (
        np.loadtxt(folder / "camera-prior.csv", delimiter=",", skiprows=1)[:, 1:]
        for folder in (tmp_path, calibration_folder())
    )
    error = np.sqrt(np.diag(shipped[:, 1:]) / 60)
    assert (np.abs(fresh[:, 0] - shipped[:, 0]) < 5 * error).all()


@pytest.mark.parametrize("usable", [0, 1, 9])
def test_with_too_few_patches_the_correction_is_refused_with_their_names(usable, reading):
    sample = reading(easy_spec(3))[0].calibration.sample
    burnt = np.arange(len(sample.clipped)) >= usable
    with pytest.raises(PoorReadingError, match=f"Only {usable} of the chart's patches") as caught:
        require_trust(calibrate(replace(sample, clipped=burnt)), accept_poor=True)
    assert "black" in caught.value.why


def test_highlights_that_no_patch_shows_are_not_pressed_further_together():
    """A chart in the shade: its white is at half of what the photo holds.

    A lift with a shoulder, then an S in code values. Of the light that is 2.5 times the least grey's, the polynomial
    alone had lost a quarter.
    """

    def curve(x):
        code = (1.3 * x / np.sqrt(1.0 + 0.69 * x**2)) ** (1 / 2.2)
        return (code + 0.3 * code * (1.0 - code) * (2.0 * code - 1.0)) ** 2.2

    in_shade = 0.35 * CHART.xyz @ np.linalg.inv(SRGB_TO_XYZ_D50).T / CHART.xyz[:, 1].max()
    model = fit_model(target(curve(np.maximum(in_shade, 1e-4))), Shape(rendered=True)).model
    grey = np.array([0.3, 0.45, 0.6, 0.75])
    seen = model.xyz(np.repeat(curve(grey)[:, None], 3, axis=1))[:, 1]
    np.testing.assert_allclose(np.log(seen / seen[0]), np.log(grey / grey[0]), atol=0.12)


def brightness(field, ground=0.8, noise=0.004):
    rng = np.random.default_rng(8)
    places = np.stack(np.meshgrid(np.linspace(-1, -0.2, 10), np.linspace(-0.6, 0.6, 10)), -1).reshape(-1, 2)
    chart = (CHART.centres - [3, 2]) / 20
    return Brightness(
        chart_place=chart,
        chart_seen=CHART.xyz[:, 1] * np.exp(field(chart) + rng.normal(0, 0.02, 24)),
        chart_true=CHART.xyz[:, 1],
        ground_place=places,
        ground_seen=ground * np.exp(field(places) + rng.normal(0, noise, len(places))),
    )


def test_a_smooth_light_is_recovered_from_the_ground_and_tied_to_the_chart():
    coefficients = np.array([0.2, -0.1, 0.08, 0.05, -0.06])
    seen = brightness(lambda p: light_basis(p, 2) @ coefficients)
    light = fit_light(seen, 3)
    places = np.random.default_rng(9).uniform([-0.9, -0.5], [-0.3, 0.5], (50, 2))
    off = light.smooth(places) + light.near(places) - light_basis(places, 2) @ coefficients
    assert np.abs(off).max() < 0.03
    assert light.unevenness < 0.02


def test_a_shadow_edge_is_followed_by_the_ground_and_confessed():
    def field(places):
        return np.where(places[:, 0] < -0.75, -0.5, 0.0)

    light = fit_light(brightness(field), 3)
    places = np.array([[-0.9, 0.1], [-0.5, 0.1]])
    np.testing.assert_allclose(light.smooth(places) + light.near(places), [-0.5, 0.0], atol=0.06)
    assert light.jump > 0.3
    edge, plain = light.unsure(np.array([[-0.75, 0.0], [-0.35, 0.0]]))
    assert edge > 0.08 > plain


def test_an_edge_does_not_bend_the_light_on_the_chart():
    """Over the chart, 0.5 away from the edge, a polynomial that tried to follow it would swing."""
    light = fit_light(brightness(lambda p: np.where(p[:, 0] < -0.75, -0.5, 0.0)), 3)
    chart = (CHART.centres - [3, 2]) / 20
    assert np.abs(light.smooth(chart) - light.smooth(chart).mean()).max() < 0.04
    assert fit_light(brightness(lambda p: 0.1 * p[:, 0]), 3).edge is None


def test_a_small_shadow_over_a_corner_of_the_ground_is_an_edge_too():
    """A cubic could take half of it up, and would leave the chart's light wrong by what it cannot follow."""
    light = fit_light(brightness(lambda p: np.where(p @ [0.6, 0.8] > 0.18, -0.5, 0.0)), 3)
    assert light.edge is not None
    np.testing.assert_allclose(light.smooth(np.array([[-0.25, 0.5], [-0.8, 0.2]])), [-0.5, 0.0], atol=0.05)


def test_light_begins_with_the_edge_that_the_ground_shows_uncorrected():
    """The photo's own tone curve stands between: its depth is not believed yet, its place is."""
    seen = brightness(lambda p: np.where(p @ [0.6, 0.8] > -0.2, -0.5, 0.0))
    first = first_light(seen.ground_place, seen.ground_seen**1.3)
    assert first.degree == 0
    dark, light = first.smooth(np.array([[-0.3, 0.2], [-0.6, -0.2]]))
    assert light - dark > 0.4
    assert first_light(seen.ground_place, np.full(len(seen.ground_place), 0.5)).edge is None


def test_stains_on_the_ground_do_not_bend_the_light():
    seen = brightness(lambda p: 0.1 * p[:, 0])
    stained = np.array(seen.ground_seen)
    stained[::9] *= 0.5
    light = fit_light(replace(seen, ground_seen=stained), 3)
    places = np.array([[-0.9, 0.2], [-0.4, -0.3]])
    np.testing.assert_allclose(light.smooth(places), 0.1 * places[:, 0], atol=0.03)
