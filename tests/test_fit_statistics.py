"""What the camera's fit says of itself, against charts drawn many times over with errors of known size."""

from types import SimpleNamespace

import colour
import numpy as np
import pytest
from scipy.special import softmax

from swatchread.chart.definition import load_chart
from swatchread.colour.cielab import de00_metric, delta_e_2000, xyz_to_lab
from swatchread.colour.shipped_data import calibration_folder
from swatchread.correction import camera_fit
from swatchread.correction.camera_fit import Target, fit_model
from swatchread.correction.camera_model import Shape
from swatchread.correction.lamp import Lamp, cast_of, kind_probability, mixture_covariance, plain_residual, tell_lamp

CHART = load_chart()
ROOT = np.linalg.cholesky(np.linalg.inv(de00_metric(CHART.lab)))
"""Turns unit normal deviates into CIELAB errors of one CIEDE2000 along each axis of the metric."""
SENSOR = np.array([[0.6, 0.3, 0.1], [0.25, 0.7, 0.05], [0.0, 0.1, 0.75]])
PLAIN, BENT = Shape(1, 0), Shape(3, 5, rendered=True)
SD = 0.5


def drawn(shape, draws, weight=None, seed=1):
    """Fit a linear camera to charts whose patches are off by SD along each axis; return targets and fits."""
    rng = np.random.default_rng(seed)
    linear = CHART.xyz @ np.linalg.inv(SENSOR).T
    linear = 0.8 * linear / linear.max()
    weight = np.ones(24) if weight is None else weight
    targets = [
        Target(linear, np.zeros(24), CHART.lab + SD * np.einsum("nij,nj->ni", ROOT, rng.normal(size=(24, 3))), weight)
        for _ in range(draws)
    ]
    return targets, [fit_model(target, shape) for target in targets]


@pytest.mark.parametrize(("shape", "draws"), [(PLAIN, 60), (BENT, 24)])
def test_the_variance_is_that_of_the_patches_errors(shape, draws):
    """The mean over many charts: 72 residuals less what the fit takes, measured to 5 % of itself."""
    _, fits = drawn(shape, draws)
    assert np.mean([fit.variance for fit in fits]) == pytest.approx(SD**2, rel=0.15)


def test_patches_that_are_left_out_leave_fewer_degrees_of_freedom():
    weight = np.where(np.arange(24) % 3 == 0, 0.0, 1.0)
    _, fits = drawn(PLAIN, 60, weight)
    assert np.mean([fit.variance for fit in fits]) == pytest.approx(SD**2, rel=0.2)


def test_a_small_chart_is_never_taken_for_surer_than_a_few_degrees_of_freedom_allow():
    """Five patches, fifteen residuals: a cubic fit could follow nearly all of them."""
    weight = np.where(np.arange(24) % 5 == 0, 1.0, 0.0)
    targets, fits = drawn(BENT, 6, weight)
    for target, fit in zip(targets, fits, strict=True):
        used = (fit.de00[target.weight > 0] ** 2).sum()
        assert used / 15.0 < fit.variance <= used / 8.0 + 1e-12


@pytest.mark.parametrize(("shape", "draws"), [(PLAIN, 60), (BENT, 24)])
def test_the_covariance_is_how_far_the_fits_scatter(shape, draws):
    """Of colours between the patches, over the charts; residuals of SD make its square of the unit covariance."""
    targets, fits = drawn(shape, draws)
    between = (targets[0].linear[:-1] + targets[0].linear[1:]) / 2.0
    seen = np.array([xyz_to_lab(fit.model.xyz(between)) for fit in fits])
    slopes = [fit.model.lab_slopes(between, np.zeros(23)) for fit in fits]
    told = [np.einsum("nij,jk,nik->ni", s, fit.covariance, s) for s, fit in zip(slopes, fits, strict=True)]
    ratio = seen.var(axis=0, ddof=1).mean(axis=0) / (SD**2 * np.mean(told, axis=0).mean(axis=0))
    assert np.all((ratio > 0.55) & (ratio < 1.5)), ratio


def test_a_residual_left_out_is_larger_and_true_for_a_new_chart():
    """A patch left out errs by its own error and the fit's: about as far as the fit is off on errors drawn anew."""
    _, fits = drawn(PLAIN, 40)
    fresh, _ = drawn(PLAIN, 40, seed=2)
    inside = np.mean([(fit.de00**2).mean() for fit in fits])
    left_out = np.mean([(fit.left_out_de00**2).mean() for fit in fits])
    new = np.mean(
        [
            (delta_e_2000(xyz_to_lab(fit.model.xyz(one.linear)), one.lab) ** 2).mean()
            for fit, one in zip(fits, fresh, strict=True)
        ]
    )
    assert left_out > 1.1 * inside
    assert left_out == pytest.approx(new, rel=0.12)


def test_residuals_are_what_was_fitted_less_what_was_aimed_at():
    (target,), (fit,) = drawn(PLAIN, 1)
    np.testing.assert_allclose(fit.residual, xyz_to_lab(fit.model.xyz(target.linear)) - target.lab, atol=1e-9)
    np.testing.assert_allclose(fit.de00, delta_e_2000(target.lab + fit.residual, target.lab), atol=1e-9)


