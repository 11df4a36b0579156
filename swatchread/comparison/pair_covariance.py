"""How far two readings of unchanged paint may differ, and how much of that all swatches of the pair share.

Each photo's chart is fitted anew, and the whole photo shares the errors of its fit: more or less light than on the
chart (it scales L* + 16), a veil of stray light (it lifts dark colours most), and an error of colour that similar
colours share. An error that is the same in every photo (the chart's age, paint that the camera sees otherwise than the
eye) cancels in a difference. So does most of the paint's unevenness, because both photos average the same strokes. The
rest is a swatch's own and no other swatch tells of it: the light at its place, pixels and what the photo cut off, the
outline of the sampled area, and pigments that one light shows otherwise than the next.

Two photos in one light repeat each other's errors; two photos in daylight and in lamplight do not. How unlike the eye
each fit sees hints at which it is (`lights_apart`), but the size of the shared errors stays unknown. Its logarithm is
taken to be normal about the expected size, and the sizes of L*, a* and b* are correlated through one factor. The
differences of swatches that cannot have changed then weigh each size by its likelihood (Bayes' rule on a grid; Gelman
et al. 2013, Bayesian Data Analysis, section 3.7).

What a reading states holds doubts that seldom come true, such as a camera that may have lightened by place. Shared
errors of L* hardly grow with them. So a floor counts there beside a small part of the stated variance.

The constants were found by maximum likelihood, with Student's t, on the errors of simulated pairs in the same light, in
another daylight and under a lamp (L*: seeds 63000 to 63031, without anchors, with a few swatches and with the ground;
a* and b*: 61000 to 61019, each swatch from its neighbours in colour). No test and no published figure uses these seeds.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from swatchread.colour.cielab import Floats
from swatchread.comparison.card_matching import CardMatch
from swatchread.note.model import Note, Swatch

_FLOOR = (0.38, 0.0, 0.0)
"""CIELAB variance that is added to what two readings state of L*, a*, b* before parts of it are taken."""

_GAIN = (0.105, 0.03, 0.02)
"""Variance from more or less light, at L* = 50, as a part of the card's median of that sum for L*, a*, b*."""

_FAR_COLOURS = (0.027, 0.03, 0.03)
_NEAR_COLOURS = (0.005, 0.11, 0.065)
"""Variance of the fit's error of colours, as parts of that sum: what distant colours share, and what similar colours
share."""

_FAR, _NEAR = (20.0, 30.0, 30.0), (5.0, 9.0, 9.0)
"""CIELAB distances over which the errors of two colours stay similar."""

_VEIL = (0.0036, 0.012, 0.015)
"""CIELAB variance that stray light leaves at L* = 40."""

_MOST_VEIL = 4.0
"""Largest slope of CIELAB's cube root, relative to that at L* = 40: in black paint glints and noise lessen it."""

_HIGHLIGHT = (1.05, 0.0, 0.0)
"""CIELAB variance at L* = 95 of the tone curve's end, near the photo's white: shared by all light colours."""

_HIGHLIGHT_FROM, _HIGHLIGHT_AT = 70.0, 95.0
"""L* at which that error begins, growing with the square of L* beyond it, and at which it is stated."""

_OWN = (0.011, 0.07, 0.03)
"""CIELAB variance that pixels, the light's unevenness and the sampled area's outline leave in a difference."""

_OWN_SHARE, _OWN_EXCESS = (0.0, 0.045, 0.10), (0.027, 0.012, 0.035)
_CUT_EXCESS = (0.28, 0.012, 0.035)
"""Parts of the stated variance that are a swatch's own: of what most of the card's swatches state, and of what a swatch
states beyond that (its place in the light, its grain); the latter also where a photo cut the swatch off."""

_MIXTURES = (0.012, 0.0, 0.0)
"""Part of the variance, CIEDE2000 squared, by which paint is seen otherwise than by the eye that is a swatch's own in
L*, a*, b*, if the two lights are of different kinds; of a* and b* the shares of what is stated hold it."""

_MOST = 0.25
"""Quantile of the stated variances up to which most of the card's swatches state it (assumed)."""

