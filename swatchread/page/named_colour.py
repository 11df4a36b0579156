"""A colour that was typed on a page, or taken from a chip: of the archive or in numbers, never of a file."""

from __future__ import annotations

import re
from typing import Final

from swatchread.archive.colour_reference import Wanted, find_colour
from swatchread.archive.store import Archive
from swatchread.errors import ArchiveError, NoteError, UsageError
from swatchread.note.phrases import plain

_NUMBERS: Final = re.compile(r"[-−+]?[\d.]+(?:[\s,;]+[-−+]?[\d.]+){2}")
_MUNSELL: Final = re.compile(r"(?:N|[\d.]+\s*(?:YR|GY|BG|PB|RP|R|Y|G|B|P))\s*[\d.]+(?:\s*/\s*[\d.]+)?", re.IGNORECASE)
_CHIP: Final = re.compile(r"(\d{1,9}):(r\d{1,6}c\d{1,6})")
_HOW: Final = (
    "Take a photo of it beside the chart, press “mix this” beside a chip on Find, or write it: "
    "60 18 29 is L* a* b*, 5YR 6/4 is Munsell, 12:r2c3 is swatch r2c3 of card 12"
)


def named_colour(text: str, archive: Archive) -> Wanted:
    """Return the colour that a text names.

    Parameters
    ----------
    text : str
        ``60 18 29`` in CIELAB (D50, 2 degree), ``5YR 6/4`` in Munsell, or ``12:r2c3``, a swatch of card 12.
    archive : Archive

    Raises
    ------
    UsageError
        If it is none of these.
    ArchiveError
        If there is no such card or swatch.
    """
    text = text.strip()
    if chip := _CHIP.fullmatch(text):
        try:
            return find_colour(text, lambda number: archive.card(number).note)
        except (ArchiveError, NoteError) as error:
            raise type(error)(f"There is no swatch {chip[2]} on a card {chip[1]}", "", _HOW) from error
    if not any(pattern.fullmatch(text) for pattern in (_NUMBERS, _MUNSELL)):
        raise UsageError(f"“{plain(text)[:60]}” is no colour that can be measured", "", _HOW)
    try:
        return find_colour(text, lambda number: archive.card(number).note)
    except UsageError as error:
        raise UsageError(error.what, error.why, _HOW) from error
