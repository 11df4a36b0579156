"""Medians of few values, as numpy has them in a tenth of its time."""

from __future__ import annotations

from typing import Any, TypeVar

import numpy as np
import numpy.typing as npt

_Number = TypeVar("_Number", bound=np.floating[Any])


def median_of_few(values: npt.NDArray[_Number], axis: int = -1) -> npt.NDArray[_Number]:
    """Return medians along an axis of up to some hundred values, none of them NaN.

    `numpy.median` asks so many questions first that sorting all is faster.

    Parameters
    ----------
    values : ndarray of floats
    axis : int

    Returns
    -------
    ndarray
        Without that axis.
    """
    count = values.shape[axis]
    ordered = np.moveaxis(np.sort(values, axis=axis), axis, 0)
    medians: npt.NDArray[_Number] = (ordered[(count - 1) // 2] + ordered[count // 2]) / values.dtype.type(2)
    return medians
