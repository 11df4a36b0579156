"""How large the errors are that two photos of a card share: their size is not known, and the anchors weigh it.

Two photos in one light repeat each other's errors; two photos in daylight and in lamplight do not. How unlike the eye
each fit sees hints at which it is (`lights_apart`), but the size of the shared errors stays unknown. Its logarithm is
taken to be normal about the expected size, and the sizes of L*, a* and b* are correlated through one factor. The
differences of swatches that cannot have changed then weigh each size by its likelihood (Bayes' rule on a grid; Gelman
et al. 2013, Bayesian Data Analysis, section 3.7).
"""

from __future__ import annotations

import numpy as np

from swatchread.colour.cielab import Floats
from swatchread.note.model import Note

SPREAD = (0.35, 0.6, 0.6)
"""Standard deviation of the logarithm of the size of the errors in L*, a*, b*, over pairs in like and in other light
(found together with the constants above; a* and b* are taken to be alike)."""

_TOGETHER = 0.8
"""Correlation of a channel's size with the factor that the three share (found in the same way)."""

_HEARD = 0.5
"""Weight of the anchors' evidence: their errors are only roughly normal, and a few must not decide alone (assumed)."""

_STEPS = np.linspace(-2.0, 2.0, 7)
"""Standard deviations of the logarithm at which sizes are weighed."""

_APART = 0.8
"""Standard deviations by which the factor is larger for two kinds of light and smaller for one: a* and b* err twice as
much in daylight and lamplight as in one light (likelier than 0.6 in each channel, seeds 63000 to 63031)."""

_ONE_LIGHT, _TWO_LIGHTS = 0.08, 0.45
"""Standard deviation of the logarithm of the ratio of the fits' departures, of two photos by one camera in one light,
and in two (seeds 61000 to 61007: at most 0.11 in one light, 0.28 to 0.82 in daylight and under a lamp)."""

_TABLE = np.exp(-0.5 * (_STEPS - _TOGETHER * _STEPS[:, None]) ** 2 / (1.0 - _TOGETHER**2))
_GIVEN = _TABLE / _TABLE.sum(axis=1, keepdims=True)
"""Probability of each size (column) at each value of the shared factor (row)."""

SIZES: Floats = np.exp(_STEPS[:, None] * np.array(SPREAD))
"""Sizes that are weighed, relative to the expected one, shape (m, 3)."""


def lights_apart(before: Note, after: Note) -> float:
    """Return the probability that two photos show paint in different kinds of light, 0.5 if nothing tells.

    How unlike the eye a camera sees (the departure of its fit) depends on the light and hardly on the photo. So photos
    in one light have the same, and lights that show pigments differently have another.

    Parameters
    ----------
    before, after : Note
    """
    departures = before.chart.fit.departure_de00, after.chart.fit.departure_de00
    if min(departures) <= 0.0:
        return 0.5
    ratio = float(np.log(departures[1] / departures[0]))
    one, two = (np.exp(-0.5 * (ratio / spread) ** 2) / spread for spread in (_ONE_LIGHT, _TWO_LIGHTS))
    return float(two / (one + two))


def likely_factors(apart: float) -> Floats:
    """Return the probability of each value of the factor that the three sizes share, shape (m,).

    Parameters
    ----------
    apart : float
        Probability that the photos were taken in different kinds of light.
    """
    spread = 1.0 - _APART**2
    likely = np.exp(-0.5 * (_STEPS - np.array([[-_APART], [_APART]])) ** 2 / spread)
    factors: Floats = np.array([1.0 - apart, apart]) @ (likely / likely.sum(axis=1, keepdims=True))
    return factors


def weights_of_sizes(evidence: Floats, likely: Floats) -> Floats:
    """Weigh the sizes by the anchors' differences.

    Parameters
    ----------
    evidence : ndarray, shape (m, 3)
        Logarithm of the likelihood of the anchors' differences at each of `SIZES`; all equal without anchors.
    likely : ndarray, shape (m,)
        Of the factor that they share, as `likely_factors`.

    Returns
    -------
    ndarray, shape (m, 3)
        Of the sizes for L*, a*, b*; each column sums to 1.
    """
    likelihood = np.exp(_HEARD * (evidence - evidence.max(axis=0)))
    of_factor = _GIVEN @ likelihood
    weights = np.empty_like(likelihood)
    for k in range(3):
        others = np.delete(of_factor, k, axis=1).prod(axis=1)
        weights[:, k] = likelihood[:, k] * (_GIVEN.T @ (likely * others))
    normalised: Floats = weights / weights.sum(axis=0)
    return normalised


def expected_squares(likely: Floats) -> Floats:
    """Return the mean square of the sizes if nothing but the kinds of light is known of the pair, shape (3,)."""
    squares: Floats = (weights_of_sizes(np.zeros_like(SIZES), likely) * SIZES**2).sum(axis=0)
    return squares
