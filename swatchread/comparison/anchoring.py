"""Takes the error that two readings share off their difference, by what cannot have changed: the anchors.

Anchors are the bare ground, an old row or single swatches. If an anchor differs, that is error, and similar colours
share it. So the shared error of every other swatch is estimated from the anchors, as the conditional mean of a Gaussian
field (kriging; Cressie 1993, Statistics for Spatial Data, section 3.2), and taken off. What remains unsure of it stays
in the uncertainty. The size of the shared errors is not known either, so this is done for several sizes, and each is
weighed by how well it explains the anchors.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from swatchread.colour.cielab import Floats
from swatchread.comparison.error_scale import SIZES, expected_squares, weights_of_sizes
from swatchread.comparison.pair_covariance import PairNoise
from swatchread.errors import AnchorError

GROUND = "ground"
_ROW = re.compile(r"^(r|c)(\d+)$")
_DOUBTFUL = 3.0
"""Standard deviations between an anchor and what the others predict, above which it may have changed (assumed)."""

Index = npt.NDArray[np.intp]


@dataclass(frozen=True, eq=False)
class Conditioned:
    """A pair of readings with the estimated shared error taken off.

    Attributes
    ----------
    difference : ndarray, shape (n + 1, 3)
        CIELAB, second minus first, without the estimated shared error; as read without anchors.
    covariance : ndarray, shape (3, n + 1, n + 1)
        Of `difference` if nothing changed, for L*, a*, b*.
    of_sizes : OfSizes
        The same for each size that the shared errors may have.
    doubtful : tuple of str
        Anchors that disagree with the others: they may have changed after all.
    """

    difference: Floats
    covariance: Floats
    of_sizes: OfSizes
    doubtful: tuple[str, ...]


@dataclass(frozen=True, eq=False)
class OfSizes:
    """Differences without the shared error, for each size that the shared errors may have.

    Attributes
    ----------
    difference, sigma : ndarray, shape (m, n + 1, 3)
        CIELAB without the estimated error, and the standard deviation if nothing changed.
    weight : ndarray, shape (m, 3)
        Probability of each size for L*, a*, b*.
    """

    difference: Floats
    sigma: Floats
    weight: Floats


def anchor_ids(wanted: Sequence[str], known: Sequence[str]) -> tuple[str, ...]:
    """Return the ids that the painter's words for anchors mean.

    Parameters
    ----------
    wanted : sequence of str
        Ids of swatches, ``r3`` or ``c2`` for a whole row or column, ``ground``.
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


def condition_on_anchors(noise: PairNoise, anchors: Sequence[str]) -> Conditioned:
    """Take the shared error that the anchors show off a pair of readings.

    Parameters
    ----------
    noise : PairNoise
    anchors : sequence of str
        Ids of the first reading, and ``ground``; without any, the pair stays as it is.

    Returns
    -------
    Conditioned
    """
    index = np.array([noise.ids.index(name) for name in anchors], dtype=np.intp)
    # The ground is pale and grey: it errs little in any light, and so says little of the size of the errors.
    telling = index[index != len(noise.ids) - 1]
    likelihoods = np.stack([evidence(noise, k, telling) for k in range(3)], axis=-1)
    weight = weights_of_sizes(likelihoods, noise.likely)
    errors, covariances = zip(*(conditional(noise, k, index) for k in range(3)), strict=True)
    error = np.stack([weight[:, k] @ errors[k] for k in range(3)], axis=-1)
    covariance = []
    for k in range(3):
        off = errors[k] - error[:, k]
        covariance.append(np.einsum("m,mij->ij", weight[:, k], covariances[k] + off[:, :, None] * off[:, None, :]))
    of_sizes = OfSizes(
        difference=noise.difference - np.stack(errors, axis=-1),
        sigma=np.sqrt(np.maximum(np.einsum("kmii->mik", np.array(covariances)), 1e-6)),
        weight=weight,
    )
    return Conditioned(noise.difference - error, np.array(covariance), of_sizes, _doubtful(noise, index))


def _at_anchors(noise: PairNoise, k: int, index: Index) -> Floats:
    """Return the covariance of the anchors' differences in one channel for each size, shape (m, anchors, anchors)."""
    shared = noise.shared[k][np.ix_(index, index)]
    covariance: Floats = SIZES[:, k, None, None] ** 2 * shared + np.diag(noise.own[k][index])
    return covariance


def evidence(noise: PairNoise, k: int, index: Index) -> Floats:
    """Return how likely the anchors' differences in one channel are at each size.

    Parameters
    ----------
    noise : PairNoise
    k : int
        The channel: 0 for L*, 1 for a*, 2 for b*.
    index : ndarray of int
        The anchors' places in `noise.ids`.

    Returns
    -------
    ndarray, shape (m,)
        Logarithms, up to a constant.
    """
    covariance, seen = _at_anchors(noise, k, index), noise.difference[index, k]
    misfit = np.einsum("i,mij,j->m", seen, np.linalg.inv(covariance), seen)
    logarithm: Floats = -0.5 * (misfit + np.linalg.slogdet(covariance)[1])
    return logarithm


def conditional(noise: PairNoise, k: int, index: Index) -> tuple[Floats, Floats]:
    """Estimate the shared errors of one channel from the anchors, for each size.

    Parameters
    ----------
    noise, k, index
        As for `evidence`.

    Returns
    -------
    errors : ndarray, shape (m, n + 1)
    covariances : ndarray, shape (m, n + 1, n + 1)
        Of the differences without these errors.
    """
    shared = SIZES[:, k, None, None] ** 2 * noise.shared[k]
    gain = shared[:, :, index] @ np.linalg.inv(_at_anchors(noise, k, index))
    left = shared - gain @ shared[:, index, :] + np.diag(noise.own[k])
    return gain @ noise.difference[index, k], left


def _doubtful(noise: PairNoise, index: Index) -> tuple[str, ...]:
    """Return the anchors that are far from what the others predict (leave-one-out residuals at the expected size)."""
    distance = np.zeros(len(index))
    for k, square in enumerate(expected_squares(noise.likely)):
        inverse = np.linalg.inv(square * noise.shared[k][np.ix_(index, index)] + np.diag(noise.own[k][index]))
        distance = np.maximum(distance, np.abs(inverse @ noise.difference[index, k]) / np.sqrt(np.diag(inverse)))
    return tuple(noise.ids[i] for i, z in zip(index, distance, strict=True) if z > _DOUBTFUL)
