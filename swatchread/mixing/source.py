"""Where cards and colours come from: the archive, note files, a photo, or three numbers."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from swatchread.colour import Floats
from swatchread.errors import UsageError
from swatchread.mixing.collect import Card
from swatchread.note import Note, Swatch, load_note
from swatchread.words import NO_COLOUR, heading, plain

_NUMBER = r"\s*([+−-]?\d+(?:\.\d+)?)\s*"
_LAB = re.compile(rf"{_NUMBER},{_NUMBER},{_NUMBER}")
_PLACE = re.compile(r"(.+):(r\d+c\d+)")


@dataclass(frozen=True, eq=False)
class Wanted:
    """A colour that a question is about.

    Attributes
    ----------
    name : str
    lab : ndarray, shape (3,)
        CIELAB, D50, 2 degree.
    uncertainty_de00 : float
        One-sigma CIEDE2000; 0 for numbers given as they are.
    recipe : str
        In the painter's words; empty if not known.
    """

    name: str
    lab: Floats
    uncertainty_de00: float = 0.0
    recipe: str = ""


def gather(notes: Sequence[Path], archive: str | None) -> list[Card]:
    """Return the cards to work from: the archive's, and those of note files.

    Parameters
    ----------
    notes : sequence of pathlib.Path
        With note files and no archive named, the archive is not opened.
    archive : str or None
        Its address; None for the usual one.

    Returns
    -------
    list of Card
        Each photo once; a note file stands for its card.

    Raises
    ------
    NoteError
        If a file is not a note.
    ArchiveError
        If the archive cannot be read.
    """
    files = [load_note(path) for path in notes]
    cards = [Card(heading(note), note) for note in files]
    known = {note.identity for note in files}
    if notes and archive is None:
        return cards
    return [card for card in _archived(archive) if card.note.identity not in known] + cards


def find_colour(text: str, archive: str | None) -> Wanted:
    """Return the colour that some words of the command line name.

    Parameters
    ----------
    text : str
        ``L,a,b``; ``NOTE:ID`` with a note file or the number of an archived card, such as ``card.note.json:r2c1`` or
        ``12:r2c1``; or a photo, whose first swatch is read.
    archive : str or None

    Returns
    -------
    Wanted

    Raises
    ------
    UsageError
        If it is none of these.
    """
    numbers = _LAB.fullmatch(text)
    if numbers:
        L, a, b = (float(n.replace("−", "-")) for n in numbers.groups())
        if not (0.0 <= L <= 100.0 and max(abs(a), abs(b)) <= 128.0):
            raise UsageError(f"{text} is not a colour", "L is 0 to 100, a and b are -128 to 128")
        return Wanted(text, np.array([L, a, b]))
    place = _PLACE.fullmatch(text)
    if place:
        return _swatch(_note(place[1], archive).swatch(place[2]), text)
    if Path(text).is_file():
        return _first_of_photo(Path(text))
    remedy = "Give L,a,b, a note's swatch such as card.note.json:r2c1, an archived one such as 12:r2c1, or a photo"
    raise UsageError(f"{plain(text)} names no colour", NO_COLOUR, remedy)


def _swatch(swatch: Swatch, name: str) -> Wanted:
    return Wanted(name, np.array(swatch.lab), swatch.uncertainty.de00, swatch.recipe)


def _note(named: str, archive: str | None) -> Note:
    if named.isdigit() and not Path(named).exists():
        from swatchread.archive.store import Archive

        with Archive.open(archive) as opened:
            return opened.card(int(named)).note
    return load_note(Path(named))


def _first_of_photo(path: Path) -> Wanted:
    from swatchread.reading import read_card

    return _swatch(read_card(path).note.swatches[0], path.name)


def _archived(address: str | None) -> list[Card]:
    from swatchread.archive.store import Archive

    with Archive.open(address) as opened:
        views = [opened.card(line.card) for line in opened.cards()]
    return [Card(f"card {view.card}", view.note) for view in views]
