"""The likeliest texts of a line: what the recogniser saw and what recipes say, weighed together.

A beam search over prefixes for connectionist temporal classification (Graves et al., ICML 2006; prefixes as in Hannun
et al., arXiv:1408.2873), held to the words of a language.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final, NamedTuple, Protocol

import numpy as np

from swatchread.writing.ink_lines import Floats
from swatchread.writing.recipe_language import START, Node
from swatchread.writing.recogniser import LETTERS

_BEAM: Final = 48
"""Prefixes that are kept at each place; more change nothing on drawn hands."""

_LEAST: Final = -9.0
"""Natural logarithm of a letter's probability below which it is not tried."""

_LANGUAGE: Final = 0.7
"""Weight of the language beside what was seen (tuned on drawn hands)."""

_NO_SPACE: Final = {"letter": -2.0, "digit": -4.0}
"""Log probability that the space between two words was not seen, and between two amounts."""

_SPLIT: Final = -3.0
"""Log probability that a space was seen where none is."""

_STRAY: Final = -7.0
"""Log probability that a letter which was seen is a stray mark."""

_STRANGE_LETTER: Final = -2.6
"""Log probability of each letter of a word that is in no list."""

_STRANGE_NUMBER: Final = -4.0
"""Log probability that an amount is in no list, before its digits (choice)."""

_NEVER: Final = -math.inf


class Language(Protocol):
    """The words that are likely, and how likely they follow one another.

    Attributes
    ----------
    root : Node
        The tree of their spellings.
    """

    root: Node

    def log_probability(self, word: str, before: str) -> float:
        """Return the natural logarithm of a word's probability after another one."""

    @property
    def log_strange(self) -> float:
        """Natural logarithm of the probability that a word is in no list."""


class Text(NamedTuple):
    """A text of a line, and the natural logarithm of its probability, up to a constant."""

    words: tuple[str, ...]
    log_probability: float


class _Prefix(NamedTuple):
    """What has been read so far: whole words, and the beginning of one."""

    words: tuple[str, ...]
    node: Node | None  # None while a word is spelled that is in no list
    begun: str


@dataclass(slots=True)
class _Score:
    blank: float = _NEVER
    letter: float = _NEVER
    language: float = 0.0
    last: int = 0

    @property
    def seen(self) -> float:
        return _add(self.blank, self.letter)

    @property
    def total(self) -> float:
        return self.seen + _LANGUAGE * self.language


def likely_texts(seen: Floats, language: Language, before: str = START) -> list[Text]:
    """Return the likeliest texts of a line, best first.

    Parameters
    ----------
    seen : ndarray, shape (n, 1 + len(LETTERS))
        From `swatchread.writing.recogniser.Recogniser.letters`.
    language : Language
    before : str
        The word before the line.

    Returns
    -------
    list of Text
        Empty if nothing was seen.
    """
    search = _Search(language, before)
    beam = {_key(prefix := _Prefix((), language.root, "")): (prefix, _Score(blank=0.0))}
    for place in seen:
        beam = search.step(beam, place)
    return search.finished(beam)


Beam = dict[tuple[tuple[str, ...], int, str], tuple[_Prefix, _Score]]


