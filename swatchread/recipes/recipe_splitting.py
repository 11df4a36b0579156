"""Cutting a recipe's text into paints with their amounts."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import partial

from swatchread.recipes.amounts import LEADING, TRAILING, Amount, Read, read_amount, spell_fractions
from swatchread.recipes.tubes import TubeList

MAX_NAME_WORDS = 40
"""More words than this between two signs are taken as one name: no mixture is spelled that way."""

_STRONG = re.compile(r"\s*(?:\+|;|\n|&|\b(?:plus|with|and|then)\b|\bw/)\s*", re.IGNORECASE)
_WEAK = re.compile(r"\s*(?:,(?!\d)|(?<!\d),|\bto\b)\s*", re.IGNORECASE)
_RATIO = re.compile(r"(?<![^\W_])(?:\d{1,6}(?:\.\d{1,6})?\s*:\s*)+\d{1,6}(?:\.\d{1,6})?(?![^\W_]|[.:]\d)")
_EQUAL = re.compile(r"^\s*(?:equal|same)(?:\s+(?:parts|amounts))?(?:\s+of)?\s+", re.IGNORECASE)
_MIX = re.compile(r"^\s*(?:an?\s+)?(?:mix|mixture|blend)\s+(?:of|from)\s+", re.IGNORECASE)
_WHOLE = frozenset({"exact", "abbreviation"})
_EDGES = " \t\r\n.,;:+&/()[]"
_START = re.compile(r"^(?:[\s,;:+&/()\[\]]|\.(?!\d))+")


@dataclass(frozen=True, slots=True)
class Piece:
    """One paint as cut out of the text.

    Parameters
    ----------
    name : str
        The words for the paint.
    amount : Read or None
        None if nothing is written.
    written : str
        The piece as it stands.
    """

    name: str
    amount: Read | None
    written: str

    def left_open(self) -> Piece:
        """Return the piece with its amount unsaid."""
        return replace(self, amount=Read(Amount.UNSAID))


@dataclass(frozen=True, slots=True)
class Split:
    """A recipe's pieces, and (words, message) for each ratio that fits no names."""

    pieces: tuple[Piece, ...]
    doubts: tuple[tuple[str, str], ...]


def split_recipe(text: str, tubes: TubeList) -> Split:
    """Cut a recipe into paints and amounts.

    Parameters
    ----------
    text : str
    tubes : TubeList
        Needed to see where one name ends and the next begins when nothing stands between them.

    Returns
    -------
    Split
    """
    plain = spell_fractions(text)
    mixed = _MIX.match(plain)
    plain = plain[mixed.end() :] if mixed else plain
    equal = _EQUAL.match(plain)
    plain = plain[equal.end() :] if equal else plain
    reader = _Reader(_items(plain), tubes)
    pieces = reader.read()
    if equal:
        pieces = [p if p.amount else replace(p, amount=Read(Fraction(1))) for p in pieces]
    return Split(_with_whole(pieces), tuple(reader.doubts))


def _with_whole(pieces: list[Piece]) -> tuple[Piece, ...]:
    # Beside touches alone, the one paint without an amount is the mixture's body: one part.
    bare = [piece for piece in pieces if piece.amount is None]
    if len(bare) == 1 and all(p.amount is None or p.amount.parts is Amount.TOUCH for p in pieces):
        return tuple(p if p.amount else replace(p, amount=Read(Fraction(1))) for p in pieces)
    return tuple(pieces)


def _items(text: str) -> list[str]:
    items = []
    for clause in _STRONG.split(text):
        verbatim = clause.lstrip().startswith("?")
        items.extend([clause] if verbatim else _WEAK.split(clause))
    return [item for item in items if _trim(item)]


