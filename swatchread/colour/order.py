"""Medians, quantiles and distinct numbers of small arrays: numpy asks many questions first, which takes longest."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import numpy.typing as npt


def median(values: npt.NDArray[Any] | Sequence[Any]) -> float:
    """Return the median of numbers.

    Parameters
    ----------
    values : ndarray or sequence
        Finite.

    Returns
    -------
    float
        Not a number where there are none.
    """
    parted = np.array(values).ravel()
    count = len(parted)
    if not count:
        return float("nan")
    middle = count // 2
    parted.partition(middle)
    if count % 2:
        return float(parted[middle])
    return (float(np.maximum.reduce(parted[:middle])) + float(parted[middle])) / 2.0


def medians(values: npt.NDArray[Any], axis: int = 0) -> npt.NDArray[np.float64]:
    """Return medians along an axis: of each column, where none is named.

    Parameters
    ----------
    values : ndarray
        Finite.
    axis : int

    Returns
    -------
    ndarray
        Without that axis; not a number where there are none.
    """
    # To swap is far quicker than to move, and the same in two dimensions.
    parted = (values.swapaxes(axis, -1) if values.ndim == 2 else np.moveaxis(values, axis, -1)).copy()
    count = parted.shape[-1]
    if not count:
        return np.full(parted.shape[:-1], np.nan)
    middle = count // 2
    parted.partition(middle)
    upper: npt.NDArray[np.float64] = parted[..., middle].astype(np.float64)
    if count % 2:
        return upper
    below: npt.NDArray[np.float64] = np.maximum.reduce(parted[..., :middle], axis=-1)
    return (below + upper) / 2.0


def quantile(values: npt.NDArray[Any], share: float) -> float:
    """Return a quantile of numbers, between two of them in proportion (Hyndman & Fan 1996, type 7).

    Parameters
    ----------
    values : ndarray
        Finite, at least one.
    share : float
        0 to 1.

    Returns
    -------
    float
    """
    parted = values.ravel().copy()
    place = share * (len(parted) - 1)
    low = int(place)
    parted.partition(low)
    below = float(parted[low])
    if place == low:
        return below
    return below + (place - low) * (float(parted[low + 1 :].min()) - below)


def quantiles(values: npt.NDArray[Any], shares: Sequence[float], axis: int = 0) -> npt.NDArray[np.float64]:
    """Return several quantiles along an axis, as `quantile` does.

    Parameters
    ----------
    values : ndarray
        Finite, at least one.
    shares : sequence of float
        0 to 1 each.
    axis : int

    Returns
    -------
    ndarray
        One row for each share, then as `values` without that axis.
    """
    if values.dtype == np.uint8 and values.ndim <= 2 and axis == 0:
        columns = [_quantiles_of_bytes(column, shares) for column in values.reshape(len(values), -1).T]
        return np.stack(columns, axis=-1).reshape(len(shares), *values.shape[1:])
    ordered = np.moveaxis(np.sort(values, axis=axis), axis, 0).astype(np.float64)
    place = np.asarray(shares, dtype=np.float64) * (len(ordered) - 1)
    low = place.astype(np.intp)
    part = (place - low).reshape(-1, *(1 for _ in ordered.shape[1:]))
    above = np.minimum(low + 1, len(ordered) - 1)
    return ordered[low] + part * (ordered[above] - ordered[low])


def _quantiles_of_bytes(values: npt.NDArray[np.uint8], shares: Sequence[float]) -> npt.NDArray[np.float64]:
    """Return quantiles of many numbers of a few sizes, from how many there are of each."""
    upto = np.cumsum(np.bincount(values, minlength=256))
    place = np.asarray(shares, dtype=np.float64) * (len(values) - 1)
    low = place.astype(np.intp)
    below, above = (np.searchsorted(upto, at, side="right") for at in (low, np.minimum(low + 1, len(values) - 1)))
    return np.asarray(below + (place - low) * (above - below), dtype=np.float64)


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
