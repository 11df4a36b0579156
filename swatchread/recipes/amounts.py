"""The amounts in a recipe: numbers, fractions, percentages, and small quantities that nobody measures."""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction


class Amount(StrEnum):
    """An amount that is not a number."""

    TOUCH = "touch"
    UNSAID = "unsaid"


Parts = Fraction | Amount

_NUMBER_WORDS: dict[str, int | Fraction] = {
    "one": 1, "two": 2, "three": 3, "four": 4, "five": 5, "six": 6, "seven": 7, "eight": 8, "nine": 9,
    "ten": 10, "twelve": 12, "half": Fraction(1, 2), "third": Fraction(1, 3), "quarter": Fraction(1, 4),
}  # fmt: skip

_NOTHING = "0 parts of {paint}: is it in the mixture?"
PERCENT = "%"
DROPS = "drops"
_MEASURES = {
    "ml": r"ml|millilit(?:er|re)s?|cc", "cl": "cl", "g": r"g\.?|gr\.?|grams?|grammes?", "mg": "mg", "mm": "mm",
    "cm": "cm", "inch": r"in\.|inch(?:es)?",
    "teaspoon": r"tsps?\.?|teaspoons?", "tablespoon": r"tbsps?\.?|tablespoons?", "drops": "drops?",
}  # fmt: skip
"""Measure -> how painters write it: volume, weight, or the length that is squeezed out of a tube."""

# The patterns below are put together from smaller ones; a recipe is matched without regard to capitals.
_END = r"(?![^\W_])"  # no letter or digit follows
_DIGITS, _LONG = r"\d{1,6}", r"\d{1,20}"
_DECIMAL = rf"(?:{_DIGITS}(?:[.,]{_DIGITS})?|\.{_DIGITS})"
_NUMBER = (
    rf"(?P<whole>{_DIGITS})\s+(?P<over>{_DIGITS})\s*/\s*(?P<under>{_DIGITS})"  # 1 1/2
    rf"|(?P<numerator>{_LONG})\s*/\s*(?P<denominator>{_LONG})"  # 1/2
    rf"|(?P<decimal>{_DECIMAL})"  # 3, 0.5, .5
    rf"|(?P<word>(?:a\s+|one\s+)?(?:{'|'.join(_NUMBER_WORDS)})){_END}"  # three, a half
)
_RANGE = rf"(?P<range>{_DECIMAL}\s*(?:[-–]|\bor\b)\s*{_DECIMAL})"  # 2-3, 2 or 3
_ABOUT = r"(?P<about>(?:about|approx\.?|approximately|around|roughly|nearly|circa|ca\.?|c\.)\s+|~\s*)?"
_UNIT = (
    rf"(?:\s*(?P<percent>%|percent\b|per\s+cent\b)|\s*(?:parts?|pts?\.?){_END}|\s*[x×](?=\s|$)"
    rf"|\s*(?P<measure>{'|'.join(_MEASURES.values())}){_END})?"
)
_RANGE_UNIT = re.sub(r"\?P<\w+>", "?:", _UNIT)  # a pattern may hold each name once
_COUNT = "|".join([_DIGITS, *list(_NUMBER_WORDS)[1:10]])  # two to ten
_TINY = r"(?:(?:very\s+)?(?:tiny|small|little|wee|mere|slight|smallest|tiniest)\s+){0,2}"
_SMALL = "touch|tch|dot|bit|hint|speck|dab|pinch|trace|smidgen|spot|dash|whisper|tad|kiss|fleck|tip"
_TOUCH = (
    rf"(?P<touch>(?:(?P<count>{_COUNT})\s+)?(?:an?\s+|the\s+|just\s+an?\s+|one\s+)?{_TINY}(?:{_SMALL})(?:e?s)?{_END}"
    rf"|(?P<drop>(?:an?\s+|the\s+|just\s+an?\s+)?{_TINY}drops?{_END})"
    rf"|(?:a\s+)(?:very\s+)?little{_END})"
)
_VAGUE = rf"(?P<vague>(?:some|lots\s+of|plenty\s+of|mostly|more|less|enough|a\s+lot\s+of|much){_END}|\?)"
_PART = rf"(?P<apart>an?\s+(?:part|pt\.?){_END})"  # a part

