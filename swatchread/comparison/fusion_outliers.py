"""Which readings of a card disagree with the others beyond their uncertainty: a whole photo, or one swatch in it."""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil

import numpy as np
import numpy.typing as npt

from swatchread.colour.cielab import Floats, delta_e_2000
from swatchread.comparison.fusion_alignment import Gathered
from swatchread.comparison.fusion_weights import differing, mean_of, weights

_ODD_PHOTO = 3.0
_ODD_SWATCH = 4.0
"""Times the uncertainty above which a photo, or one reading, is left out; errors have long tails."""

_CHI2_MEDIAN = 0.789
"""Median of chi-squared of three degrees of freedom, over three."""

_FEW = 3

Mask = npt.NDArray[np.bool_]


@dataclass(frozen=True)
class Odd:
    """A reading that disagrees.

    Attributes
    ----------
    photo : int
        Which reading.
    swatch : int or None
        Which swatch of it; None for the whole photo.
    de00 : float
        How far it lies from the others, CIEDE2000; of a photo the median over its swatches.
    times : float
        The same, over what the readings' uncertainty allows for (one standard uncertainty is 1).
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
        Rows of photos that were left out and columns of marks that were left out hold nothing.
    photos : tuple of Odd
        Photos that were left out.
    readings : tuple of Odd
        Single readings that were left out.
    torn : tuple of Odd
        Readings that disagree where nobody can tell which is right: of two photos, or of a swatch in two.
    marks : tuple of (int, int)
        Photo and swatch: found in too few photos to be paint.
    """

    used: Mask
    photos: tuple[Odd, ...]
    readings: tuple[Odd, ...]
    torn: tuple[Odd, ...]
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
    photos: list[Odd] = []
    while used.any(axis=1).sum() >= _FEW:
        tried = [_odd_photo(gathered, used, k) for k in range(len(used)) if used[k].any()]
        worst = max(tried, key=lambda odd: odd.times)
        if worst.times < _ODD_PHOTO:
            break
        photos.append(worst)
        used = used.copy()
        used[worst.photo] = False
    used, readings, torn = _odd_readings(gathered, used)
    return Agreed(used, tuple(photos), tuple(readings), tuple(torn), marks)


def _without_marks(used: Mask) -> tuple[Mask, tuple[tuple[int, int], ...]]:
    """Leave out what too few of many photos take for a swatch: writing, a stain, an edge."""
    photos = len(used)
    least = 1 if photos <= _FEW else max(2, ceil(photos / 4))
    few = used.sum(axis=0) < least
    if few.all():
        return used, ()
    where = tuple((int(k), int(j)) for k, j in np.argwhere(used & few))
    return used & ~few, where


def _odd_photo(gathered: Gathered, used: Mask, photo: int) -> Odd:
    """Hold a photo against the middle of the others."""
    others = used.copy()
    others[photo] = False
    both = used[photo] & others.any(axis=0)
    if not both.any():
        return Odd(photo, None, 0.0, 0.0)
    middle, variance = _middle(gathered, others[:, both], both)
    lab = gathered.lab[photo, both]
    z2 = ((lab - middle) ** 2 / (variance + differing(gathered)[photo, both])).mean(axis=1)
    # The middle one of its swatches speaks for the photo: a single bad one does not make a bad photo.
    times = float(np.sqrt(np.median(z2) / _CHI2_MEDIAN))
    return Odd(photo, None, float(np.median(delta_e_2000(lab, middle))), times)


def _middle(gathered: Gathered, others: Mask, columns: Mask) -> tuple[Floats, Floats]:
    """Return the median of the other readings of each swatch and its variance, shape (n, 3) each."""
    lab = np.where(others[..., None], gathered.lab[:, columns], np.nan)
    expected = np.where(others[..., None], differing(gathered)[:, columns], np.nan)
    count = others.sum(axis=0)[:, None]
    # Of a few normal deviates the median is a little less sure than the mean.
    loss = np.where(count > 2, np.pi / 2.0, 1.0)
    return np.nanmedian(lab, axis=0), np.nanmean(expected, axis=0) * loss / count


def _odd_readings(gathered: Gathered, used: Mask) -> tuple[Mask, list[Odd], list[Odd]]:
    """Hold each reading of a swatch against the others of that swatch, once each photo's common shift is off."""
    used = used.copy()
    straight, expected = _straight(gathered, used), differing(gathered)
    left_out: list[Odd] = []
    torn: list[Odd] = []
    for j in range(used.shape[1]):
        while used[:, j].sum() >= 2:
            members = np.flatnonzero(used[:, j])
            odd = [_odd_reading(straight[members, j], expected[members, j], i) for i in range(len(members))]
            worst = int(np.argmax([times for _, times in odd]))
            off, times = odd[worst]
            if times < _ODD_SWATCH:
                break
            one = Odd(int(members[worst]), j, off, times)
            if len(members) < _FEW:
                torn.append(one)
                break
            left_out.append(one)
            used[members[worst], j] = False
    return used, left_out, torn


def _straight(gathered: Gathered, used: Mask) -> Floats:
    """Return the readings without each photo's common shift; of two photos it stays, for neither is the right one."""
    lab = np.nan_to_num(gathered.lab)
    if used.any(axis=1).sum() < _FEW:
        return lab
    off = np.where(used[..., None], lab - mean_of(lab, weights(gathered, used)), np.nan)
    shift = np.array([np.nanmedian(photo, axis=0) if np.isfinite(photo).any() else np.zeros(3) for photo in off])
    return np.asarray(lab - shift[:, None])


def _odd_reading(lab: Floats, variance: Floats, which: int) -> tuple[float, float]:
    """Return how far one of a swatch's readings lies from the middle of the others: CIEDE2000, and over what is due."""
    others = np.arange(len(lab)) != which
    middle = np.median(lab[others], axis=0)
    due = variance[which] + variance[others].mean(axis=0) * (np.pi / 2.0 if others.sum() > 2 else 1.0) / others.sum()
    times = float(np.sqrt(((lab[which] - middle) ** 2 / due).mean()))
    return float(delta_e_2000(lab[which], middle)), times
