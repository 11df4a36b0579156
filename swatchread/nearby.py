"""The colour to look round, as a painter names it."""

from __future__ import annotations

import re
from math import isfinite
from pathlib import Path
from typing import TYPE_CHECKING

from swatchread.archive.likeness import VISIBLE_DE00
from swatchread.archive.query import Near
from swatchread.errors import UsageError
from swatchread.note import Note, load_note
from swatchread.words import NO_COLOUR

if TYPE_CHECKING:
    from swatchread.archive.store import Archive

_SWATCH = re.compile(r"^(?P<where>.+):(?P<swatch>r\d+c\d+)$", re.DOTALL)
_REMEDY = "Write L,a,b (60,15,20), a note's swatch (card.note.json:r2c3), an archived card's (12:r2c3) or a photo"


def read_near(text: str, archive: Archive, radius: float | None = None, visible: float = VISIBLE_DE00) -> Near:
    """Understand which colour is meant.

    Parameters
    ----------
    text : str
        ``L,a,b`` in CIELAB (D50, 2 degree); ``NOTE:r2c3``, a swatch of a note file; ``12:r2c3``, a swatch of the
        archive's card 12; or a photo of a lone swatch beside a chart, ``PHOTO:r2c3`` where it shows several.
    archive : Archive
    radius : float, optional
        Largest CIEDE2000.
    visible : float
        CIEDE2000 up to which two colours count as one.

    Returns
    -------
    Near

    Raises
    ------
    UsageError
        If it is none of these.
    NoteError, ArchiveError
        If the note or card cannot be read or has no such swatch.
    PhotoError, NoChartError, NoSwatchesError, PoorReadingError
        If it is a file that is no note, and cannot be read as a photo.
    """
    whole = _file(text)
    if whole is not None:
        note = _note(whole, lone=True)
        return _of_note(note, _only_swatch(note, whole), radius, visible)
    found = _SWATCH.match(text)
    if not found:
        return Near(_numbers(text), radius, visible=visible)
    where, swatch = found["where"], found["swatch"]
    path = Path(where)
    # A longer number is no card's: it is left to the file system to say that there is no such file.
    if where.isdecimal() and len(where) <= 9 and not path.exists():
        return _of_note(archive.card(int(where)).note, swatch, radius, visible)
    return _of_note(_note(path), swatch, radius, visible)


def _file(text: str) -> Path | None:
    try:
        return Path(text) if Path(text).is_file() else None
    except (OSError, ValueError):  # too long for a name, or a zero byte in it
        return None


def _note(path: Path, *, lone: bool = False) -> Note:
    """Return a note file's note, or read the photo, of a lone swatch or of a card."""
    try:
        with path.open("rb") as file:
            is_text = file.read(1) in {b"{", b""}
    except (OSError, ValueError):
        is_text = True  # let the note's reader say what is wrong
    if is_text:
        return load_note(path)
    from swatchread.reading import read_card

    return read_card(path, lone=lone).note


def _only_swatch(note: Note, path: Path) -> str:
    if len(note.swatches) > 1:
        known = ", ".join(s.id for s in note.swatches)
        raise UsageError(
            f"{path.name} shows {len(note.swatches)} swatches", f"they are {known}", f"Name one: {path}:r1c1"
        )
    return note.swatches[0].id


def _of_note(note: Note, swatch_id: str, radius: float | None, visible: float) -> Near:
    swatch = note.swatch(swatch_id)
    return Near(
        swatch.lab,
        radius,
        uncertainty_de00=swatch.uncertainty.de00,
        visible=visible,
        swatch=(note.identity, swatch_id),
        own_de00=swatch.uncertainty.own_de00,
    )


def _numbers(text: str) -> tuple[float, float, float]:
    try:
        L, a, b = (float(part) for part in text.split(","))
    except ValueError as error:
        raise UsageError(f"{text!r} names no colour", NO_COLOUR, _REMEDY) from error
    if not (0.0 <= L <= 100.0 and all(isfinite(x) and abs(x) <= 200.0 for x in (a, b))):
        raise UsageError(f"{text!r} is not a colour", "L* runs from 0 to 100, a* and b* stay within ±200", _REMEDY)
    return L, a, b