LEADING = re.compile(
    rf"\s*{_ABOUT}(?:{_TOUCH}|{_RANGE}{_RANGE_UNIT}|{_PART}|(?:{_NUMBER})(?![\d.])(?:\s+an?{_END})?{_UNIT}|{_VAGUE})"
    rf"(?:\s+of{_END}|\s+the{_END})?(?=\s|$|[^\W\d_])",
    re.IGNORECASE,
)
"""An amount in front of a paint."""

TRAILING = re.compile(
    rf"\s+(?:[x×]\s*)?{_ABOUT}(?:{_TOUCH}|{_RANGE}|{_PART}|(?:{_NUMBER}){_UNIT}|(?P<vague>\?))\s*$",
    re.IGNORECASE,
)
"""An amount behind a paint."""


@dataclass(frozen=True, slots=True)
class Quantity:
    """An amount as it was understood.

    Parameters
    ----------
    parts : fractions.Fraction or Amount
    measure : str
        The measure ("ml", "g"), or `PERCENT`; empty for parts.
    doubt : str
        What is doubtful about it, with ``{paint}`` in place of the paint; empty if nothing is.
    """

    parts: Parts
    doubt: str = ""
    measure: str = ""


def spell_fractions(text: str) -> str:
    """Return the text with ½ and its like written as 1/2."""
    spelled = []
    for letter in text:
        plain = unicodedata.normalize("NFKC", letter)
        spelled.append(f" {plain.replace('⁄', '/')} " if "⁄" in plain and len(plain) > 1 else letter)
    return unicodedata.normalize("NFC", "".join(spelled)).replace("⁄", "/")


def read_amount(found: re.Match[str]) -> Quantity:
    """Return the amount that a match of `LEADING` or `TRAILING` stands for.

    Parameters
    ----------
    found : re.Match

    Returns
    -------
    Quantity
    """
    groups = found.groupdict()
    if groups.get("touch"):
        count = groups.get("count")
        doubt = f"{count} touches of {{paint}}: kept as a touch" if count else ""
        return Quantity(Amount.TOUCH, doubt=doubt, measure=DROPS if groups.get("drop") else "")
    if groups.get("range"):
        return Quantity(Amount.UNSAID, doubt=f"{groups['range'].strip()} of {{paint}}: which of the two?")
    if groups.get("vague"):
        return Quantity(Amount.UNSAID, doubt="how much {paint} is not said")
    if groups.get("apart"):
        return Quantity(Fraction(1))
    number, doubt = _number(groups)
    if groups.get("about") and not doubt:
        doubt = f"about {number} of {{paint}}: taken as {number}"
    return Quantity(number, doubt, _measure(groups))


def _measure(groups: dict[str, str | None]) -> str:
    written = groups.get("measure")
    if not written:
        return PERCENT if groups.get("percent") else ""
    return next(name for name, ways in _MEASURES.items() if re.fullmatch(ways, written, re.IGNORECASE))


def _number(groups: dict[str, str | None]) -> tuple[Parts, str]:
    over, under = (
        groups.get("over") or groups.get("numerator"),
        groups.get("under") or groups.get("denominator"),
    )
    if over and under:
        if int(under) == 0:
            return Amount.UNSAID, "{paint}: nothing can be divided by 0"
        number = int(groups.get("whole") or 0) + Fraction(int(over), int(under))
        return number, "" if number else _NOTHING
    if groups.get("word"):
        return Fraction(_NUMBER_WORDS[str(groups["word"]).casefold().split()[-1]]), ""
    text = str(groups["decimal"])
    number = Fraction(text.replace(",", "."))
    if number == 0:
        return number, _NOTHING
    return number, f"{text} of {{paint}}: the comma is read as a decimal point" if "," in text else ""
