"""Munsell notations taken apart, whole or in part, for searching."""

from __future__ import annotations

import re
from dataclasses import dataclass

from swatchread.errors import UsageError

FAMILIES = ("R", "YR", "Y", "GY", "G", "BG", "B", "PB", "P", "RP")
HUE_ROOM = 2.5
VALUE_ROOM = 0.5
CHROMA_ROOM = 1.0

_NOTATION = re.compile(
    r"^\s*(?:(?P<neutral>N)|(?P<step>\d+(?:\.\d+)?)?\s*(?P<family>YR|GY|BG|PB|RP|R|Y|G|B|P))?"
    r"\s*(?P<value>\d+(?:\.\d+)?)?\s*(?:/\s*(?P<chroma>\d+(?:\.\d+)?)?)?\s*$",
    re.IGNORECASE,
)


@dataclass(frozen=True, slots=True)
class MunsellRange:
    """What a notation, whole or in part, asks for.

    Parameters
    ----------
    neutral : bool
        Asks for N.
    hue : (float, float) or None
        From and to on the circle of 100 (5 = 5R, 15 = 5YR …, 100 = 10RP), the short way upward; may pass 100.
    value, chroma : (float, float) or None
        Lowest and highest.
    """

    neutral: bool = False
    hue: tuple[float, float] | None = None
    value: tuple[float, float] | None = None
    chroma: tuple[float, float] | None = None


def munsell_range(text: str) -> MunsellRange:
    """Read what to search for: "5YR 6/4", "5YR", "YR 6", "N 5", "6/4", "/8".

    A step of hue reaches ±2.5, a value ±0.5, a chroma ±1; a bare family means the whole family.

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
        start = 10.0 * FAMILIES.index(family.upper())
        hue = (start + 1e-6, start + 10.0)  # 10R belongs to R, not to YR
        if step:
            low = (start + float(step) - HUE_ROOM) % 100.0
            hue = (low, low + 2 * HUE_ROOM)
    return MunsellRange(
        neutral=found["neutral"] is not None,
        hue=hue,
        value=_round(value, VALUE_ROOM),
        chroma=_round(chroma, CHROMA_ROOM),
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
    hue = 10.0 * FAMILIES.index(found["family"].upper()) + float(found["step"])
    return (hue - 1e-9) % 100.0 + 1e-9, float(found["chroma"])


def _round(number: str | None, room: float) -> tuple[float, float] | None:
    return (float(number) - room, float(number) + room) if number else None
