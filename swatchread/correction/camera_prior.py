"""What is known of a camera before its chart is seen: root-polynomial coefficients of possible sensors.

`calibration/camera_prior.py` draws random sensors, computes how they see published reflectances in published lights,
and fits for each the step from working values to XYZ. The mean and covariance of the coefficients are the prior. So a
colour far from the chart's is extrapolated as sensors usually behave, and not by two dozen patches alone.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np

from swatchread.colour.cielab import Floats
from swatchread.colour.shipped_data import data_file

WORKING_TO_XYZ: Floats = np.array(
    [[0.673459, 0.165661, 0.125100], [0.279033, 0.675338, 0.045629], [-0.001931, 0.029978, 0.797163]]
)
"""Linear RGB of ITU-R BT.2020 to XYZ, adapted to D50 by linear Bradford: wide enough to keep paints positive."""

_FREE = 0.05
"""Relative freedom of the linear part beyond what the sensors show: it is fitted to a noisy chart."""


@dataclass(frozen=True, eq=False)
class Prior:
    """Prior of a camera matrix.

    Attributes
    ----------
    mean : ndarray, shape (terms, 3)
    whiten : ndarray, shape (3 * terms, 3 * terms)
        Turns deviations, row by row, into independent ones of unit variance.
    """

    mean: Floats
    whiten: Floats


@cache
def camera_prior(degree: int) -> Prior:
    """Return the prior for a root-polynomial.

    Parameters
    ----------
    degree : int
        1 (a plain matrix) or 3.

    Returns
    -------
    Prior
    """
    free: Floats = np.asarray(np.kron(np.eye(3), WORKING_TO_XYZ @ WORKING_TO_XYZ.T) * _FREE**2, dtype=np.float64)
    if degree == 1:
        return _prior(WORKING_TO_XYZ.T, free)
    table = np.genfromtxt(data_file("camera-prior.csv"), delimiter=",", skip_header=1)[:, 1:]
    covariance = table[:, 1:].copy()
    covariance[:9, :9] += free
    return _prior(table[:, 0].reshape(-1, 3), covariance)


def _prior(mean: Floats, covariance: Floats) -> Prior:
    steady = covariance + 1e-8 * np.eye(len(covariance))
    return Prior(mean, np.asarray(np.linalg.inv(np.linalg.cholesky(steady)), dtype=np.float64))