_NOT_SAMPLED_TWICE = 0.05
"""Part of the strokes that only one of the two photos averages: only there the paint's unevenness counts."""

_GROUND_OWN = (0.03, 0.20, 0.18)
"""CIELAB variance that is the bare ground's own: stains, pencil, the outline of what is taken for ground."""

_PLAY = 1.5
"""Ratio by which the ground may exceed the stated errors before they are widened (assumed)."""
_OWN_CHROMA = 0.7
"""Own uncertainty of a* and b*, relative to that of L* (assumed)."""
_LEAST_OWN = 0.08
"""CIELAB units: least own uncertainty of a pair of readings (assumed)."""

SPREAD = (0.35, 0.6, 0.6)
"""Standard deviation of the logarithm of the size of the errors in L*, a*, b*, over pairs in like and in other light
(found together with the constants above; a* and b* are taken to be alike)."""

_TOGETHER = 0.8
"""Correlation of a channel's size with the factor that the three share (found in the same way)."""

_HEARD = 0.5
"""Weight of the anchors' evidence: their errors are only roughly normal, and a few must not decide alone (assumed)."""

_STEPS = np.linspace(-2.0, 2.0, 7)
"""Standard deviations of the logarithm at which sizes are weighed."""

_APART = 0.6
"""Standard deviations by which the factor is larger for two kinds of light and smaller for one: a* and b* err twice as
much in daylight and lamplight as in one light."""

_ONE_LIGHT, _TWO_LIGHTS = 0.08, 0.45
"""Standard deviation of the logarithm of the ratio of the fits' departures, of two photos by one camera in one light,
and in two (seeds 61000 to 61007: at most 0.11 in one light, 0.28 to 0.82 in daylight and under a lamp)."""

_TABLE = np.exp(-0.5 * (_STEPS - _TOGETHER * _STEPS[:, None]) ** 2 / (1.0 - _TOGETHER**2))
_GIVEN = _TABLE / _TABLE.sum(axis=1, keepdims=True)
"""Probability of each size (column) at each value of the shared factor (row)."""

SIZES: Floats = np.exp(_STEPS[:, None] * np.array(SPREAD))
"""Sizes that are weighed, relative to the expected one, shape (m, 3)."""


@dataclass(frozen=True, eq=False)
class PairNoise:
    """How far two readings of unchanged paint may differ, swatch by swatch and for the bare ground.

    Attributes
    ----------
    ids : tuple of str
        Ids in the first reading of the matched swatches, then ``"ground"``.
    difference : ndarray, shape (n + 1, 3)
        CIELAB, second minus first.
    shared : ndarray, shape (3, n + 1, n + 1)
        Covariance of the errors that the pair's photos share, of L*, a* and b*, at their expected size (1 in `SIZES`).
    own : ndarray, shape (3, n + 1)
        Variance of each one's own errors.
    likely : ndarray, shape (m,)
        Probability of each value of the factor that the sizes of L*, a* and b* share, before anchors are asked.
    widening : float
        Factor on the shared errors because the bare ground differs more than they allow; 1 if it does not.
    """

    ids: tuple[str, ...]
    difference: Floats
    shared: Floats
    own: Floats
    likely: Floats
    widening: float


def pair_noise(before: Note, after: Note, match: CardMatch) -> PairNoise:
    """Return how far two readings differ, and how far they may differ if nothing changed.

    Parameters
    ----------
    before, after : Note
    match : CardMatch

    Returns
    -------
    PairNoise
    """
    pairs = [(before.swatch(one), after.swatch(other)) for one, other in match.pairs]
    first = np.array([*(a.lab for a, _ in pairs), before.card.ground.lab])
    second = np.array([*(b.lab for _, b in pairs), after.card.ground.lab])
    stated = _stated(pairs)
    apart = lights_apart(before, after)
    own = np.hstack([_own(pairs, stated[:, :-1], apart), np.array(_GROUND_OWN)[:, None]])
    shared = _shared((first + second) / 2.0, stated + np.array(_FLOOR)[:, None])
    likely = likely_factors(apart)
    ground = expected_squares(likely) * shared[:, -1, -1] + own[:, -1]
    widening = _widening(second[-1] - first[-1], ground)
    return PairNoise(
        ids=(*(one for one, _ in match.pairs), "ground"),
        difference=second - first,
        shared=shared * widening**2,
        own=own,
        likely=likely,
        widening=widening,
    )