def test_the_departure_is_that_of_the_patches_from_a_plain_matrix():
    """A camera that is a plain matrix, beside charts that are off by SD along each axis: 72 residuals less nine.

    The frame's weights are not quite those of CIEDE2000, which makes it a little larger.
    """
    for weight in (np.ones(24), np.where(np.arange(24) % 3 == 0, 0.0, 1.0)):
        targets, fits = drawn(PLAIN, 60, weight)
        departures = [tell_lamp(t, f, CHART, np.zeros(2)).departure for t, f in zip(targets, fits, strict=True)]
        assert 0.95 * SD < np.sqrt(np.mean(np.square(departures))) < 1.25 * SD
        assert np.all(plain_residual(targets[0], fits[0])[weight == 0] == 0.0)


@pytest.mark.parametrize(
    ("probability", "kind"),
    [
        ((0.81, 0.1, 0.05, 0.04), "daylight"),
        ((0.79, 0.15, 0.03, 0.03), "unknown"),
        ((0.51, 0.49, 0.0, 0.0), "unknown"),
        ((0.49, 0.2, 0.3, 0.01), "fluorescent"),
        ((0.1, 0.5, 0.2, 0.2), "tungsten"),
        ((0.2, 0.1, 0.1, 0.6), "led"),
    ],
)
def test_a_kind_of_light_is_told_only_when_it_is_likely(probability, kind):
    lamp = Lamp(1.0, np.array(probability))
    assert lamp.kind == kind
    assert lamp.daylight == probability[0]


def test_kinds_are_weighed_by_logistic_regression():
    """Against SciPy's softmax, half of the photos in daylight beforehand; the weights stand in the shipped table."""
    table = np.loadtxt(calibration_folder() / "light-kinds.csv", delimiter=",", skiprows=1, usecols=range(1, 5))
    numbers = np.random.default_rng(3).normal(0, 0.5, len(table) - 1)
    score = np.append(1.0, numbers) @ table + np.log([3.0, 1.0, 1.0, 1.0])
    np.testing.assert_allclose(kind_probability(numbers), softmax(score), rtol=1e-9)


def test_the_cast_is_the_colour_of_the_lightest_grey_before_correction():
    """Of a white that the photo holds too warm; CIELAB by colour-science; a burnt-out white leaves it to the next."""
    linear = 0.5 * CHART.xyz
    linear[18] *= [1.0, 1.0, 0.7]
    linear[19] *= [1.2, 1.0, 1.0]

    def cast(clipped=()):
        encoding = SimpleNamespace(to_xyz=np.eye(3))
        find = SimpleNamespace(chart=CHART, photo=SimpleNamespace(encoding=encoding))
        return cast_of(SimpleNamespace(find=find, linear=linear, clipped=np.isin(np.arange(24), clipped)))

    for patch, clipped in ((18, ()), (19, (18,))):
        xyz = linear[patch] / linear[patch, 1] * CHART.xyz[patch, 1]
        white = colour.CCS_ILLUMINANTS["CIE 1931 2 Degree Standard Observer"]["D50"]
        np.testing.assert_allclose(cast(clipped), colour.XYZ_to_Lab(xyz, white)[1:], atol=0.05)
    np.testing.assert_allclose(cast(range(24)), 0.0)


def test_errors_of_mixtures_are_those_of_the_table_near_a_colour():
    """Between the table's colours no larger and no smaller than theirs; far beyond them as at the nearest."""
    table = np.loadtxt(calibration_folder() / "mixture-errors.csv", delimiter=",", skiprows=1)
    lab = np.random.default_rng(4).uniform([20, -40, -40], [90, 40, 60], (50, 3))
    covariance = mixture_covariance(lab)
    np.testing.assert_allclose(covariance, covariance.transpose(0, 2, 1))
    assert np.linalg.eigvalsh(covariance).min() > 0.0
    for (i, j), column in zip(((0, 0), (1, 1), (2, 2)), (3, 6, 8), strict=True):
        assert np.all(covariance[:, i, j] >= table[:, column].min() - 1e-9)
        assert np.all(covariance[:, i, j] <= table[:, column].max() + 1e-9)
    apart = np.linalg.norm(table[:, None, :3] - table[None, :, :3], axis=-1)
    weight = np.exp(-(apart[3] ** 2) / (2.0 * 18.0**2))
    assert mixture_covariance(table[[3], :3])[0, 1, 1] == pytest.approx(np.average(table[:, 6], weights=weight))


@pytest.mark.parametrize(("power", "least", "most"), [(1.0, 3, 3), (0.45, 4, 6)])
def test_the_frame_is_laid_until_the_tone_curve_moves_it_no_more(monkeypatch, power, least, most):
    """Twice in any case, and once more to see that it stays; a curve far from none takes more turns."""
    laid = []

    def counted(model, target):
        laid.append(original(model, target))
        return laid[-1]

    original = camera_fit._frame
    monkeypatch.setattr(camera_fit, "_frame", counted)
    linear = (0.8 * CHART.xyz / CHART.xyz.max()) ** power
    fit_model(Target(linear, np.zeros(24), CHART.lab, np.ones(24)), Shape(3, 5, rendered=True))
    assert least <= len(laid) <= most
