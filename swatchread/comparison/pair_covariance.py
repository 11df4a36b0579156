"""How far two readings of unchanged paint may differ, and how much of that all swatches of the pair share.

Each photo's chart is fitted anew, and the whole photo shares the errors of its fit: more or less light than on the
chart (it scales L* + 16), a veil of stray light (it lifts dark colours most), and an error of colour that similar
colours share. An error that is the same in every photo (the chart's age, paint that the camera sees otherwise than the
eye) cancels in a difference. So does most of the paint's unevenness, because both photos average the same strokes. The
rest is a swatch's own and no other swatch tells of it: the light at its place, pixels and what the photo cut off, the
outline of the sampled area, and pigments that one light shows otherwise than the next. How large the shared errors are
is for `error_scale` to say.

What a reading states holds doubts that seldom come true, such as a camera that may have lightened by place. Shared
errors of L* hardly grow with them. So a floor counts there beside a small part of the stated variance.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from swatchread.colour.cielab import Floats
from swatchread.comparison.card_matching import CardMatch
from swatchread.comparison.channel_errors import CHANNELS, ChannelErrors
from swatchread.comparison.error_scale import expected_squares, lights_apart, likely_factors
from swatchread.note.model import Note, Swatch

_MOST_VEIL = 4.0
"""Largest slope of CIELAB's cube root, relative to that at L* = 40: in black paint glints and noise lessen it."""

_HIGHLIGHT_FROM, _HIGHLIGHT_AT = 70.0, 95.0
"""L* at which the error of the tone curve's end begins, growing with the square of L* beyond it, and at which it is
stated."""

_MOST = 0.25
"""Quantile of the stated variances up to which most of the card's swatches state it (assumed)."""

_NOT_SAMPLED_TWICE = 0.05
"""Part of the strokes that only one of the two photos averages: only there the paint's unevenness counts."""

_PLAY = 1.5
"""Ratio by which the ground may exceed the stated errors before they are widened (assumed)."""
_OWN_CHROMA = 0.7
"""Own uncertainty of a* and b*, relative to that of L* (assumed)."""
_LEAST_OWN = 0.08
"""CIELAB units: least own uncertainty of a pair of readings (assumed)."""


@dataclass(frozen=True, eq=False)
class PairReadings:
    """What two readings say of a card's matched swatches, then of its bare ground.

    Attributes
    ----------
    ids : tuple of str
        Ids in the first reading of the n matched swatches, then ``"ground"``.
    lab : ndarray, shape (n + 1, 3)
        CIELAB, the mean of both readings.
    difference : ndarray, shape (n + 1, 3)
        CIELAB, second minus first.
    stated : ndarray, shape (3, n + 1)
        Variance of the difference that the readings state, but for the paint's own and `burnt`; for the ground the
        median.
    burnt : ndarray, shape (3, n)
        Variance of the difference that burnt-out channels leave. No other photo repeats it.
    uneven, mixtures : ndarray, shape (n,)
        Variances that the readings state of the paint's own, and of how otherwise than the eye they see it, CIEDE2000
        squared.
    cut_off : ndarray, shape (n,), bool
        Where a photo cut a swatch off.
    apart : float
        Probability that the two lights are of different kinds.
    """

    ids: tuple[str, ...]
    lab: Floats
    difference: Floats
    stated: Floats
    burnt: Floats
    uneven: Floats
    mixtures: Floats
    cut_off: npt.NDArray[np.bool_]
    apart: float


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
        Covariance of the errors that the pair's photos share, of L*, a* and b*, at their expected size (1 in
        `error_scale.SIZES`).
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


def pair_readings(before: Note, after: Note, match: CardMatch) -> PairReadings:
    """Collect what two notes say of what both show.

    Parameters
    ----------
    before, after : Note
    match : CardMatch

    Returns
    -------
    PairReadings
    """
    pairs = [(before.swatch(one), after.swatch(other)) for one, other in match.pairs]
    first = np.array([*(a.lab for a, _ in pairs), before.card.ground.lab])
    second = np.array([*(b.lab for _, b in pairs), after.card.ground.lab])
    return PairReadings(
        ids=(*(one for one, _ in match.pairs), "ground"),
        lab=(first + second) / 2.0,
        difference=second - first,
        stated=_stated(pairs),
        burnt=np.array([burnt_variance(a) + burnt_variance(b) for a, b in pairs]).T,
        uneven=np.array([sum(one.uncertainty.own_de00**2 for one in pair) for pair in pairs]),
        mixtures=np.array([sum(one.uncertainty.mixture_de00**2 for one in pair) for pair in pairs]),
        cut_off=np.array(["clipped" in (*a.flags, *b.flags) for a, b in pairs]),
        apart=lights_apart(before, after),
    )


