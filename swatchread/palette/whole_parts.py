"""Small whole parts: the numbers in which a painter counts out paint, and the way to them from exact proportions."""

from __future__ import annotations

from functools import cache
from itertools import product

import numpy as np

from swatchread.colour.cielab import Floats

LARGEST_RATIO = 160
"""Parts of one tube to 1 of another beyond which nobody counts: the strongest tubes in white (common practice)."""
_COUNTED = np.array(
    [*range(1, 13), 15, 16, 20, 24, 25, 30, 32, 40, 50, 60, 64, 80, 100, 120, LARGEST_RATIO], dtype=float
)
"""Numbers of parts in use: every one up to a dozen, then round ones, as nobody counts out 37 parts (our choice)."""
_LEAST_PARTS = range(1, 7)
"""Parts of the tube that there is least of."""


def whole_parts(amounts: Floats) -> Floats:
    """Return ways to write proportions in small whole parts.

    Parameters
    ----------
    amounts : ndarray, shape (k,)
        Relative amounts, each above 0.

    Returns
    -------
    ndarray, shape (m, k)
        Whole numbers in lowest terms: for several sizes of the smallest part each of the others rounded down and up.
    """
    ratio = amounts / amounts.min()
    rows = []
    for least in _LEAST_PARTS:
        wanted = np.clip(ratio * least, 1.0, LARGEST_RATIO)
        above = np.searchsorted(_COUNTED, wanted - 1e-9)
        ends = np.stack([_COUNTED[np.maximum(above - 1, 0)], _COUNTED[above]])
        rows.append(ends[_sides(len(amounts)), np.arange(len(amounts))])
    parts = np.concatenate(rows)
    parts = parts / np.gcd.reduce(parts.astype(np.int64), axis=1)[:, None]
    allowed = parts.max(axis=1) <= LARGEST_RATIO * parts.min(axis=1)
    distinct: Floats = np.unique(parts[allowed], axis=0)
    return distinct


def effort(parts: Floats) -> Floats:
    """Return how much counting rows of parts ask for: the doublings above one part; touches (0) and -1 ask for none."""
    doublings: Floats = np.log2(np.maximum(parts, 1.0)).sum(axis=-1)
    return doublings


@cache
def _sides(size: int) -> np.ndarray[tuple[int, ...], np.dtype[np.intp]]:
    return np.array(list(product((0, 1), repeat=size)), dtype=np.intp)
