"""What the painter is told of photos that were fused: what was left out, where, and why."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from swatchread.comparison.fusion_alignment import Gathered
from swatchread.comparison.fusion_outliers import Agreed, Odd
from swatchread.note.flags import warn
from swatchread.note.model import Note, Warn

_MOST_NAMED = 12


@dataclass(frozen=True)
class Left:
    """A photo that has no say.

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


def odd_photo(gathered: Gathered, odd: Odd) -> Left:
    """Say why a photo that disagrees was left out."""
    note = gathered.notes[odd.photo]
    why = (
        f"its swatches lie {odd.de00:.1f} CIEDE2000 from the others', {odd.times:.1f} times what the readings' "
        "uncertainty allows for"
    )
    return Left(note.photo.file, why, note)


def warnings_of(gathered: Gathered, agreed: Agreed, left: Sequence[Left]) -> tuple[Warn, ...]:
    """Return the warnings of a fused note: first those of the fusing, then those that the photos carry.

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
        found.append(("reading_left_out", _listed(_placed(gathered, one) for one in agreed.readings)))
    if agreed.torn:
        found.append(("photos_disagree", _listed(_placed(gathered, one) for one in agreed.torn)))
    alone = np.flatnonzero(agreed.used.sum(axis=0) == 1).tolist()
    if alone:
        where = [int(np.flatnonzero(agreed.used[:, j])[0]) for j in alone]
        found.append(
            ("seen_once", _listed(f"{gathered.ids[j]} in {files[k]}" for j, k in zip(alone, where, strict=True)))
        )
    if agreed.marks:
        count: dict[str, int] = defaultdict(int)
        for photo, _ in agreed.marks:
            count[files[photo]] += 1
        found.append(("marks_left_out", _listed(f"{number} in {file}" for file, number in count.items())))
    return tuple(warn(code, detail) for code, detail in found) + _of_photos(gathered, agreed)


def _of_photos(gathered: Gathered, agreed: Agreed) -> tuple[Warn, ...]:
    """Return the warnings of the photos that have a say, each kind once, with the photos it is true of."""
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


def _placed(gathered: Gathered, odd: Odd) -> str:
    where = "" if odd.swatch is None else f"{gathered.ids[odd.swatch]} in "
    file = gathered.notes[odd.photo].photo.file
    return f"{where}{file} ({odd.de00:.1f} CIEDE2000 from the others, {odd.times:.1f} times what is allowed for)"


def _listed(parts: Iterable[str]) -> str:
    """Join parts; of very many only the first, and how many more."""
    named = list(parts)
    more = len(named) - _MOST_NAMED
    return "; ".join(named[:_MOST_NAMED]) + (f"; and {more} more" if more > 0 else "")
