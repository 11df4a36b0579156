"""What the words of a question mean: Munsell notations, whole or in part, dates, and the numbers of archived cards."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from swatchread.errors import UsageError

_FAMILIES = ("R", "YR", "Y", "GY", "G", "BG", "B", "PB", "P", "RP")
"""The ten hue families in their order on the circle, 10 steps each (ASTM D1535)."""
_HUE_REACH = 2.5
"""Hue steps to either side that a hue includes: half the distance to the next hue of the charts (2.5, 5, 7.5, 10)."""
_VALUE_REACH = 0.5
"""Values to either side that a value includes: half a step of whole values."""
_CHROMA_REACH = 1.0
"""Chromas to either side that a chroma includes: half the distance to the next chroma of the charts (2, 4, 6 …)."""

_NOTATION = re.compile(
    r"^\s*(?:(?P<neutral>N)|(?P<step>\d+(?:\.\d+)?)?\s*(?P<family>YR|GY|BG|PB|RP|R|Y|G|B|P))?"
    r"\s*(?P<value>\d+(?:\.\d+)?)?\s*(?:/\s*(?P<chroma>\d+(?:\.\d+)?)?)?\s*$",
    re.IGNORECASE,
)

_ISO = re.compile(r"(?<!\d)(\d{4})(?:[-:./](\d{1,2})(?:[-:./](\d{1,2}))?)?(?!\d)")

_MOST_DIGITS = 9
"""Digits of the largest number that every database can hold as a key."""


@dataclass(frozen=True, slots=True)
class MunsellRange:
    """The range that a whole or partial notation stands for.

    Parameters
    ----------
    neutral : bool
        Whether it is N.
    hue : (float, float) or None
        Lowest and highest on the circle of 100 (5 = 5R, 15 = 5YR …, 100 = 10RP). The highest may be above 100.
    value, chroma : (float, float) or None
        Lowest and highest.
    """

    neutral: bool = False
    hue: tuple[float, float] | None = None
    value: tuple[float, float] | None = None
    chroma: tuple[float, float] | None = None


def munsell_range(text: str) -> MunsellRange:
    """Return the range to search in for a text like "5YR 6/4", "5YR", "YR 6", "N 5", "6/4" or "/8".

    A hue includes 2.5 steps to either side, a value 0.5, a chroma 1. A family alone means the whole family.

    Raises
    ------
    UsageError
        If it is no Munsell notation.
    """
    found = _NOTATION.match(text)
    if not found or not any(found.groupdict().values()):
        raise UsageError(f"{text!r} is not a Munsell notation", "", "Write it like 5YR 6/4, 5YR, YR 6 or N 5")
    step, family, value, chroma = (found[name] for name in ("step", "family", "value", "chroma"))
    if float(step or 0.0) > 10.0 or float(value or 0.0) > 10.0:
        raise UsageError(f"{text!r} is not a Munsell notation", "a hue's step and the value run from 0 to 10")
    hue = None
    if family:
        start = 10.0 * _FAMILIES.index(family.upper())
        hue = (start + 1e-6, start + 10.0)  # 10R belongs to R, not to YR
        if step:
            low = (start + float(step) - _HUE_REACH) % 100.0
            hue = (low, low + 2 * _HUE_REACH)
    return MunsellRange(
        neutral=found["neutral"] is not None,
        hue=hue,
        value=_around(value, _VALUE_REACH),
        chroma=_around(chroma, _CHROMA_REACH),
    )


def munsell_columns(notation: str) -> tuple[float | None, float | None]:
    """Return hue on the circle of 100 and chroma of a whole notation; (None, 0.0) for a neutral, else None."""
    found = _NOTATION.match(notation)
    if not found:
        return None, None
    if found["neutral"]:
        return None, 0.0
    if not found["step"] or not found["family"] or not found["chroma"]:
        return None, None
    hue = 10.0 * _FAMILIES.index(found["family"].upper()) + float(found["step"])
    return (hue - 1e-9) % 100.0 + 1e-9, float(found["chroma"])


def _around(number: str | None, reach: float) -> tuple[float, float] | None:
    return (float(number) - reach, float(number) + reach) if number else None


def day_range(text: str) -> tuple[int, int] | None:
    """Return the first and the last day that a date can mean, as YYYYMMDD, or None if it has more than one meaning.

    Only year-first dates are read ("2024", "2024-05", "2024-05-31", a longer ISO time): "3/4/24" can mean two days.

    Parameters
    ----------
    text : str
    """
    found = _ISO.search(text)
    if not found:
        return None
    year, month, day = (int(part) if part else 0 for part in found.groups())
    try:
        date(year, month or 1, day or 1)
    except ValueError:
        return None
    return (
        year * 10000 + (month or 1) * 100 + (day or 1),
        year * 10000 + (month or 12) * 100 + (day or 31),
    )


def parse_day_range(text: str) -> tuple[int, int]:
    """Return the first and the last day that a date can mean, as YYYYMMDD.

    Raises
    ------
    UsageError
        If it is not a date written year first.
    """
    days = day_range(text)
    if days is None:
        raise UsageError(f"{text!r} is not a date", "", "Write it year first: 2024, 2024-05 or 2024-05-31")
    return days


def card_number(text: str) -> int | None:
    """Return the number of an archived card, or None if the text can only be the name of a file.

    Parameters
    ----------
    text : str
        As typed. A file whose name is a number wins over the card.
    """
    is_number = text.isdecimal() and len(text) <= _MOST_DIGITS
    return int(text) if is_number and not Path(text).exists() else None
