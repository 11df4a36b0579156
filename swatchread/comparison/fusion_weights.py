"""Averages several readings of the same paint, with an uncertainty that shrinks only as far as it may.

The errors of photos of one card have two parts. One is each photo's own (its noise, its light, its fit on the chart)
and averages out. The photos share the other: the chart's difference from its published values, what the camera sees
otherwise than the eye and, in one light, most of what that light does to the colours. No number of photos removes it.
No photo says in which light another was taken, but the readings show it: the variance between the photos, over all
swatches of the card and relative to the variance that each photo states, is the part that is not shared (a model of
random effects: Searle, Casella & McCulloch 1992, Variance Components).

The constants were fitted on 26 simulated cards of five photos (seeds 132000 to 132011 in other and in the same light,
133000 to 133013 in the same light), which no test uses, and on the first two photos of each.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from swatchread.colour.cielab import Floats, de00_metric
from swatchread.comparison.fusion_alignment import Gathered

_DIFFERS = np.array([0.34, 0.38, 0.31])
"""Variance between photos in different light, relative to the variance stated, of L*, a*, b*."""

_NOT_SHARED = np.array([0.80, 0.74, 0.74])
"""Variance that they do not share, relative to the variance stated (set wide enough for long tails)."""

_MIDDLE = np.array([1.0, 0.8, 0.8])
"""How much the median swatch of such photos differs, relative to the mean one."""

_USUAL = np.array([1.0, 0.7, 0.7])
"""How much photos usually differ, relative to photos in different light: assumed as far as few photos show it."""
_USUAL_WEIGHT = np.array([2.0, 0.5, 0.5])
"""How many photos' worth of evidence that is; more for L*, because the amount of light differs in every photo."""
_HUBER = 1.0
"""Standard uncertainties from the mean beyond which a reading counts less."""
_ROUNDS = 6
_CONTRADICTION = 4.0
"""Ratio of variances above which the readings of one swatch contradict each other, and its uncertainty is widened."""

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
    """

    lab: Floats
    sigma: Floats
    de00: Floats
    own_de00: Floats


def differing(gathered: Gathered) -> Floats:
    """Return the part of the readings' variance that differs between photos, shape (photos, swatches, 3)."""
    return np.maximum(_DIFFERS * gathered.variance, gathered.own)


def weights(gathered: Gathered, used: Mask) -> Floats:
    """Return the weights of the readings, shape (photos, swatches), 0 where one is not used.

    More certain readings weigh more, by their standard uncertainty and not by its square, because that uncertainty is
    itself only an estimate. A reading that differs from the rest weighs less (Huber's weights), before it is left out.

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
        weight = plain / np.maximum(1.0, off / _HUBER)
    return weight


def mean_of(lab: Floats, weight: Floats) -> Floats:
    """Return the weighted mean over the photos, shape (swatches, 3)."""
    total = np.maximum(weight.sum(axis=0), 1e-12)
    mean: Floats = (weight[..., None] * lab).sum(axis=0) / total[:, None]
    return mean


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
    # How much the photos differ in L*, a* and b*: 1 like photos in different light, 0 if they repeat one error.
    scatter = _pooled(ratio[used.sum(axis=0) > 1], int(used.any(axis=1).sum()))
    single = (weight[..., None] * total).sum(axis=0)
    averaged = (weight[..., None] ** 2 * expected).sum(axis=0)
    own_averaged = (weight[..., None] ** 2 * own).sum(axis=0)
    # Squared, because noise, places and angles differ in one light as well: half the scatter is not half the errors.
    common = single * (1.0 - _NOT_SHARED * np.minimum(1.0, scatter) ** 2) * np.maximum(1.0, scatter)
    of_all = ratio.mean(axis=1, keepdims=True)
    factor = np.where(of_all > _CONTRADICTION, np.maximum(of_all, scatter), scatter)
    variance = common + np.maximum(averaged * factor, own_averaged)
    alone = (used.sum(axis=0) == 1)[:, None]
    variance = np.where(alone, np.maximum(single, variance), np.minimum(variance, single * np.maximum(1.0, factor)))
    metric = np.einsum("nii->ni", de00_metric(lab))
    # CIEDE2000 starts from what the readings state, which includes the correlation of their L*, a* and b*.
    stated = np.sqrt((weight * np.where(used, gathered.de00, 0.0) ** 2).sum(axis=0))
    shrunk = np.sqrt((metric * variance).sum(axis=1) / (metric * single).sum(axis=1))
    return Weighed(lab, np.sqrt(variance), stated * shrunk, np.sqrt((metric * own_averaged).sum(axis=1)))


def _ratio(lab: Floats, mean: Floats, weight: Floats, expected: Floats) -> Floats:
    """Return how much the readings of each swatch differ, relative to what was expected, shape (swatches, 3)."""
    spread = (weight[..., None] * (lab - mean) ** 2).sum(axis=0)
    # A weighted mean is nearer to its own readings than the truth is.
    free = (weight[..., None] * (1.0 - weight[..., None]) * expected).sum(axis=0)
    ratio = spread / np.maximum(free, 1e-9)
    ratio[:, 1:] = ratio[:, 1:].mean(axis=1, keepdims=True)
    several: Floats = ratio * ((weight > 0).sum(axis=0) > 1)[:, None]
    return several


def _pooled(ratio: Floats, photos: int) -> Floats:
    """Return the ratio of the median swatch, shape (3,), nearer to the usual one if there are few photos."""
    if not len(ratio):
        return np.ones(3)
    evidence = photos - 1.0
    seen = np.median(ratio, axis=0)
    pooled: Floats = (_USUAL_WEIGHT * _USUAL + evidence * seen) / (_USUAL_WEIGHT + evidence) / _MIDDLE
    return pooled
