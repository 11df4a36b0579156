"""Dates as a painter writes them, if they have only one meaning."""

from __future__ import annotations

import re
from datetime import date

from swatchread.errors import UsageError

_ISO = re.compile(r"(?<!\d)(\d{4})(?:[-:./](\d{1,2})(?:[-:./](\d{1,2}))?)?(?!\d)")


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
