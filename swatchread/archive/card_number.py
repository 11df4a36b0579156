"""Telling the number of an archived card from the name of a file."""

from __future__ import annotations

from pathlib import Path

_MOST_DIGITS = 9
"""Digits of the largest number that every database can hold as a key."""


def card_number(text: str) -> int | None:
    """Return the number of an archived card, or None if the text can only be the name of a file.

    Parameters
    ----------
    text : str
        As typed. A file whose name is a number wins over the card.
    """
    is_number = text.isdecimal() and len(text) <= _MOST_DIGITS
    return int(text) if is_number and not Path(text).exists() else None
