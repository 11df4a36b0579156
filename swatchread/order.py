"""Medians and quantiles of small arrays: numpy's own ask many questions first, and that is most of their time."""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt


def median(values: npt.NDArray[Any]) -> float:
    """Return the median of numbers in a row.

    Parameters
    ----------
    values : ndarray, shape (n,)
        Finite.

    Returns
    -------
    float
        Not a number where there are none.
    """
    if not len(values):
        return float("nan")
    middle = len(values) // 2
    parted = np.partition(values, middle)
    if len(values) % 2:
        return float(parted[middle])
    return (float(parted[:middle].max()) + float(parted[middle])) / 2.0


def medians(values: npt.NDArray[Any]) -> npt.NDArray[np.float64]:
    """Return the median of each column.

    Parameters
    ----------
    values : ndarray, shape (n, k)
        Finite.

    Returns
    -------
    ndarray, shape (k,)
    """
    return np.array([median(column) for column in values.T])


def quantile(values: npt.NDArray[Any], share: float) -> float:
    """Return a quantile of numbers in a row, between two of them in proportion (Hyndman & Fan 1996, type 7).

    Parameters
    ----------
    values : ndarray, shape (n,)
        Finite, at least one.
    share : float
        0 to 1.

    Returns
    -------
    float
    """
    place = share * (len(values) - 1)
    low = int(place)
    parted = np.partition(values, low)
    below = float(parted[low])
    if place == low:
        return below
    return below + (place - low) * (float(parted[low + 1 :].min()) - below)
