"""How large the errors are that a pair's photos share: what is expected, and what anchors say of this pair.

Two photos in one light repeat each other's errors, two photos in daylight and lamplight do not, and neither photo says
which it is. So the size of the shared errors is itself unknown: its logarithm is taken to be normal about the expected
size, the sizes of L*, a* and b* hang together (one factor), and what swatches that cannot have changed do differ by
weighs each size by its likelihood (Bayes' rule on a grid; Gelman et al. 2013, Bayesian Data Analysis, section 3.7).
"""

from __future__ import annotations

import numpy as np

from swatchread.colour.cielab import Floats

SPREAD = (0.46, 0.75, 0.75)
"""Standard deviation of the logarithm of the size of the errors in L*, a*, b*, over pairs in like and in other light.

Found with the parts in `swatchread.comparison.pair_covariance`; a* and b* are taken to be alike.
"""

_TOGETHER = 0.8
"""Correlation of a channel's size with the factor that the three share."""

_HEARD = 0.5
"""Weight of the anchors' evidence: their errors are only roughly normal, and few anchors must not decide alone."""

_STEPS = np.linspace(-2.0, 2.0, 7)
_PRIOR = np.exp(-0.5 * _STEPS**2) / np.exp(-0.5 * _STEPS**2).sum()

SIZES: Floats = np.exp(_STEPS[:, None] * np.array(SPREAD))
"""Sizes that are weighed, over the expected one, shape (m, 3)."""


def _given_factor() -> Floats:
    """Return the probability of each size (column) at each value of the shared factor (row)."""
    table = np.exp(-0.5 * (_STEPS - _TOGETHER * _STEPS[:, None]) ** 2 / (1.0 - _TOGETHER**2))
    return np.asarray(table / table.sum(axis=1, keepdims=True))


def weights_of_sizes(evidence: Floats) -> Floats:
    """Weigh the sizes by what anchors differ by.

    Parameters
    ----------
    evidence : ndarray, shape (m, 3)
        Logarithm of the likelihood of the anchors' differences at each of `SIZES`; all alike without anchors.

    Returns
    -------
    ndarray, shape (m, 3)
        Of the sizes for L*, a*, b*; each column sums to 1.
    """
    given = _given_factor()
    likelihood = np.exp(_HEARD * (evidence - evidence.max(axis=0)))
    of_factor = given @ likelihood
    weights = np.empty_like(likelihood)
    for k in range(3):
        others = np.delete(of_factor, k, axis=1).prod(axis=1)
        weights[:, k] = likelihood[:, k] * (given.T @ (_PRIOR * others))
    return np.asarray(weights / weights.sum(axis=0))


def expected_squares() -> Floats:
    """Return the mean square of the sizes if nothing is known of the pair, shape (3,)."""
    return np.asarray((weights_of_sizes(np.zeros_like(SIZES)) * SIZES**2).sum(axis=0))
