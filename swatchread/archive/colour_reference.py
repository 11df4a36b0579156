"""A colour as a painter names it: by numbers, by a swatch of a note, of an archived card or of a photo."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from math import isfinite
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from swatchread.archive.conditions import VISIBLE_DE00, Near
from swatchread.archive.question_words import card_number, munsell_columns, munsell_range
from swatchread.colour.cielab import Floats
from swatchread.colour.munsell import munsell_lab
from swatchread.errors import UsageError
from swatchread.note.model import Note, load_note
from swatchread.note.phrases import plain

if TYPE_CHECKING:
    from swatchread.archive.store import Archive

_SWATCH = re.compile(r"(?P<where>.+):(?P<swatch>r\d+c\d+)", re.DOTALL)
_REMEDY = (
    "Write L,a,b (60,15,20), Munsell (5YR 6/4), a note's swatch (card.note.json:r2c3), an archived card's (12:r2c3), "
    "a photo's (card.jpg:r2c3), or the photo of a lone swatch"
)


@dataclass(frozen=True, eq=False)
class Wanted:
    """A colour that was named in a question.

    Attributes
    ----------
    name : str
        The words that named it.
    lab : ndarray, shape (3,)
        CIELAB, D50, 2 degree.
    uncertainty_de00 : float
        One-sigma CIEDE2000; 0 for numbers given as they are.
    recipe : str
        In the painter's words; empty if not known.
    swatch : (str, str) or None
        For a swatch of a card: the photo's SHA-256 and the swatch's id.
    own_de00 : float
        For a swatch of a card: the part of its uncertainty that it does not share with the rest of the photo.
    """

    name: str
    lab: Floats
    uncertainty_de00: float = 0.0
    recipe: str = ""
    swatch: tuple[str, str] | None = None
    own_de00: float = 0.0


def find_colour(text: str, archived: Callable[[int], Note]) -> Wanted:
    """Return the colour that a text names.

    Parameters
    ----------
    text : str
        ``L,a,b`` in CIELAB (D50, 2 degree), with commas or spaces; Munsell as ``5YR 6/4``; ``NOTE:r2c3``, a swatch of
        a note file; ``12:r2c3``, a swatch of the archive's card 12; ``PHOTO:r2c3``, a swatch of the card in a photo;
        or a photo of a lone swatch, or a note of one.
    archived : callable
        Returns the note of the archived card with that number. It is called only for an archived card.

    Returns
    -------
    Wanted

    Raises
    ------
    UsageError
        If the text names no colour in any of these ways.
    NoteError, ArchiveError
        If the note or card cannot be read or has no such swatch.
    PhotoError, NoChartError, NoSwatchesError, PoorReadingError
        If it names a file that is neither a note nor a photo that can be read.
    """
    whole = _file(text)
    if whole is not None:
        note = _note(whole, lone=True)
        return _of_note(note, _only_swatch(note, whole), text)
    found = _SWATCH.fullmatch(text)
    if not found:
        return Wanted(text, _numbers(text))
    where, swatch = found["where"], found["swatch"]
    number = card_number(where)
    if number is not None:
        return _of_note(archived(number), swatch, text)
    return _of_note(_note(Path(where)), swatch, text)


def read_near(text: str, archive: Archive, radius: float | None = None, visible: float = VISIBLE_DE00) -> Near:
    """Return the colour near which the archive is to be searched.

    Parameters
    ----------
    text : str
        As `find_colour` takes it.
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
    SwatchreadError
        As `find_colour` does.
    """
    wanted = find_colour(text, lambda number: archive.card(number).note)
    L, a, b = wanted.lab.tolist()
    return Near(
        (L, a, b),
        radius,
        uncertainty_de00=wanted.uncertainty_de00,
        visible=visible,
        swatch=wanted.swatch,
        own_de00=wanted.own_de00,
    )


def _file(text: str) -> Path | None:
    try:
        return Path(text) if Path(text).is_file() else None
    except (OSError, ValueError):  # too long for a name, or a zero byte in it
        return None


def _note(path: Path, *, lone: bool = False) -> Note:
    """Return the note in a note file, or read a photo of a lone swatch or of a card."""
    try:
        with path.open("rb") as file:
            is_text = file.read(1) in {b"{", b""}
    except (OSError, ValueError):
        is_text = True  # `load_note` says what is wrong
    if is_text:
        return load_note(path)
    from swatchread.reading import read_card, read_lone_swatch

    return (read_lone_swatch(path) if lone else read_card(path)).note


def _only_swatch(note: Note, path: Path) -> str:
    if len(note.swatches) > 1:
        known = ", ".join(s.id for s in note.swatches)
        raise UsageError(
            f"{path.name} shows {len(note.swatches)} swatches",
            f"they are {known}",
            f"Name one: {path}:{note.swatches[0].id}",
        )
    return note.swatches[0].id


def _of_note(note: Note, swatch_id: str, name: str) -> Wanted:
    swatch = note.swatch(swatch_id)
    return Wanted(
        name,
        np.array(swatch.lab),
        swatch.uncertainty.de00,
        swatch.recipe,
        swatch=(note.identity, swatch_id),
        own_de00=swatch.uncertainty.own_de00,
    )


def _numbers(text: str) -> Floats:
    """Return the colour of a whole Munsell notation, or of three numbers with commas or spaces between them."""
    munsell = munsell_range(text) if munsell_columns(text) != (None, None) else None
    try:
        if munsell and munsell.value:
            hue, chroma = munsell_columns(text)
            return munsell_lab(hue or 0.0, sum(munsell.value) / 2.0, chroma or 0.0)
        L, a, b = (float(part.replace("−", "-")) for part in re.split(r"\s*[,;]\s*|\s+", text.strip()))
    except ValueError as error:
        reason = "no file has that name, and it is not three numbers"
        raise UsageError(f"{plain(text)!r} names no colour", reason, _REMEDY) from error
    if not (0.0 <= L <= 100.0 and all(isfinite(x) and abs(x) <= 200.0 for x in (a, b))):
        raise UsageError(f"{text!r} is not a colour", "L* runs from 0 to 100, a* and b* stay within ±200", _REMEDY)
    return np.array([L, a, b])