def pair_noise(readings: PairReadings, channels: tuple[ChannelErrors, ...] = CHANNELS) -> PairNoise:
    """Return how far two readings may differ if nothing changed.

    Parameters
    ----------
    readings : PairReadings
    channels : tuple of ChannelErrors
        Of L*, a* and b*.

    Returns
    -------
    PairNoise
    """
    own = np.array([_own(readings, k, errors) for k, errors in enumerate(channels)])
    shared = np.array([_shared(readings, k, errors) for k, errors in enumerate(channels)])
    likely = likely_factors(readings.apart)
    ground = expected_squares(likely) * shared[:, -1, -1] + own[:, -1]
    widening = _widening(readings.difference[-1], ground)
    return PairNoise(readings.ids, readings.difference, shared * widening**2, own, likely, widening)


def _widening(ground: Floats, variance: Floats) -> float:
    """Return by how much the ground contradicts the stated errors (a Birge ratio, with some play).

    Bare ground seldom changes. If it reads very differently, one of the two photos took something else for the ground,
    or the ground did change. The photos cannot tell which, so all shared errors are taken to be larger by this factor.
    """
    return max(1.0, float(np.sqrt((ground**2 / variance).mean())) / _PLAY)


def _stated(pairs: list[tuple[Swatch, Swatch]]) -> Floats:
    """Return the variance of each difference that the readings state, see `PairReadings`, shape (3, n + 1)."""
    total = np.array([total_variance(s) - burnt_variance(s) for pair in pairs for s in pair])
    total = total.reshape(len(pairs), 2, 3).sum(axis=1)
    own = np.array([own_variance(a) + own_variance(b) for a, b in pairs])
    stated = np.maximum(total - own, 0.25 * total)
    return np.vstack([stated, np.median(stated, axis=0)]).T


def total_variance(swatch: Swatch) -> Floats:
    """Return the variance of a reading's L*, a* and b*, shape (3,)."""
    u = swatch.uncertainty
    return np.array([u.L, u.a, u.b]) ** 2


def burnt_variance(swatch: Swatch) -> Floats:
    """Return the part of that variance that burnt-out channels leave, shape (3,)."""
    u = swatch.uncertainty
    return total_variance(swatch) * (u.burnt_de00**2 / u.de00**2 if u.burnt_de00 > 0.0 else 0.0)


def own_variance(swatch: Swatch) -> Floats:
    """Return the part of that variance that is the swatch's own (paint, pixels), shape (3,)."""
    weight = np.array([1.0, _OWN_CHROMA**2, _OWN_CHROMA**2])
    return swatch.uncertainty.own_de00**2 * weight + _LEAST_OWN**2 / 2.0


def _own(readings: PairReadings, channel: int, errors: ChannelErrors) -> Floats:
    """Return the variance in a channel of each difference that is a swatch's own, and the ground's, shape (n + 1,)."""
    stated = readings.stated[channel, :-1]
    beyond = np.maximum(stated - np.quantile(stated, _MOST), 0.0)
    own = (
        errors.own
        + errors.own_share * (stated - beyond)
        + np.where(readings.cut_off, errors.cut_excess, errors.own_excess) * beyond
        + _NOT_SAMPLED_TWICE * readings.uneven
        + errors.mixtures * readings.apart * readings.mixtures
        + readings.burnt[channel]
    )
    return np.append(own, errors.ground_own)


def _shared(readings: PairReadings, channel: int, errors: ChannelErrors) -> Floats:
    """Return the covariance of a channel's shared errors at their expected size, shape (n + 1, n + 1)."""
    lab, counted = readings.lab, readings.stated[channel] + errors.floor
    apart = ((lab[:, None] - lab[None]) ** 2).sum(axis=-1)
    far, near = (np.exp(-apart / (2.0 * reach**2)) for reach in (errors.far_reach, errors.near_reach))
    gain = (lab[:, 0] + 16.0) / 66.0
    veil = np.minimum((56.0 / (lab[:, 0] + 16.0)) ** 2, _MOST_VEIL)  # the slope of CIELAB's cube root
    end = (np.maximum(lab[:, 0] - _HIGHLIGHT_FROM, 0.0) / (_HIGHLIGHT_AT - _HIGHLIGHT_FROM)) ** 2
    root = np.sqrt(counted)
    seen = np.sqrt(readings.apart * np.append(readings.mixtures, np.median(readings.mixtures)))
    covariance: Floats = (
        (errors.far * far + errors.near * near) * np.outer(root, root)
        + errors.mixtures_alike * near * np.outer(seen, seen)
        + errors.gain * np.median(counted) * np.outer(gain, gain)
        + errors.veil * np.outer(veil, veil)
        + errors.highlight * np.outer(end, end)
    )
    return covariance
