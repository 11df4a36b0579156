"""Finds the readings of a card that disagree with the others: a whole photo, or one swatch in it."""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil

import numpy as np
import numpy.typing as npt

from swatchread.colour.cielab import Floats, delta_e_2000
from swatchread.comparison.fusion_alignment import Gathered
from swatchread.comparison.fusion_weights import differing, mean_of, weights

_ODD_PHOTO = 3.0
"""Times the uncertainty beyond which a photo is left out (assumed; errors have long tails)."""
_ODD_SWATCH = 4.0
"""Times the uncertainty beyond which one reading of a swatch is left out (assumed: there are many of them)."""
_CHI2_MEDIAN = 0.789
"""Median of chi-squared of three degrees of freedom, divided by three."""
_MAJORITY = 3
"""Fewest photos among which the one that disagrees can be found."""
_MARK_SHARE = 0.25
"""Share of the photos that must show a swatch; what fewer show is a mark (assumed)."""

Mask = npt.NDArray[np.bool_]


@dataclass(frozen=True)
class Outlier:
    """A reading that disagrees.

    Attributes
    ----------
    photo : int
        Which reading.
    swatch : int or None
        Which swatch of it; None for the whole photo.
    de00 : float
        CIEDE2000 from the others; of a photo the median over its swatches.
    times : float
        The same in standard uncertainties of the readings.
    """

    photo: int
    swatch: int | None
    de00: float
    times: float


@dataclass(frozen=True, eq=False)
class Agreed:
    """Which readings are used.

    Attributes
    ----------
    used : ndarray, shape (photos, swatches), bool
        False for photos and for marks that were left out.
    photos : tuple of Outlier
        Photos that were left out.
    readings : tuple of Outlier
        Single readings that were left out.
    disputed : tuple of Outlier
        Readings that disagree, but with only one other, so that nobody can tell which is right.
    marks : tuple of (int, int)
        Photo and swatch of what too few photos show for it to be paint.
    """

    used: Mask
    photos: tuple[Outlier, ...]
    readings: tuple[Outlier, ...]
    disputed: tuple[Outlier, ...]
    marks: tuple[tuple[int, int], ...]


def drop_outliers(gathered: Gathered) -> Agreed:
    """Leave out what disagrees with the others beyond its uncertainty.

    Parameters
    ----------
    gathered : Gathered

    Returns
    -------
    Agreed
    """
    used = np.isfinite(gathered.lab[..., 0])
    used, marks = _without_marks(used)
    variance = differing(gathered)
    photos: list[Outlier] = []
    while used.any(axis=1).sum() >= _MAJORITY:
        lab = np.where(used[..., None], gathered.lab, np.nan)
        tried = [_as_photo(lab, variance, k) for k in range(len(used)) if used[k].any()]
        worst = max(tried, key=lambda outlier: outlier.times)
        if worst.times < _ODD_PHOTO:
            break
        photos.append(worst)
        used = used.copy()
        used[worst.photo] = False
    used, readings, disputed = _odd_readings(_without_shifts(gathered, used), variance)
    return Agreed(used, tuple(photos), tuple(readings), tuple(disputed), marks)


def _without_marks(used: Mask) -> tuple[Mask, tuple[tuple[int, int], ...]]:
    """Leave out what only a few of many photos take for a swatch: writing, a stain, an edge."""
    photos = len(used)
    least = 1 if photos <= _MAJORITY else max(2, ceil(_MARK_SHARE * photos))
    few = used.sum(axis=0) < least
    if few.all():
        return used, ()
    where = tuple((int(k), int(j)) for k, j in np.argwhere(used & few))
    return used & ~few, where


def _as_photo(lab: Floats, variance: Floats, photo: int) -> Outlier:
    """Compare a whole photo with the others; the median of its swatches speaks for it, for one may be bad by itself."""
    square, de00 = _from_others(lab, variance, photo)
    if not len(square):
        return Outlier(photo, None, 0.0, 0.0)
    return Outlier(photo, None, float(np.median(de00)), float(np.sqrt(np.median(square) / _CHI2_MEDIAN)))


def _odd_readings(lab: Floats, variance: Floats) -> tuple[Mask, list[Outlier], list[Outlier]]:
    """Compare each reading of a swatch with the others of it; say which are used, left out and disputed."""
    lab = lab.copy()
    left_out: list[Outlier] = []
    disputed: list[Outlier] = []
    for j in range(lab.shape[1]):
        while len(members := np.flatnonzero(np.isfinite(lab[:, j, 0])).tolist()) >= 2:
            tried = []
            for k in members:
                square, de00 = _from_others(lab[:, [j]], variance[:, [j]], k)
                tried.append(Outlier(k, j, float(de00[0]), float(np.sqrt(square[0]))))
            worst = max(tried, key=lambda outlier: outlier.times)
            if worst.times < _ODD_SWATCH:
                break
            if len(members) < _MAJORITY:
                disputed.append(worst)
                break
            left_out.append(worst)
            lab[worst.photo, j] = np.nan
    return np.isfinite(lab[..., 0]), left_out, disputed


def _without_shifts(gathered: Gathered, used: Mask) -> Floats:
    """Return the used readings without each photo's common shift; of two photos it stays, as either may be right."""
    lab = np.where(used[..., None], gathered.lab, np.nan)
    if used.any(axis=1).sum() < _MAJORITY:
        return lab
    off = lab - mean_of(np.nan_to_num(gathered.lab), weights(gathered, used))
    shift = np.array([np.nanmedian(photo, axis=0) if np.isfinite(photo).any() else np.zeros(3) for photo in off])
    shifted: Floats = lab - shift[:, None]
    return shifted


def _from_others(lab: Floats, variance: Floats, photo: int) -> tuple[Floats, Floats]:
    """Return how far one photo's readings are from the median of the others'.

    Parameters
    ----------
    lab, variance : ndarray, shape (photos, n, 3)
        Readings, NaN where there is none, and their variance.
    photo : int

    Returns
    -------
    square : ndarray, shape (k,)
        Mean square over L*, a*, b* in standard uncertainties, of the swatches that another photo shows too.
    de00 : ndarray, shape (k,)
        The same in CIEDE2000.
    """
    others = np.delete(lab, photo, axis=0)
    count = np.isfinite(others[..., 0]).sum(axis=0)
    both = np.isfinite(lab[photo, :, 0]) & (count > 0)
    own, others, count = lab[photo, both], others[:, both], count[both][:, None]
    middle = np.nanmedian(others, axis=0)
    of_others = np.where(np.isfinite(others), np.delete(variance, photo, axis=0)[:, both], np.nan)
    # The median of normal deviates is less certain than their mean, by this ratio of variances; of two it is the mean.
    loss = np.where(count > 2, np.pi / 2.0, 1.0)
    expected = variance[photo, both] + np.nanmean(of_others, axis=0) * loss / count
    return ((own - middle) ** 2 / expected).mean(axis=1), delta_e_2000(own, middle)
