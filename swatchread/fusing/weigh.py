"""Several readings of the same paint weighed into one, with an uncertainty that does not shrink by more than it may.

What photos of one card are off by has two parts. One is each photo's own (its noise, its light, its fit on the chart)
and averages out. The other they share: the chart's distance from its published values, and what the camera sees
otherwise than the eye. No number of photos takes that off. What part differs from photo to photo is known from pairs of
photos, and is held against what these photos do differ by: photos that agree more closely than expected (a burst in
one light) are off by the same, and their common part is taken to be larger.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from swatchread.colour import Floats, de00_metric
from swatchread.fusing.gather import Gathered

_DIFFERS = np.array([0.15, 0.384, 0.3375])
"""Part of a reading's variance that differs from photo to photo, of L*, a*, b*."""

_COMMON = np.array([0.10, 0.22, 0.28])
"""Part that photos share, at least.

Both were set on some 30 simulated cards of five photos, which no test uses, in other light, and a few in one light,
where photos share more.
"""

_PRIOR_WEIGHT = 4.0
"""How many photos' worth of evidence the expected difference between photos is."""

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
    scatter : float
        By how much the photos differ, over what was expected: 1 where they differ as photos in other light do.
    """

    lab: Floats
    sigma: Floats
    de00: Floats
    own_de00: Floats
    scatter: float


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


def weigh(gathered: Gathered, used: Mask) -> Weighed:
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
    scatter = _pooled(ratio, int(used.any(axis=1).sum()))
    single = (weight[..., None] * total).sum(axis=0)
    apart = (weight[..., None] * expected).sum(axis=0)
    averaged = (weight[..., None] ** 2 * expected).sum(axis=0)
    own_averaged = (weight[..., None] ** 2 * own).sum(axis=0)
    common = _COMMON * single * max(1.0, scatter) + apart * max(0.0, 1.0 - scatter)
    torn = np.where(ratio > _TORN, np.maximum(ratio, scatter), scatter)[:, None]
    variance = common + np.maximum(averaged * torn, own_averaged)
    alone = (used.sum(axis=0) == 1)[:, None]
    variance = np.where(alone, np.maximum(single, variance), np.minimum(variance, single * np.maximum(1.0, torn)))
    metric = np.einsum("nii->ni", de00_metric(lab))
    # CIEDE2000 goes by the readings' own statement, which knows how their L*, a* and b* hang together.
    stated = np.sqrt((weight * np.where(used, gathered.de00, 0.0) ** 2).sum(axis=0))
    shrunk = np.sqrt((metric * variance).sum(axis=1) / (metric * single).sum(axis=1))
    return Weighed(lab, np.sqrt(variance), stated * shrunk, np.sqrt((metric * own_averaged).sum(axis=1)), scatter)


def _ratio(lab: Floats, mean: Floats, weight: Floats, expected: Floats) -> Floats:
    """Return how much the readings of each swatch differ over what was expected, as ratios of variances; 0 of one."""
    spread = (weight[..., None] * (lab - mean) ** 2).sum(axis=0)
    # A weighted mean lies nearer to its own readings than the truth does.
    free = (weight[..., None] * (1.0 - weight[..., None]) * expected).sum(axis=0)
    return np.asarray((spread / np.maximum(free, 1e-9)).mean(axis=1) * ((weight > 0).sum(axis=0) > 1))


def _pooled(ratio: Floats, photos: int) -> float:
    """Return the ratio over the whole card, drawn toward 1 where few photos speak."""
    if not (ratio > 0).any():
        return 1.0
    evidence = photos - 1.0
    return (_PRIOR_WEIGHT + evidence * float(ratio[ratio > 0].mean())) / (_PRIOR_WEIGHT + evidence)