def _widening(ground: Floats, variance: Floats) -> float:
    """Return by how much the ground contradicts the stated errors (a Birge ratio, with some play).

    Bare ground seldom changes. If it reads very differently, one of the two photos took something else for the ground,
    or the ground did change. The photos cannot tell which, so all shared errors are taken to be larger by this factor.
    """
    return max(1.0, float(np.sqrt((ground**2 / variance).mean())) / _PLAY)


def _stated(pairs: list[tuple[Swatch, Swatch]]) -> Floats:
    """Return the variance of each difference that the readings state, without the paint's own, shape (3, n + 1)."""
    total = np.array([total_variance(a) + total_variance(b) for a, b in pairs])
    own = np.array([own_variance(a) + own_variance(b) for a, b in pairs])
    stated = np.maximum(total - own, 0.25 * total)
    return np.vstack([stated, np.median(stated, axis=0)]).T


def _own(pairs: list[tuple[Swatch, Swatch]], stated: Floats, apart: float) -> Floats:
    """Return the variance of each difference that is the swatch's own, of L*, a*, b*, shape (3, n)."""
    uneven = np.array([a.uncertainty.own_de00**2 + b.uncertainty.own_de00**2 for a, b in pairs])
    mixtures = np.array([a.uncertainty.mixture_de00**2 + b.uncertainty.mixture_de00**2 for a, b in pairs])
    usual = np.quantile(stated, _MOST, axis=1, keepdims=True)
    parts = np.array([_OWN, _OWN_SHARE, _OWN_EXCESS])[..., None]
    beyond = np.maximum(stated - usual, 0.0)
    cut = ["clipped" in (*one.flags, *other.flags) for one, other in pairs]
    excess = np.where(cut, np.array(_CUT_EXCESS)[:, None], parts[2])
    read = parts[0] + parts[1] * (stated - beyond) + excess * beyond
    own: Floats = read + _NOT_SAMPLED_TWICE * uneven + apart * np.array(_MIXTURES)[:, None] * mixtures
    return own


def total_variance(swatch: Swatch) -> Floats:
    """Return the variance of a reading's L*, a* and b*, shape (3,)."""
    u = swatch.uncertainty
    return np.array([u.L, u.a, u.b]) ** 2


def own_variance(swatch: Swatch) -> Floats:
    """Return the part of that variance that is the swatch's own (paint, pixels), shape (3,)."""
    weight = np.array([1.0, _OWN_CHROMA**2, _OWN_CHROMA**2])
    return swatch.uncertainty.own_de00**2 * weight + _LEAST_OWN**2 / 2.0


def _shared(lab: Floats, counted: Floats) -> Floats:
    """Return the covariance of the shared errors at their expected size, shape (3, n + 1, n + 1)."""
    apart = ((lab[:, None] - lab[None]) ** 2).sum(axis=-1)
    gain = (lab[:, 0] + 16.0) / 66.0
    veil = np.minimum((56.0 / (lab[:, 0] + 16.0)) ** 2, _MOST_VEIL)  # the slope of CIELAB's cube root
    end = (np.maximum(lab[:, 0] - _HIGHLIGHT_FROM, 0.0) / (_HIGHLIGHT_AT - _HIGHLIGHT_FROM)) ** 2
    covariance = []
    for k, variance in enumerate(counted):
        far, near = np.exp(-apart / (2.0 * _FAR[k] ** 2)), np.exp(-apart / (2.0 * _NEAR[k] ** 2))
        alike = _FAR_COLOURS[k] * far + _NEAR_COLOURS[k] * near
        root = np.sqrt(variance)
        covariance.append(
            alike * np.outer(root, root)
            + _GAIN[k] * np.median(variance) * np.outer(gain, gain)
            + _VEIL[k] * np.outer(veil, veil)
            + _HIGHLIGHT[k] * np.outer(end, end)
        )
    return np.array(covariance)


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