class _Search:
    def __init__(self, language: Language, before: str) -> None:
        self._language = language
        self._before = before

    def step(self, beam: Beam, place: Floats) -> Beam:
        """Return the best prefixes after one more place."""
        found: Beam = {}
        tried = [int(k) for k in np.flatnonzero(place > _LEAST) if k]
        space = float(place[-1])
        for prefix, score in beam.values():
            total = score.seen
            blank = max(float(place[0]), _STRAY)
            # A space inside a word, or after a space, is as good as nothing.
            blank = _add(blank, space if not prefix.begun else space + _SPLIT)
            kept = _entry(found, prefix, score)
            kept.blank = _add(kept.blank, total + blank)
            if score.last:
                kept.letter = _add(kept.letter, score.letter + float(place[score.last]))
            for k in tried:
                start = score.blank if k == score.last else total
                if start == _NEVER:
                    continue
                for after, price in self._extended(prefix, LETTERS[k - 1]):
                    entry = _entry(found, after, _Score(language=score.language + price, last=k))
                    entry.letter = _add(entry.letter, start + float(place[k]))
        best = sorted(found.items(), key=lambda item: -item[1][1].total)[:_BEAM]
        return dict(best)

    def finished(self, beam: Beam) -> list[Text]:
        """Return the whole texts of a beam."""
        texts: dict[tuple[str, ...], float] = {}
        for prefix, score in beam.values():
            for after, price in self._closed(prefix) if prefix.begun else [(prefix, 0.0)]:
                total = score.seen + _LANGUAGE * (score.language + price)
                texts[after.words] = _add(texts.get(after.words, _NEVER), total)
        return [Text(words, total) for words, total in sorted(texts.items(), key=lambda item: -item[1])]

    def _extended(self, prefix: _Prefix, letter: str) -> list[tuple[_Prefix, float]]:
        """Return what a prefix becomes by a letter, with the log probability in the language."""
        if letter == " ":
            return self._closed(prefix) if prefix.begun else []
        if not prefix.begun:
            return self._begun(prefix, letter)
        found: list[tuple[_Prefix, float]] = []
        if prefix.node is None:
            if _goes_on(prefix.begun, letter):
                return [(_Prefix(prefix.words, None, prefix.begun + letter), _STRANGE_LETTER)]
        elif (node := prefix.node.next.get(letter)) is not None:
            found.append((_Prefix(prefix.words, node, prefix.begun + letter), 0.0))
        joined = _NO_SPACE.get(_kind(letter), 0.0) if _kind(letter) == _kind(prefix.begun[-1]) else 0.0
        for closed, price in self._closed(prefix):
            for begun, more in self._begun(closed, letter):
                found.append((begun, price + more + joined))
        return found

    def _begun(self, prefix: _Prefix, letter: str) -> list[tuple[_Prefix, float]]:
        found: list[tuple[_Prefix, float]] = []
        node = self._language.root.next.get(letter)
        if node is not None:
            found.append((_Prefix(prefix.words, node, letter), 0.0))
        if _kind(letter) != "sign":
            price = (_STRANGE_NUMBER if letter.isdigit() else self._language.log_strange) + _STRANGE_LETTER
            found.append((_Prefix(prefix.words, None, letter), price))
        return found

    def _closed(self, prefix: _Prefix) -> list[tuple[_Prefix, float]]:
        """Return a prefix whose last word has ended, for each word that it may be."""
        root = self._language.root
        before = prefix.words[-1] if prefix.words else self._before
        if prefix.node is None:
            if not prefix.begun[-1].isalnum():  # a number does not end with its point
                return []
            price = self._language.log_probability(prefix.begun, before) if prefix.begun[0].isdigit() else 0.0
            return [(_Prefix((*prefix.words, prefix.begun), root, ""), price)]
        return [
            (_Prefix((*prefix.words, word), root, ""), spelled + self._language.log_probability(word, before))
            for word, spelled in prefix.node.words.items()
        ]


def _entry(found: Beam, prefix: _Prefix, like: _Score) -> _Score:
    """Return the score of a prefix; the same words may be reached in several ways, of which the likeliest counts."""
    key = _key(prefix)
    if key not in found:
        found[key] = (prefix, _Score(language=like.language, last=like.last))
    score = found[key][1]
    score.language = max(score.language, like.language)
    return score


def _key(prefix: _Prefix) -> tuple[tuple[str, ...], int, str]:
    return prefix.words, id(prefix.node), prefix.begun


def _kind(letter: str) -> str:
    return "digit" if letter.isdigit() else "letter" if letter.isalpha() else "sign"


def _goes_on(begun: str, letter: str) -> bool:
    """Tell whether a letter goes on with a word that is in no list; a number may hold one point or stroke: 1.8, 5/6."""
    if begun[0].isdigit():
        return letter.isdigit() or (letter in "./" and begun.isdigit())
    return letter.isalpha()


def _add(one: float, other: float) -> float:
    """Return the logarithm of a sum, from logarithms."""
    if one < other:
        one, other = other, one
    return one if other == _NEVER else one + math.log1p(math.exp(other - one))
