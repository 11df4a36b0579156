"""Tying a pair of readings together with what cannot have changed: the bare ground, an old row, single swatches.

What an anchor differs by is error, and near colours and near places share it: the shared error at every other swatch is
estimated from the anchors as the conditional mean of a Gaussian field (kriging; Cressie 1993, Statistics for Spatial
Data, section 3.2) and taken off, and what remains unsure of it stays in the uncertainty.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from swatchread.colour import Floats
from swatchread.comparing.noise import PairNoise
from swatchread.errors import AnchorError

GROUND = "ground"
_ROW = re.compile(r"^(r|c)(\d+)$")
_DOUBTFUL = 3.0
_WEIGHT_OF_MODEL = 2.0
"""How many anchors' worth of evidence the model's own size of the shared errors is."""


@dataclass(frozen=True, eq=False)
class Tied:
    """A pair of readings with the estimated shared error taken off.

    Attributes
    ----------
    error : ndarray, shape (n + 1, 3)
        Shared error that was estimated; 0 without anchors.
    difference : ndarray, shape (n + 1, 3)
        CIELAB, second minus first, without it.
    covariance : ndarray, shape (3, n + 1, n + 1)
        Of `difference` if nothing changed, for L*, a*, b*.
    doubtful : tuple of str
        Anchors that disagree with the others: they may have changed after all.
    scale : float
        By how much the anchors widened the shared errors, or (below 1) undid a widening for the ground's sake.
    """

    error: Floats
    difference: Floats
    covariance: Floats
    doubtful: tuple[str, ...]
    scale: float


def anchor_ids(wanted: Sequence[str], known: Sequence[str]) -> tuple[str, ...]:
    """Return the anchors meant: ids of swatches, ``r3`` or ``c2`` for a whole row or column, ``ground``.

    Parameters
    ----------
    wanted : sequence of str
    known : sequence of str
        Ids that both readings have, ``ground`` among them.

    Raises
    ------
    AnchorError
        If one is not among them.
    """
    found: dict[str, None] = {}
    for word in (w.strip().lower() for w in wanted):
        line = _ROW.match(word)
        if line:
            ends = re.compile(rf"^r{line[2]}c\d+$" if line[1] == "r" else rf"^r\d+c{line[2]}$")
            members = [name for name in known if ends.match(name)]
        else:
            members = [word] if word in known else []
        if not members:
            raise AnchorError(f"{word!r} cannot be an anchor", f"both readings show {', '.join(known)}")
        found |= dict.fromkeys(members)
    return tuple(found)


def tie(noise: PairNoise, anchors: Sequence[str]) -> Tied:
    """Take the shared error that the anchors show off a pair of readings.

    Parameters
    ----------
    noise : PairNoise
    anchors : sequence of str
        Ids of the first reading, and ``ground``; none leaves the pair as it is.

    Returns
    -------
    Tied
    """
    own = np.array([np.diag(v) for v in noise.own])
    index = np.array([noise.ids.index(name) for name in anchors], dtype=np.intp)
    if not len(index):
        zero = np.zeros_like(noise.difference)
        return Tied(zero, noise.difference, noise.shared + own, (), 1.0)
    error = np.zeros_like(noise.difference)
    covariance = np.zeros_like(noise.shared)
    odd = np.zeros((3, len(index)))
    for k in range(3):
        seen = noise.difference[index, k]
        inverse = np.linalg.inv(noise.shared[k][np.ix_(index, index)] + np.diag(noise.own[k][index]))
        gain = noise.shared[k][:, index] @ inverse
        error[:, k] = gain @ seen
        covariance[k] = noise.shared[k] - gain @ noise.shared[k][index]
        # What one anchor is off by from what the others foretell, in standard deviations (leave-one-out residual).
        odd[k] = np.abs(inverse @ seen) / np.sqrt(np.diag(inverse))
    scale = _scale(odd, noise.strain)
    doubtful = tuple(name for name, z in zip(anchors, odd.max(axis=0), strict=True) if z > _DOUBTFUL)
    return Tied(error, noise.difference - error, scale**2 * covariance + own, doubtful, scale)


def _scale(odd: Floats, strain: float) -> float:
    """Return how large the shared errors are by the anchors' own word, over what was stated.

    The model's word and the anchors' leave-one-out residuals (each at most `_DOUBTFUL`, so that one that moved does not
    decide) are pooled as variances. Anchors may widen without limit, but narrow only what the ground had widened.
    """
    seen = np.minimum(odd, _DOUBTFUL) ** 2
    weight = 3.0 * _WEIGHT_OF_MODEL
    return max(float(np.sqrt((weight + seen.sum()) / (weight + seen.size))), 1.0 / strain)
