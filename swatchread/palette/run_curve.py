"""Where the run of a painter's mixtures goes: a* and b* over value, the odd ones down-weighted."""

from __future__ import annotations

import numpy as np

from swatchread.colour.cielab import Floats

_WIDTH = 1.2
_ROUNDS = 6
_SCALE = 6.0


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
        centre, slope = np.zeros(2), np.zeros(2)
        for _ in range(_ROUNDS):
            w = weight / weight.sum()
            mx, my = float(w @ x), w @ ab
            # The slope is held near 0 where the values hardly differ.
            slope = (w * (x - mx)) @ (ab - my) / (float(w @ (x - mx) ** 2) + 0.2)
            centre = my - slope * mx
            off = np.hypot(*(ab - centre - slope * x[:, None]).T)
            weight = near / (1.0 + (off / _SCALE) ** 2)
        aims[k] = centre
    return aims
