"""A recipe's text is split into paints and their amounts."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cache
from itertools import islice

from swatchread.recipes.amounts import LEADING, TRAILING, Amount, Quantity, read_amount, spell_fractions
from swatchread.recipes.tubes import TubeList

MAX_NAME_WORDS = 40
"""A longer run of words without a separator is taken for one name: no mixture is written that way."""

_STRONG_SEPARATOR = re.compile(r"\s*(?:\+|;|\n|&|\b(?:plus|with|and|then)\b|\bw/)\s*", re.IGNORECASE)
_WEAK_SEPARATOR = re.compile(r"\s*(?:,(?!\d)|(?<!\d),|\bto\b)\s*", re.IGNORECASE)
_RATIO = re.compile(r"(?<![^\W_])(?:\d{1,6}(?:\.\d{1,6})?\s*:\s*)+\d{1,6}(?:\.\d{1,6})?(?![^\W_]|[.:]\d)")
_EQUAL_PARTS = re.compile(r"^\s*(?:equal|same)(?:\s+(?:parts|amounts))?(?:\s+of)?\s+", re.IGNORECASE)
_MIXTURE_OF = re.compile(r"^\s*(?:an?\s+)?(?:mix|mixture|blend)\s+(?:of|from)\s+", re.IGNORECASE)
_LABEL = re.compile(r"^\s*(?:(?P<words>[^\W\d_](?:[^\d:+,;&\n]{0,38}[^\W\d_])?):|\(?(?P<mark>\w{1,3})\))\s+")
"""What stands before a recipe and is none of it: "shadow: 2 earth + 1 blue", "A) 2 earth"."""
_UNMIXED = re.compile(
    r"^\s*(?:(?:pure|neat|straight)\s+)+|(?:\s+(?:pure|neat|unmixed|straight|alone|from\s+the\s+tube))+\s*$",
    re.IGNORECASE,
)
_QUESTIONED = re.compile(r"[\W_]*\?[\W_]*$")
"""A question mark behind a paint: "1 ochre?", "1 ochre (?)"."""

_WHOLE_NAME = frozenset({"exact", "abbreviation"})
"""Kinds of `swatchread.recipes.tubes.Match` that account for every word of a tube's name."""

_END_SIGNS = " \t\r\n.,;:+&/()[]"
_START_SIGNS = re.compile(r"^(?:[\s,;:+&/()\[\]]|\.(?!\d))+")


@dataclass(frozen=True, slots=True)
class Piece:
    """One paint of a recipe's text.

    Parameters
    ----------
    name : str
        The words for the paint.
    amount : Quantity or None
        None if the text gives none.
    written : str
        The piece as it was written.
    """

    name: str
    amount: Quantity | None
    written: str

    def left_open(self) -> Piece:
        """Return the piece with its amount unsaid."""
        return replace(self, amount=Quantity(Amount.UNSAID))

    def as_one(self, measure: str) -> Piece:
        """Return the piece with one of a measure in place of a touch: "a drop" among drops is one."""
        is_touch = self.amount and self.amount.parts is Amount.TOUCH
        return replace(self, amount=Quantity(Fraction(1), measure=measure)) if is_touch else self

    def as_one_part(self) -> Piece:
        """Return the piece with an amount of one part if it has none."""
        return self if self.amount else replace(self, amount=Quantity(Fraction(1)))


def split_recipe(text: str, tubes: TubeList) -> tuple[tuple[Piece, ...], list[tuple[str, str]]]:
    """Split a recipe into paints and amounts.

    Parameters
    ----------
    text : str
    tubes : TubeList
        Tells where one name ends and the next begins when nothing separates them.

    Returns
    -------
    pieces : tuple of Piece
    doubts : list of (str, str)
        Words and message, for each ratio that does not fit the names beside it.
    """
    plain = _MIXTURE_OF.sub("", _without_label(spell_fractions(text), tubes), count=1)
    plain, has_equal_parts = _EQUAL_PARTS.subn("", plain, count=1)
    splitter = _Splitter(_items(plain), tubes)
    pieces = [_without_unmixed(piece, tubes) for piece in splitter.split()]
    bare = [piece for piece in pieces if piece.amount is None]
    touched = all(piece.amount is None or piece.amount.parts is Amount.TOUCH for piece in pieces)
    # Beside touches alone, the one paint without an amount is the body of the mixture.
    if has_equal_parts or (len(bare) == 1 and touched):
        pieces = [piece.as_one_part() for piece in pieces]
    return tuple(pieces), splitter.doubts


