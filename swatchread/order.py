"""Medians, quantiles and distinct numbers of small arrays: numpy asks many questions first, which takes longest."""

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
    parted = values.copy()
    parted.partition(middle)
    if len(values) % 2:
        return float(parted[middle])
    return (float(np.maximum.reduce(parted[:middle])) + float(parted[middle])) / 2.0


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
    if not len(values):
        return np.full(values.shape[1], np.nan)
    middle = len(values) // 2
    parted = values.T.copy()
    parted.partition(middle)
    upper: npt.NDArray[np.float64] = parted[:, middle].astype(np.float64)
    if len(values) % 2:
        return upper
    below: npt.NDArray[np.float64] = np.maximum.reduce(parted[:, :middle], axis=1)
    return (below + upper) / 2.0


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
    parted = values.copy()
    parted.partition(low)
    below = float(parted[low])
    if place == low:
        return below
    return below + (place - low) * (float(parted[low + 1 :].min()) - below)


def distinct(values: npt.NDArray[Any]) -> npt.NDArray[Any]:
    """Return each number once, in order: numpy's own loads its masked arrays to ask whether there are any.

    Parameters
    ----------
    values : ndarray
        Finite.

    Returns
    -------
    ndarray, shape (k,)
    """
    ordered = np.sort(values, axis=None)
    first = np.ones(len(ordered), dtype=bool)
    first[1:] = ordered[1:] != ordered[:-1]
    return ordered[first]
