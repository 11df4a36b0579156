"""The course of a painter's run of mixtures: a* and b* over value, with little weight on outliers."""

from __future__ import annotations

import numpy as np

from swatchread.colour.cielab import Floats

_WIDTH = 1.2
"""Munsell value; width of the Gaussian weights (assumed)."""
_SCALE = 6.0
"""CIELAB units in a*, b* at which a mixture's weight is halved (assumed)."""
_RIDGE = 0.2
"""Square of Munsell value; holds the slope near 0 where the values hardly differ."""
_ROUNDS = 6


def fit_run_curve(value: Floats, ab: Floats, wanted: Floats) -> Floats:
    """Return a*, b* of the run at some values.

    A locally weighted line through the mixtures (after Cleveland 1979, LOWESS).

    Parameters
    ----------
    value : ndarray, shape (n,)
        Munsell value of each mixture.
    ab : ndarray, shape (n, 2)
    wanted : ndarray, shape (m,)

    Returns
    -------
    ndarray, shape (m, 2)
    """
    aims = np.empty((len(wanted), 2))
    for k, v in enumerate(wanted):
        x = value - v
        near = np.exp(-((x / _WIDTH) ** 2)) + 1e-6
        weight = near
        for _ in range(_ROUNDS):
            w = weight / weight.sum()
            mx, my = float(w @ x), w @ ab
            slope = (w * (x - mx)) @ (ab - my) / (float(w @ (x - mx) ** 2) + _RIDGE)
            centre = my - slope * mx
            off = np.hypot(*(ab - centre - slope * x[:, None]).T)
            weight = near / (1.0 + (off / _SCALE) ** 2)
        aims[k] = centre
    return aims
