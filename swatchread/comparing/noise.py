"""How far two readings of unchanged paint may lie apart, and how much of that all swatches of the pair share.

Each photo's chart is fitted anew. What the fit gets wrong is shared by the whole photo: partly alike for all colours,
partly alike for near colours, partly alike for near places on the card (the light that was evened out). Only the rest
(the paint's unevenness, the pixels) is a swatch's own. The shared parts of two photos are added as variances, scaled by
`SHARE`: much of what a reading may be off by (the chart's age, paint that the camera sees otherwise than the eye) is
the same in both photos and falls out of the difference. `SHARE` and the proportions were set on the errors of some 40
simulated pairs in like and in other light, which no test and no published figure uses, so that in other light the
standardised errors have a root mean square of about 0.8: a little wide rather than a little narrow.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from swatchread.colour import Floats
from swatchread.comparing.match import Match
from swatchread.comparing.place import card_places
from swatchread.note import Note, Swatch

SHARE = (0.5, 0.8, 0.75)
"""Standard error of an unanchored difference in L*, a*, b*, over the readings' combined standard uncertainty."""

_EVERYWHERE = (0.35, 0.15, 0.15)
_FAR_COLOURS = (0.35, 0.20, 0.20)
_NEAR_COLOURS = (0.20, 0.55, 0.55)
_NEAR_PLACES = (0.10, 0.10, 0.10)
_FAR, _NEAR = 40.0, 9.0
"""CIELAB distances over which the errors of two colours stay alike."""

_PLACE = 2.5
"""Distance on the card, in pitches, over which the errors of the light stay alike."""

_PLAY = 1.5
_OWN_CHROMA = 0.7
_LEAST_OWN = 0.08
_GROUND_OWN = 0.25
"""L* that a reading of the bare ground is off by itself: stains, pencil, what is taken for ground."""


@dataclass(frozen=True, eq=False)
class PairNoise:
    """What two readings of unchanged paint may differ by, swatch by swatch and for the bare ground.

    Attributes
    ----------
    ids : tuple of str
        Ids in the first reading of the matched swatches, then ``"ground"``.
    difference : ndarray, shape (n + 1, 3)
        CIELAB, second minus first.
    shared : ndarray, shape (3, n + 1, n + 1)
        Covariance of the errors that the pair's photos share, of L*, a* and b*.
    own : ndarray, shape (3, n + 1)
        Variance of each one's own errors.
    strain : float
        By how much the shared errors were widened because the bare ground disagrees; 1 where it agrees.
    """

    ids: tuple[str, ...]
    difference: Floats
    shared: Floats
    own: Floats
    strain: float


def pair_noise(before: Note, after: Note, match: Match) -> PairNoise:
    """Return what two readings differ by, and what they may differ by if nothing changed.

    Parameters
    ----------
    before, after : Note
    match : Match

    Returns
    -------
    PairNoise
    """
    pairs = [(before.swatch(one), after.swatch(other)) for one, other in match.pairs]
    first = np.array([*(a.lab for a, _ in pairs), before.card.ground.lab])
    second = np.array([*(b.lab for _, b in pairs), after.card.ground.lab])
    places = card_places(before)
    centres = {name: centre / places.pitch for name, centre in zip(places.ids, places.centres, strict=True)}
    where = np.array([centres[one] for one, _ in match.pairs])
    total, own = _variances(pairs)
    shared = _shared((first + second) / 2.0, where, np.maximum(total - own, 0.25 * total))
    strain = _strain(second[-1] - first[-1], shared[:, -1, -1] + own[:, -1])
    return PairNoise(
        ids=(*(one for one, _ in match.pairs), "ground"),
        difference=second - first,
        shared=shared * strain**2,
        own=own,
        strain=strain,
    )


def _strain(ground: Floats, variance: Floats) -> float:
    """Return by how much the ground contradicts the stated errors (a Birge ratio, with some play).

    Bare ground seldom changes. Where it reads far apart, one of the two photos was evened out on something else, or the
    ground did change; as the photos cannot tell, all shared errors are taken to be as much larger.
    """
    return max(1.0, float(np.sqrt((ground**2 / variance).mean())) / _PLAY)


def _variances(pairs: list[tuple[Swatch, Swatch]]) -> tuple[Floats, Floats]:
    """Return the total and the own variance of each difference, shape (3, n + 1); the ground's total is the largest."""
    total = np.array([total_variance(a) + total_variance(b) for a, b in pairs])
    own_lab = np.array([own_variance(a) + own_variance(b) for a, b in pairs])
    ground_total, ground_own = np.median(total, axis=0), 2.0 * _GROUND_OWN**2 * np.ones(3)
    return np.vstack([total, ground_total]).T, np.vstack([own_lab, ground_own]).T


def total_variance(swatch: Swatch) -> Floats:
    """Return the variance of a reading's L*, a* and b*, shape (3,)."""
    u = swatch.uncertainty
    return np.array([u.L, u.a, u.b]) ** 2


def own_variance(swatch: Swatch) -> Floats:
    """Return the part of it that is the swatch's own (paint, pixels), shape (3,)."""
    weight = np.array([1.0, _OWN_CHROMA**2, _OWN_CHROMA**2])
    return swatch.uncertainty.own_de00**2 * weight + _LEAST_OWN**2 / 2.0


def _shared(lab: Floats, where: Floats, variance: Floats) -> Floats:
    """Return the covariance of the shared errors, shape (3, n + 1, n + 1)."""
    colour = ((lab[:, None] - lab[None]) ** 2).sum(axis=-1)
    place = np.zeros_like(colour)
    place[:-1, :-1] = np.exp(-((where[:, None] - where[None]) ** 2).sum(axis=-1) / (2.0 * _PLACE**2))
    # The ground lies between all swatches: it sees the mean of the light's errors, not one place's.
    place[-1, :-1] = place[:-1, -1] = place[:-1, :-1].mean(axis=0)
    place[-1, -1] = place[:-1, :-1].mean()
    far, near = np.exp(-colour / (2.0 * _FAR**2)), np.exp(-colour / (2.0 * _NEAR**2))
    covariance = []
    for k, scale in enumerate(SHARE):
        alike = _EVERYWHERE[k] + _FAR_COLOURS[k] * far + _NEAR_COLOURS[k] * near + _NEAR_PLACES[k] * place
        root = scale * np.sqrt(variance[k])
        covariance.append(alike * root[:, None] * root[None])
    return np.array(covariance)
