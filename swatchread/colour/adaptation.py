"""What a colour looks like under another white: linear Bradford adaptation, as ICC profiles do it."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from swatchread.colour.cielab import Floats

_BRADFORD: Floats = np.array([[0.8951, 0.2664, -0.1614], [-0.7502, 1.7135, 0.0367], [0.0389, -0.0685, 1.0296]])
"""Cone response matrix of the linear Bradford adaptation (ICC.1:2022, annex E)."""


def adapt(xyz: npt.ArrayLike, source: Floats, target: Floats) -> Floats:
    """Adapt tristimulus values from one white to another.

    Parameters
    ----------
    xyz : array_like, shape (..., 3)
    source, target : ndarray, shape (3,)
        Tristimulus values of the two whites.

    Returns
    -------
    ndarray, shape (..., 3)
    """
    gain = (_BRADFORD @ target) / (_BRADFORD @ source)
    matrix: Floats = np.linalg.inv(_BRADFORD) @ np.diag(gain) @ _BRADFORD
    return np.asarray(xyz, dtype=np.float64) @ matrix.T
