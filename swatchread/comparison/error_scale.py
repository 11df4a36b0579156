"""How large the errors of a pair are that all swatches share: what is expected, and what anchors show.

Two photos in one light repeat each other's errors; two photos in daylight and in lamplight do not. Neither photo says
which it is, so the size of the shared errors is itself unknown. Its logarithm is taken to be normal about the expected
size, and the sizes of L*, a* and b* are correlated through one factor. The differences of swatches that cannot have
changed then weigh each size by its likelihood (Bayes' rule on a grid; Gelman et al. 2013, Bayesian Data Analysis,
section 3.7).
"""

from __future__ import annotations

import numpy as np

from swatchread.colour.cielab import Floats

SPREAD = (0.46, 0.75, 0.75)
"""Standard deviation of the logarithm of the size of the errors in L*, a*, b*, over pairs in like and in other light.

Found together with the constants of `swatchread.comparison.pair_covariance`; a* and b* are taken to be alike.
"""

_TOGETHER = 0.8
"""Correlation of a channel's size with the factor that the three share (found in the same way)."""

_HEARD = 0.5
"""Weight of the anchors' evidence: their errors are only roughly normal, and a few must not decide alone (assumed)."""

_STEPS = np.linspace(-2.0, 2.0, 7)
"""Standard deviations of the logarithm at which sizes are weighed."""
_PRIOR = np.exp(-0.5 * _STEPS**2) / np.exp(-0.5 * _STEPS**2).sum()

SIZES: Floats = np.exp(_STEPS[:, None] * np.array(SPREAD))
"""Sizes that are weighed, relative to the expected one, shape (m, 3)."""


def _given_factor() -> Floats:
    """Return the probability of each size (column) at each value of the shared factor (row)."""
    table = np.exp(-0.5 * (_STEPS - _TOGETHER * _STEPS[:, None]) ** 2 / (1.0 - _TOGETHER**2))
    given: Floats = table / table.sum(axis=1, keepdims=True)
    return given


def weights_of_sizes(evidence: Floats) -> Floats:
    """Weigh the sizes by the anchors' differences.

    Parameters
    ----------
    evidence : ndarray, shape (m, 3)
        Logarithm of the likelihood of the anchors' differences at each of `SIZES`; all equal without anchors.

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
    normalised: Floats = weights / weights.sum(axis=0)
    return normalised


def expected_squares() -> Floats:
    """Return the mean square of the sizes if nothing is known of the pair, shape (3,)."""
    squares: Floats = (weights_of_sizes(np.zeros_like(SIZES)) * SIZES**2).sum(axis=0)
    return squares
