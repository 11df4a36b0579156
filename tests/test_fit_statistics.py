"""What the camera's fit says of itself, against charts drawn many times over with errors of known size."""

import numpy as np
import pytest

from swatchread.chart.definition import load_chart
from swatchread.colour.cielab import de00_metric, delta_e_2000, xyz_to_lab
from swatchread.correction.camera_fit import Target, fit_model
from swatchread.correction.camera_model import Shape

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