def _without_label(text: str, tubes: TubeList) -> str:
    label = _LABEL.match(text)
    if label is None or LEADING.match(text) or not _names_after_amount(text[label.end() :]):
        return text
    return text if tubes.match(label["words"] or label["mark"]).names else text[label.end() :]


def _without_unmixed(piece: Piece, tubes: TubeList) -> Piece:
    """Return the piece with the name "earth" for "pure earth", unless there is a tube that is called so."""
    name = piece.name
    while not tubes.match(name).names and (shorter := _trim(_UNMIXED.sub("", name))) not in {"", name}:
        name = shorter
    return replace(piece, name=name)


def _items(text: str) -> list[str]:
    """Split a text at its separators."""
    items = []
    for clause in _STRONG_SEPARATOR.split(text):
        items.extend([clause] if _is_verbatim(clause) else _WEAK_SEPARATOR.split(clause))
    return [item for item in items if _trim(item)]


def _is_verbatim(item: str) -> bool:
    """Tell whether a question mark says that all that follows is a paint's name, whatever it looks like."""
    return item.lstrip().startswith("?")


class _Splitter:
    """Reads items in order. A ratio may take in neighbours that have no amount of their own."""

    def __init__(self, items: list[str], tubes: TubeList) -> None:
        self._items = items
        self._tubes = tubes
        self._next = 0
        self._pieces: list[Piece] = []
        self.doubts: list[tuple[str, str]] = []

    def split(self) -> list[Piece]:
        while self._next < len(self._items):
            item = self._items[self._next]
            self._next += 1
            ratio = None if _is_verbatim(item) else _RATIO.search(item)
            if ratio:
                self._split_ratio(item, ratio)
            else:
                self._pieces.extend(_pieces(item))
        return self._pieces

    def _split_ratio(self, item: str, ratio: re.Match[str]) -> None:
        terms = [Fraction(term.strip()) for term in ratio.group().split(":")]
        before, after = _trim(item[: ratio.start()]), _trim(item[ratio.end() :])
        after = re.sub(r"^of\s+", "", after, flags=re.IGNORECASE)
        names = None
        if not (before and after):
            names = _names(before or after, len(terms), self._tubes)
            names = names or (self._with_earlier(before, len(terms)) if before else None)
            names = names or (self._with_later(after, len(terms)) if after else None)
        if names is None:
            message = f"the ratio {ratio.group()} does not fit the paints named with it"
            self.doubts.append((item.strip(), message))
            rest = [piece for part in (before, after) if part for piece in _pieces(part)]
            self._pieces.extend(p if p.amount else p.left_open() for p in rest)
            return
        self._pieces.extend(Piece(n, Quantity(t), f"{t} {n}") for n, t in zip(names, terms, strict=True))

    def _with_earlier(self, name: str, count: int) -> list[str] | None:
        """Return the `count` names that end with this one if the pieces before it have no amounts."""
        first = len(self._pieces) - count + 1
        earlier = self._pieces[first:] if first >= 0 else []
        if len(earlier) != count - 1 or any(piece.amount for piece in earlier):
            return None
        del self._pieces[first:]
        return [*(piece.name for piece in earlier), name]

    def _with_later(self, name: str, count: int) -> list[str] | None:
        """Return the `count` names that begin with this one if the items after it have no amounts."""
        later = self._items[self._next : self._next + count - 1]
        pieces = [piece for item in later if not _RATIO.search(item) for piece in _pieces(item)]
        if len(later) != count - 1 or len(pieces) != count - 1 or any(piece.amount for piece in pieces):
            return None
        self._next += count - 1
        return [name, *(piece.name for piece in pieces)]


