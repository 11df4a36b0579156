"""A colour that was typed on a page, or taken from a chip: of the archive or in numbers, never of a file."""

from __future__ import annotations

import re
from typing import Final

from swatchread.archive.colour_reference import Wanted, find_colour
from swatchread.archive.store import Archive
from swatchread.errors import UsageError
from swatchread.note.phrases import plain

_NUMBERS: Final = re.compile(r"[-−+]?[\d.]+(?:[\s,;]+[-−+]?[\d.]+){2}")
_MUNSELL: Final = re.compile(r"(?:N|[\d.]+\s*(?:YR|GY|BG|PB|RP|R|Y|G|B|P))\s*[\d.]+(?:\s*/\s*[\d.]+)?", re.IGNORECASE)
_CHIP: Final = re.compile(r"\d{1,9}:r\d{1,6}c\d{1,6}")


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
    if not any(pattern.fullmatch(text) for pattern in (_NUMBERS, _MUNSELL, _CHIP)):
        raise UsageError(
            f"“{plain(text)[:60]}” names no colour", "", "Write 60 18 29 (L* a* b*), 5YR 6/4, or a swatch as 12:r2c3"
        )
    return find_colour(text, lambda number: archive.card(number).note)
