"""What a fit leaves near a colour: shared by patches that look alike, and by nothing far from them."""

import numpy as np
import pytest

from swatchread.chart.definition import load_chart
from swatchread.correction.patch_errors import residual_field

LAB = load_chart().lab
EVERY = np.ones(len(LAB))


def test_it_is_the_mean_of_a_gaussian_process():
    """Against SciPy's interpolation by Gaussians with smoothing: the same equation (R. & W. 2006, 2.25)."""
    from scipy.interpolate import RBFInterpolator

    rng = np.random.default_rng(3)
    left, colours = rng.normal(0, 1, LAB.shape), rng.uniform([20, -30, -30], [90, 40, 50], (40, 3))
    theirs = RBFInterpolator(LAB, left, kernel="gaussian", epsilon=1 / (14 * np.sqrt(2)), smoothing=6, degree=-1)
    np.testing.assert_allclose(residual_field(LAB, left, EVERY).at(colours), theirs(colours), atol=1e-9)


def test_a_patch_that_is_left_out_says_nothing():
    left = np.zeros_like(LAB)
    left[4] = 50.0
    weight = np.where(np.arange(len(LAB)) == 4, 0.0, 1.0)
    assert residual_field(LAB, left, weight).at(LAB) == pytest.approx(0.0, abs=1e-9)


def test_a_patch_of_little_weight_says_little():
    left = np.zeros_like(LAB)
    left[4] = 5.0
    light = np.where(np.arange(len(LAB)) == 4, 0.3, 1.0)
    whole, part = (residual_field(LAB, left, w).at(LAB[4:5])[0, 0] for w in (EVERY, light))
    assert 0.0 < part < 0.3 * whole