def _pieces(item: str) -> list[Piece]:
    """Return the paints of an item without a ratio."""
    parts = [item.strip()] if _is_verbatim(item) else _split_at_amounts(item)
    return [piece for piece in map(_piece, parts) if piece.name]


def _trim(text: str) -> str:
    """Return the text on one line without signs at its ends; the point of ".5" stays."""
    return _START_SIGNS.sub("", " ".join(text.split())).rstrip(_END_SIGNS)


def _piece(item: str) -> Piece:
    written = _trim(item)
    if _is_verbatim(item):
        unsaid = Quantity(Amount.UNSAID, doubt="how much {paint} is not said")
        return Piece(_trim(item.lstrip()[1:]), unsaid, written)
    certain = _QUESTIONED.sub("", written)
    if certain and certain != written:
        doubt = Quantity(Amount.UNSAID, doubt=f"“{written}” carries a question mark")
        return replace(_piece(certain), amount=doubt, written=written)
    leading, trailing = LEADING.match(written), TRAILING.search(written)
    for found, rest in (
        (leading, written[leading.end() :] if leading else ""),
        (trailing, written[: trailing.start()] if trailing else ""),
    ):
        name = _trim(rest)
        if found and name:
            if LEADING.match(name) or TRAILING.search(name):
                return _open(written, "two amounts for one paint in {paint}")
            return Piece(name, read_amount(found), written)
    return _open(written, "{paint}: an amount without a paint") if leading else Piece(written, None, written)


def _open(written: str, doubt: str) -> Piece:
    return Piece(written, Quantity(Amount.UNSAID, doubt=doubt), written)


def _split_at_amounts(item: str) -> list[str]:
    """Split "3 white 1 ochre" before each amount; leave an item with one amount whole."""
    words = item.split()
    if len(words) > MAX_NAME_WORDS or not LEADING.match(item):
        return [item]
    starts = [0]
    position = 1
    while position < len(words):
        rest = " ".join(words[position:])
        if _names_after_amount(rest) and _names_after_amount(" ".join(words[starts[-1] : position])):
            starts.append(position)
            amount = LEADING.match(rest)
            position += len(amount.group().split()) if amount else 1
        else:
            position += 1
    return [" ".join(words[start:end]) for start, end in zip(starts, [*starts[1:], len(words)], strict=True)]


def _names_after_amount(text: str) -> bool:
    """Tell whether a text begins with an amount and a name follows."""
    amount = LEADING.match(text)
    return bool(amount and _trim(text[amount.end() :]))


def _names(words: str, count: int, tubes: TubeList) -> list[str] | None:
    """Return the `count` names in the words, or None if they cannot be told apart in exactly one way."""
    listed = [name for part in re.split(r"[:/]", words) if (name := _trim(part))]
    if any(LEADING.match(part) or TRAILING.search(part) for part in listed):
        return None
    if len(listed) == count:
        return listed
    single = [word for written in words.split() if (word := _trim(written))]
    if tubes.match(words).how in _WHOLE_NAME:  # "2:1 red ochre" names one paint, not two
        return None
    if len(listed) != 1 or not count <= len(single) <= MAX_NAME_WORDS:
        return None
    for is_name in (lambda name: tubes.match(name).how in _WHOLE_NAME, lambda name: tubes.match(name).how != "none"):
        ways = _ways_to_cut(single, count, is_name)
        if ways:
            return list(ways[0]) if len(ways) == 1 else None
    return single if len(single) == count else None


def _ways_to_cut(words: list[str], count: int, is_name: Callable[[str], bool]) -> list[tuple[str, ...]]:
    """Return up to two ways to cut the words into `count` names."""

    @cache
    def cut(start: int, left: int) -> list[tuple[str, ...]]:
        if not left:
            return [()] if start == len(words) else []
        ways = (
            (name, *rest)
            for end in range(start + 1, len(words) + 1)
            for rest in cut(end, left - 1)
            if is_name(name := " ".join(words[start:end]))
        )
        return list(islice(ways, 2))

    return cut(0, count)
