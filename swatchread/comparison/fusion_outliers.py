"""Finds the readings of a card that disagree with the others, a whole photo or one swatch in it, and says so."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import ceil

import numpy as np
import numpy.typing as npt

from swatchread.colour.cielab import Floats, delta_e_2000
from swatchread.comparison.fusion_alignment import Gathered
from swatchread.comparison.fusion_weights import differing, mean_of, weights
from swatchread.note.flags_and_warnings import Warn, warn
from swatchread.note.model import Note

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
_MOST_NAMED = 12
"""Readings that one warning names."""

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
    marks : tuple of int
        The photo of each thing that too few photos show for it to be paint.
    """

    used: Mask
    photos: tuple[Outlier, ...]
    readings: tuple[Outlier, ...]
    disputed: tuple[Outlier, ...]
    marks: tuple[int, ...]


@dataclass(frozen=True)
class Left:
    """A photo that was left out.

    Attributes
    ----------
    file : str
    why : str
    note : Note or None
        Its reading, if it could be read.
    """

    file: str
    why: str
    note: Note | None = None


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


def _without_marks(used: Mask) -> tuple[Mask, tuple[int, ...]]:
    """Leave out what only a few of many photos take for a swatch: writing, a stain, an edge."""
    photos = len(used)
    least = 1 if photos <= _MAJORITY else max(2, ceil(_MARK_SHARE * photos))
    few = used.sum(axis=0) < least
    if few.all():
        return used, ()
    return used & ~few, tuple(np.nonzero(used & few)[0].tolist())


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


def left_photo(gathered: Gathered, outlier: Outlier) -> Left:
    """Say why a photo that disagrees was left out."""
    note = gathered.notes[outlier.photo]
    why = (
        f"its swatches lie {outlier.de00:.1f} CIEDE2000 from the others', {outlier.times:.1f} times what the readings' "
        "uncertainty allows for"
    )
    return Left(note.photo.file, why, note)


def warnings_of(gathered: Gathered, agreed: Agreed, left: Sequence[Left]) -> tuple[Warn, ...]:
    """Return the warnings of a fused note: first those of the fusion, then those of the photos.

    Parameters
    ----------
    gathered : Gathered
    agreed : Agreed
    left : sequence of Left

    Returns
    -------
    tuple of Warn
    """
    files = [note.photo.file for note in gathered.notes]
    found: list[tuple[str, str]] = []
    if left:
        found.append(("photo_left_out", "; ".join(f"{one.file} ({one.why})" for one in left)))
    if agreed.readings:
        found.append(("reading_left_out", _listed(_outlier_words(gathered, one) for one in agreed.readings)))
    if agreed.disputed:
        found.append(("photos_disagree", _listed(_outlier_words(gathered, one) for one in agreed.disputed)))
    alone = np.flatnonzero(agreed.used.sum(axis=0) == 1).tolist()
    if alone:
        where = agreed.used[:, alone].argmax(axis=0).tolist()
        found.append(
            ("seen_once", _listed(f"{gathered.ids[j]} in {files[k]}" for j, k in zip(alone, where, strict=True)))
        )
    if agreed.marks:
        count = Counter(files[photo] for photo in agreed.marks)
        found.append(("marks_left_out", _listed(f"{number} in {file}" for file, number in count.items())))
    return tuple(warn(code, detail) for code, detail in found) + _of_photos(gathered, agreed)


def _of_photos(gathered: Gathered, agreed: Agreed) -> tuple[Warn, ...]:
    """Return the warnings of the photos that were used, each kind once, with the photos that carry it."""
    out = {one.photo for one in agreed.photos}
    first: dict[str, Warn] = {}
    files: dict[str, list[str]] = defaultdict(list)
    for k, note in enumerate(gathered.notes):
        if k not in out:
            for warning in note.warnings:
                first.setdefault(warning.code, warning)
                files[warning.code].append(note.photo.file)
    many = len(gathered.notes) - len(out)
    return tuple(
        warning
        if len(files[code]) == many
        else warning.model_copy(update={"message": f"{', '.join(files[code])}: {warning.message}"})
        for code, warning in first.items()
    )


def _outlier_words(gathered: Gathered, outlier: Outlier) -> str:
    where = "" if outlier.swatch is None else f"{gathered.ids[outlier.swatch]} in "
    file = gathered.notes[outlier.photo].photo.file
    return (
        f"{where}{file} ({outlier.de00:.1f} CIEDE2000 from the others, {outlier.times:.1f} times what is allowed for)"
    )


def _listed(parts: Iterable[str]) -> str:
    """Join parts; of very many name only the first, and say how many more there are."""
    named = list(parts)
    more = len(named) - _MOST_NAMED
    return "; ".join(named[:_MOST_NAMED]) + (f"; and {more} more" if more > 0 else "")