class _Reader:
    """Reads items in order; a ratio may take in neighbours that have no amount of their own."""

    def __init__(self, items: list[str], tubes: TubeList) -> None:
        self._items = items
        self._tubes = tubes
        self._next = 0
        self._pieces: list[Piece] = []
        self.doubts: list[tuple[str, str]] = []

    def read(self) -> list[Piece]:
        while self._next < len(self._items):
            item = self._items[self._next]
            self._next += 1
            found = None if item.lstrip().startswith("?") else _RATIO.search(item)
            if found:
                self._read_ratio(item, found)
            else:
                self._pieces.extend(_pieces(item))
        return self._pieces

    def _read_ratio(self, item: str, found: re.Match[str]) -> None:
        terms = [Fraction(term.strip()) for term in found.group().split(":")]
        before, after = _trim(item[: found.start()]), _trim(item[found.end() :])
        after = re.sub(r"^of\s+", "", after, flags=re.IGNORECASE)
        names = None
        if not (before and after):
            names = _names(before or after, len(terms), self._tubes)
            names = names or (self._with_earlier(before, len(terms)) if before else None)
            names = names or (self._with_later(after, len(terms)) if after else None)
        if names is None:
            message = f"the ratio {found.group()} does not fit the paints named with it"
            self.doubts.append((item.strip(), message))
            rest = [piece for part in (before, after) if part for piece in _pieces(part)]
            self._pieces.extend(p if p.amount else p.left_open() for p in rest)
            return
        self._pieces.extend(Piece(n, Read(t), f"{t} {n}") for n, t in zip(names, terms, strict=True))

    def _with_earlier(self, name: str, count: int) -> list[str] | None:
        earlier = self._pieces[len(self._pieces) - count + 1 :] if count <= len(self._pieces) + 1 else []
        if len(earlier) != count - 1 or any(piece.amount for piece in earlier):
            return None
        del self._pieces[len(self._pieces) - count + 1 :]
        return [*(piece.name for piece in earlier), name]

    def _with_later(self, name: str, count: int) -> list[str] | None:
        later = self._items[self._next : self._next + count - 1]
        pieces = [piece for item in later if not _RATIO.search(item) for piece in _pieces(item)]
        if len(later) != count - 1 or len(pieces) != count - 1 or any(piece.amount for piece in pieces):
            return None
        self._next += count - 1
        return [name, *(piece.name for piece in pieces)]


def _pieces(item: str) -> list[Piece]:
    runs = [item.strip()] if item.lstrip().startswith("?") else _runs(item)
    return [piece for run in runs for piece in _keep(_piece(run))]


def _trim(text: str) -> str:
    """Return the text on one line without signs at its ends; the point of ".5" stays."""
    return _START.sub("", " ".join(text.split())).rstrip(_EDGES)


def _keep(piece: Piece) -> list[Piece]:
    return [piece] if piece.name else []


def _piece(item: str) -> Piece:
    if item.lstrip().startswith("?"):  # what follows is the paint, whatever it looks like
        name = _trim(item.lstrip()[1:])
        return Piece(name, Read(Amount.UNSAID, doubt="how much {paint} is not said"), _trim(item))
    written = _trim(item)
    leading = LEADING.match(written)
    trailing = TRAILING.search(written)
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
    return Piece(written, Read(Amount.UNSAID, doubt=doubt), written)


def _runs(item: str) -> list[str]:
    """Cut "3 white 1 ochre" before each amount; leave an item with one amount whole."""
    words = item.split()
    if len(words) > MAX_NAME_WORDS or not LEADING.match(item):
        return [item]
    starts = [0]
    position = 1
    while position < len(words):
        rest = " ".join(words[position:])
        found = LEADING.match(rest)
        previous = " ".join(words[starts[-1] : position])
        amount = LEADING.match(previous)
        if found and _trim(rest[found.end() :]) and amount and _trim(previous[amount.end() :]):
            starts.append(position)
            position += len(rest[: found.end()].split())
        else:
            position += 1
    return [" ".join(words[a:b]) for a, b in zip(starts, [*starts[1:], len(words)], strict=True)]


def _names(words: str, count: int, tubes: TubeList) -> list[str] | None:
    """Return the `count` names in the words, or None if they cannot be told apart in exactly one way."""
    listed = [_trim(part) for part in re.split(r"[:/]", words)]
    listed = [part for part in listed if part]
    if any(LEADING.match(part) or TRAILING.search(part) for part in listed):
        return None
    if len(listed) == count:
        return listed
    single = [word for written in words.split() if (word := _trim(written))]
    if tubes.match(words).how in _WHOLE:  # "2:1 red ochre" names one paint; its words are not two
        return None
    if len(listed) != 1 or not count <= len(single) <= MAX_NAME_WORDS:
        return None
    for fits in (partial(_fits, tubes, True), partial(_fits, tubes, False)):
        cuts = _cuts(tuple(single), count, fits)
        if cuts:
            return list(cuts[0]) if len(cuts) == 1 else None
    return single if len(single) == count else None


def _fits(tubes: TubeList, strict: bool, name: str) -> bool:
    how = tubes.match(name).how
    return how in _WHOLE if strict else how != "none"


def _cuts(words: tuple[str, ...], count: int, fits: partial[bool]) -> list[tuple[str, ...]]:
    """Return up to two ways to cut the words into `count` fitting names."""
    ways: dict[tuple[int, int], list[tuple[str, ...]]] = {(len(words), 0): [()]}
    for start in range(len(words) - 1, -1, -1):
        for left in range(1, count + 1):
            found: list[tuple[str, ...]] = []
            for end in range(start + 1, len(words) + 1):
                tails = ways.get((end, left - 1), [])
                name = " ".join(words[start:end])
                if tails and fits(name):
                    found.extend((name, *tail) for tail in tails)
            ways[start, left] = found[:2]
    return ways.get((0, count), [])
