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
    photos: list[Outlier] = []
    while used.any(axis=1).sum() >= _MAJORITY:
        tried = [_odd_photo(gathered, used, k) for k in range(len(used)) if used[k].any()]
        worst = max(tried, key=lambda outlier: outlier.times)
        if worst.times < _ODD_PHOTO:
            break
        photos.append(worst)
        used = used.copy()
        used[worst.photo] = False
    used, readings, disputed = _odd_readings(gathered, used)
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


def _odd_photo(gathered: Gathered, used: Mask, photo: int) -> Outlier:
    """Compare a photo with the median of the others."""
    others = used.copy()
    others[photo] = False
    both = used[photo] & others.any(axis=0)
    if not both.any():
        return Outlier(photo, None, 0.0, 0.0)
    middle, variance = _middle(gathered, others[:, both], both)
    lab = gathered.lab[photo, both]
    z2 = ((lab - middle) ** 2 / (variance + differing(gathered)[photo, both])).mean(axis=1)
    # The median of its swatches speaks for the photo: a single bad one does not make a bad photo.
    times = float(np.sqrt(np.median(z2) / _CHI2_MEDIAN))
    return Outlier(photo, None, float(np.median(delta_e_2000(lab, middle))), times)


def _middle(gathered: Gathered, others: Mask, columns: Mask) -> tuple[Floats, Floats]:
    """Return the median of the other readings of each swatch and its variance, shape (n, 3) each."""
    lab = np.where(others[..., None], gathered.lab[:, columns], np.nan)
    expected = np.where(others[..., None], differing(gathered)[:, columns], np.nan)
    count = others.sum(axis=0)[:, None]
    return np.nanmedian(lab, axis=0), np.nanmean(expected, axis=0) * _loss(count) / count


def _loss(count: npt.ArrayLike) -> Floats:
    """Return the variance of a median of normal deviates over that of their mean; of two they are the same."""
    return np.where(np.greater(count, 2), np.pi / 2.0, 1.0)


def _odd_readings(gathered: Gathered, used: Mask) -> tuple[Mask, list[Outlier], list[Outlier]]:
    """Compare each reading of a swatch with the others of it, after each photo's common shift is taken off."""
    used = used.copy()
    shifted, expected = _without_shifts(gathered, used), differing(gathered)
    left_out: list[Outlier] = []
    disputed: list[Outlier] = []
    for j in range(used.shape[1]):
        while used[:, j].sum() >= 2:
            members = np.flatnonzero(used[:, j])
            tried = [_odd_reading(shifted[members, j], expected[members, j], i) for i in range(len(members))]
            worst = int(np.argmax([times for _, times in tried]))
            off, times = tried[worst]
            if times < _ODD_SWATCH:
                break
            one = Outlier(int(members[worst]), j, off, times)
            if len(members) < _MAJORITY:
                disputed.append(one)
                break
            left_out.append(one)
            used[members[worst], j] = False
    return used, left_out, disputed


def _without_shifts(gathered: Gathered, used: Mask) -> Floats:
    """Return the readings without each photo's common shift; of two photos it stays, as either may be right."""
    lab = np.nan_to_num(gathered.lab)
    if used.any(axis=1).sum() < _MAJORITY:
        return lab
    off = np.where(used[..., None], lab - mean_of(lab, weights(gathered, used)), np.nan)
    shift = np.array([np.nanmedian(photo, axis=0) if np.isfinite(photo).any() else np.zeros(3) for photo in off])
    shifted: Floats = lab - shift[:, None]
    return shifted


def _odd_reading(lab: Floats, variance: Floats, which: int) -> tuple[float, float]:
    """Return how far a reading is from the median of the others, in CIEDE2000 and in standard uncertainties."""
    others = np.arange(len(lab)) != which
    middle = np.median(lab[others], axis=0)
    expected = variance[which] + variance[others].mean(axis=0) * _loss(others.sum()) / others.sum()
    times = float(np.sqrt(((lab[which] - middle) ** 2 / expected).mean()))
    return float(delta_e_2000(lab[which], middle)), times
