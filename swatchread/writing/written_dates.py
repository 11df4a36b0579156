"""Dates as painters write them, and the days that each may mean."""

from __future__ import annotations

import contextlib
import re
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from typing import Final, Literal

from swatchread.note.model import Note

Order = Literal["day first", "month first"]
"""Which of day and month a painter writes first where figures alone stand."""

_MONTHS: Final = (
    ("jan", "jän", "gen", "ene"), ("feb", "fév", "fev"), ("mar", "mär", "mrz", "maa", "mrt"), ("apr", "avr", "abr"),
    ("may", "mai", "mag", "mei"), ("jun", "juin", "giu"), ("jul", "juil", "lug"), ("aug", "aoû", "aou", "ago"),
    ("sep", "set"), ("oct", "okt", "ott"), ("nov",), ("dec", "dez", "déc", "dic"),
)  # fmt: skip
"""How the names of the months begin in English, German, French, Italian, Spanish and Dutch."""

MONTH_NAMES: Final = (
    "january", "february", "march", "april", "may", "june", "july", "august", "september", "october", "november",
    "december", "jan", "feb", "mar", "apr", "jun", "jul", "aug", "sep", "sept", "oct", "nov", "dec",
)  # fmt: skip
"""Names of months that are expected on cards."""

_FIRST_YEAR, _MOST_MONTHS = 1900, 12
_SPACE: Final = r"[^\S\n]*"
_MARK: Final = rf"{_SPACE}[./\- ]{_SPACE}"
_NAME: Final = r"(?P<name>[^\W\d_]{3,9})\.?"
_DAY: Final = r"(?P<day>\d{1,2})(?:st|nd|rd|th)?\.?"
_YEAR: Final = r"'?(?P<year>(?:19|20)\d\d|\d\d)"
_FORMS: Final = tuple(
    re.compile(rf"(?<![\w/.\-]){form}(?![\w/\-]|\.\d)", re.IGNORECASE)
    for form in (
        rf"(?P<year>(?:19|20)\d\d){_MARK}(?P<month>\d{{1,2}}){_MARK}(?P<day>\d{{1,2}})",
        rf"(?P<one>\d{{1,2}}){_SPACE}[./\-]{_SPACE}(?P<other>\d{{1,2}}){_MARK}{_YEAR}",
        rf"{_DAY}{_SPACE}[,\-]?{_SPACE}{_NAME}{_SPACE}[,\-]?{_SPACE}{_YEAR}",
        rf"{_NAME}{_SPACE}{_DAY}{_SPACE},?{_SPACE}(?P<year>(?:19|20)\d\d|'\d\d)",
        rf"{_NAME}{_SPACE}(?P<year>(?:19|20)\d\d)",
        rf"(?P<year>(?:19|20)\d\d){_SPACE}-{_SPACE}(?P<month>\d{{1,2}})",
        r"(?P<year>(?:19|20)\d\d)",
    )
)
"""Forms of a date, the fuller ones first."""


@dataclass(frozen=True, slots=True)
class WrittenDate:
    """A date within a text.

    Attributes
    ----------
    start, end : int
        Where it stands in the text.
    meanings : tuple of str
        What it may mean, year first: ``2024-03-12``, ``2024-03`` or ``2024``. Two where day and month cannot be told.
    """

    start: int
    end: int
    meanings: tuple[str, ...]


def find_date(text: str, *, latest: date, order: Order | None = None) -> WrittenDate | None:
    """Find the date in a text.

    Parameters
    ----------
    text : str
    latest : datetime.date
        The day of the photo: no date on the card is later.
    order : str, optional
        Which of day and month this painter writes first, if that is known.

    Returns
    -------
    WrittenDate or None
        The fullest date in the text; None if there is none.
    """
    for form in _FORMS:
        for found in form.finditer(text):
            meanings = tuple(dict.fromkeys(_meanings(found.groupdict(), latest, order)))
            if meanings:
                return WrittenDate(found.start(), found.end(), meanings)
    return None


def order_in(text: str, meant: str) -> Order | None:
    """Return which of day and month stands first in a text, if what its date means shows that; None otherwise.

    Parameters
    ----------
    text : str
    meant : str
        What the painter gave as its date; only one that stands year first shows anything.
    """
    try:
        latest = date(int(meant[:4]), 12, 31)
    except ValueError:
        return None
    written = find_date(text, latest=latest)
    if written is None or len(written.meanings) != 2 or meant not in written.meanings:
        return None
    return "day first" if meant == written.meanings[0] else "month first"


def day_of(note: Note) -> date:
    """Return the day of a note's photo, or else of its reading."""
    for text in (note.photo.taken, note.made):
        with contextlib.suppress(ValueError):
            return date.fromisoformat((text or "")[:10])
    return date.max


def day_words(day: str) -> str:
    """Write a date that stands year first with the month's name: "3 April 2024"."""
    year, month, number = day.split("-")
    return f"{int(number)} {MONTH_NAMES[int(month) - 1].capitalize()} {year}"


def _meanings(parts: dict[str, str | None], latest: date, order: Order | None) -> Iterator[str]:
    """Yield the dates that may be meant, with the day before the month first."""
    year = _whole_year(parts["year"] or "", latest)
    name, day = parts.get("name"), parts.get("day")
    if "one" in parts:
        one, other = int(parts["one"] or 0), int(parts["other"] or 0)
        if order != "month first":
            yield from _day(year, other, one, latest)
        if order != "day first" or other > _MOST_MONTHS:
            yield from _day(year, one, other, latest)
    elif name is not None and _month(name) is None:
        return
    elif day is not None:
        yield from _day(year, _month(name) if name else int(parts["month"] or 0), int(day), latest)
    elif name is not None or parts.get("month") is not None:
        month = _month(name) if name else int(parts["month"] or 0)
        if month and month <= _MOST_MONTHS and (year, month) <= (latest.year, latest.month):
            yield f"{year}-{month:02d}"
    elif year <= latest.year:
        yield str(year)


def _day(year: int, month: int | None, day: int, latest: date) -> Iterator[str]:
    try:
        found = date(year, month or 0, day)
    except ValueError:
        return
    if found <= latest:
        yield found.isoformat()


def _month(name: str) -> int | None:
    begun = name.casefold()
    return next((k for k, names in enumerate(_MONTHS, start=1) if begun.startswith(names)), None)


def _whole_year(written: str, latest: date) -> int:
    """Return a year of four figures; of two, the last such year that is not later than the photo."""
    year = int(written.strip("'"))
    if year >= _FIRST_YEAR:
        return year
    century = latest.year - latest.year % 100
    return century + year if century + year <= latest.year else century - 100 + year
