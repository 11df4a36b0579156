"""Several readings of the same paint weighed into one, with an uncertainty that does not shrink by more than it may.

What photos of one card are off by has two parts. One is each photo's own (its noise, its light, its fit on the chart)
and averages out. The other they share: the chart's distance from its published values, what the camera sees otherwise
than the eye, and, in one light, most of what that light makes of the colours. No number of photos takes that off.
Nothing in a photo says in which light another was taken, but the readings tell what part is whose: by how much the
photos differ from each other, over all swatches of the card, against the variance that each states, is the part that is
not shared (a model of random effects: Searle, Casella & McCulloch 1992, Variance Components). The rest stays.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from swatchread.colour.cielab import Floats, de00_metric
from swatchread.comparison.fusion_alignment import Gathered

_DIFFERS = np.array([0.34, 0.38, 0.31])
"""Variance between photos in other light, over the variance stated, of L*, a*, b*."""

_NOT_SHARED = np.array([0.80, 0.74, 0.74])
"""What they do not share, over the variance stated, which is wider than the errors so that their tails are in."""

_MIDDLE = np.array([1.0, 0.8, 0.8])
"""By how much the middle swatch of such photos differs, over the mean one."""

_USUAL, _USUAL_WEIGHT = np.array([1.0, 0.7, 0.7]), np.array([2.0, 0.5, 0.5])
"""How much photos differ where few say it, and how many photos' worth of evidence that is.

The light on a card is each photo's own in any light, and few photos measure how far it is off: L* is drawn more.
All were set on 26 simulated cards of five photos (seeds 132000 to 132011 in other and in like light, 133000 to 133013
in like light), which no test uses, and on their first two photos.
"""

_SOFT = 1.0
_ROUNDS = 6
_TORN = 4.0
"""Ratio of variances above which the readings of one swatch contradict each other, and its own part is widened."""

Mask = npt.NDArray[np.bool_]


@dataclass(frozen=True, eq=False)
class Weighed:
    """The fused colours.

    Attributes
    ----------
    lab : ndarray, shape (n, 3)
        CIELAB, D50, 2 degree.
    sigma : ndarray, shape (n, 3)
        Standard uncertainties of L*, a*, b*.
    de00, own_de00 : ndarray, shape (n,)
        Standard uncertainty in CIEDE2000, and the part that is each swatch's own.
    scatter : ndarray, shape (3,)
        By how much the photos differ in L*, a* and b*: 1 where they differ as photos in other light do, 0 where they
        repeat one error. a* and b* are taken together.
    """

    lab: Floats
    sigma: Floats
    de00: Floats
    own_de00: Floats
    scatter: Floats


def differing(gathered: Gathered) -> Floats:
    """Return the part of the readings' variance that differs between photos, shape (photos, swatches, 3)."""
    return np.maximum(_DIFFERS * gathered.variance, gathered.own)


def weights(gathered: Gathered, used: Mask) -> Floats:
    """Return the weights of the readings, shape (photos, swatches), 0 where one is not used.

    Surer readings weigh more, by their standard uncertainty and not by its square: that uncertainty is itself only an
    estimate. One that lies apart from the rest weighs less (Huber's weights), before it is left out.

    Parameters
    ----------
    gathered : Gathered
    used : ndarray, shape (photos, swatches), bool
    """
    lab, expected = np.nan_to_num(gathered.lab), np.where(used[..., None], differing(gathered), 1.0)
    plain = np.where(used, 1.0 / np.where(used, gathered.de00, 1.0), 0.0)
    weight = plain
    for _ in range(_ROUNDS):
        off = np.sqrt(((lab - mean_of(lab, weight)) ** 2 / expected).mean(axis=-1))
        weight = plain / np.maximum(1.0, off / _SOFT)
    return weight


def mean_of(lab: Floats, weight: Floats) -> Floats:
    """Return the weighted mean over the photos, shape (swatches, 3)."""
    total = np.maximum(weight.sum(axis=0), 1e-12)
    return np.asarray((weight[..., None] * lab).sum(axis=0) / total[:, None])


def weighted_mean(gathered: Gathered, used: Mask) -> Weighed:
    """Fuse readings.

    Parameters
    ----------
    gathered : Gathered
    used : ndarray, shape (photos, swatches), bool
        Which readings to use; at least one a swatch.

    Returns
    -------
    Weighed
    """
    raw = weights(gathered, used)
    weight = raw / raw.sum(axis=0)
    lab = mean_of(np.nan_to_num(gathered.lab), weight)
    zero = np.zeros(3)
    total = np.where(used[..., None], gathered.variance, zero)
    own = np.where(used[..., None], gathered.own, zero)
    expected = np.where(used[..., None], differing(gathered), zero)
    ratio = _ratio(np.nan_to_num(gathered.lab), lab, weight, expected)
    scatter = _pooled(ratio[used.sum(axis=0) > 1], int(used.any(axis=1).sum()))
    single = (weight[..., None] * total).sum(axis=0)
    averaged = (weight[..., None] ** 2 * expected).sum(axis=0)
    own_averaged = (weight[..., None] ** 2 * own).sum(axis=0)
    # Squared: noise, places and angles differ in one light as well, so that half the scatter is not half the errors.
    common = single * (1.0 - _NOT_SHARED * np.minimum(1.0, scatter) ** 2) * np.maximum(1.0, scatter)
    of_all = ratio.mean(axis=1, keepdims=True)
    torn = np.where(of_all > _TORN, np.maximum(of_all, scatter), scatter)
    variance = common + np.maximum(averaged * torn, own_averaged)
    alone = (used.sum(axis=0) == 1)[:, None]
    variance = np.where(alone, np.maximum(single, variance), np.minimum(variance, single * np.maximum(1.0, torn)))
    metric = np.einsum("nii->ni", de00_metric(lab))
    # CIEDE2000 goes by the readings' own statement, which knows how their L*, a* and b* hang together.
    stated = np.sqrt((weight * np.where(used, gathered.de00, 0.0) ** 2).sum(axis=0))
    shrunk = np.sqrt((metric * variance).sum(axis=1) / (metric * single).sum(axis=1))
    return Weighed(lab, np.sqrt(variance), stated * shrunk, np.sqrt((metric * own_averaged).sum(axis=1)), scatter)


def _ratio(lab: Floats, mean: Floats, weight: Floats, expected: Floats) -> Floats:
    """Return how much the readings of each swatch differ over what was expected, shape (swatches, 3); 0 of one."""
    spread = (weight[..., None] * (lab - mean) ** 2).sum(axis=0)
    # A weighted mean lies nearer to its own readings than the truth does.
    free = (weight[..., None] * (1.0 - weight[..., None]) * expected).sum(axis=0)
    ratio = spread / np.maximum(free, 1e-9)
    ratio[:, 1:] = ratio[:, 1:].mean(axis=1, keepdims=True)
    return np.asarray(ratio * ((weight > 0).sum(axis=0) > 1)[:, None])


def _pooled(ratio: Floats, photos: int) -> Floats:
    """Return the ratio of the middle swatch, shape (3,), drawn toward the usual one where few photos speak."""
    if not len(ratio):
        return np.ones(3)
    evidence = photos - 1.0
    seen = np.median(ratio, axis=0)
    return np.asarray((_USUAL_WEIGHT * _USUAL + evidence * seen) / (_USUAL_WEIGHT + evidence) / _MIDDLE)
