"""What words are likely at the head of a card: titles, sitters and dates."""

from __future__ import annotations

import math
import re
from collections import defaultdict
from collections.abc import Iterable, Mapping
from typing import Final

from swatchread.writing.recipe_language import Node
from swatchread.writing.written_dates import MONTH_NAMES

_WORD: Final = re.compile(r"\d+|[^\W\d_]+|[+&:,.()/?'=\-]")

_TRADE: Final = tuple(
    word
    for line in (
        "a after afternoon again and at autumn background black blue bright brown candle card chart cheek cloth",
        "colour colours cool cooler corner dark darks day daylight dress dry earth evening eyes face family",
        "figure first flesh for fresh from garden girl green grey greys group hair half hand hands harbour head",
        "highlights house i in indoors ink interior lamp landscape last left light lights man mass middle",
        "mixtures model morning mother muted neck neutral new night no north number oil ochre of old on one",
        "outdoors overcast paint palette part pink portrait quick red reds reflected right room run runs sea",
        "second series session set shadow shadows shirt sitter sitting sittings skin skins sky smock spring step",
        "steps still life studio study studies summer sun sunset swatches table tests test the third three tint",
        "tints to tone toned tones trial trials tube two umber value values violet viridian warm warmer warms wet",
        "white window winter with woman yellow",
    )
    for word in line.split(" ")
)
"""Words of the trade that stand in titles (from memory)."""

_KEYWORDS: Final = ("sitter", "model", "sitting", "evening", "light", "flesh", "study")

_LETTERS: Final = tuple("bcdefghjklmnopqrstuvwxyz")
"""Letters that call a sitter."""

_SIGNS: Final = (".", "/", "-", ",", ":", "'", "+", "&")

_BEFORE_A_SITTER: Final = frozenset({"sitter", "model", ":"})
_LETTER_LOG: Final = math.log(0.5 / 26)
"""Log probability of each letter there (choice): every other sitter is called by one."""

_OWN: Final = 20.0
"""How much more often a word of the painter's own headings comes again than one of the trade (choice)."""

_STRANGE: Final = 0.04
"""Share of words that are in no list: names above all (choice)."""

_FOLLOWS: Final[Mapping[str, Mapping[str, float]]] = {
    "start": {"word": 0.8, "number": 0.18, "sign": 0.02},
    "word": {"word": 0.6, "number": 0.25, "sign": 0.15},
    "number": {"word": 0.35, "number": 0.1, "sign": 0.55},
    "sign": {"word": 0.3, "number": 0.65, "sign": 0.05},
}
"""What follows what (choice)."""

_MISREAD_LOG: Final = math.log(0.2)
"""Log probability of a reading that was seen in the painter's own hand (choice)."""


class HeadingLanguage:
    """The words of headings; see `swatchread.writing.beam_search.Language`.

    Parameters
    ----------
    own : iterable of str
        Titles and sitters of the painter's own cards.
    tubes : iterable of str
        Names of tubes, which some titles hold.
    misread : mapping, optional
        Word -> spellings as which this painter's hand has been read.
    """

    def __init__(
        self, own: Iterable[str] = (), tubes: Iterable[str] = (), misread: Mapping[str, Iterable[str]] | None = None
    ) -> None:
        self._counts: dict[str, float] = defaultdict(float)
        for words, weight in (
            (_TRADE, 1.0),
            (_KEYWORDS, 5.0),
            (MONTH_NAMES, 2.0),
            (_numbers(), 0.3),
            (_SIGNS, 1.0),
            (_LETTERS, 0.5),
        ):
            for word in words:
                self._counts[word] += weight
        for text, weight in (*((text, 0.5) for text in tubes), *((text, _OWN) for text in own)):
            for word in heading_words(text):
                self._counts[word] += weight
        self._kinds: dict[str, float] = defaultdict(float)
        for word, count in self._counts.items():
            self._kinds[_kind(word)] += count
        self.root = Node()
        for word in self._counts:
            self._spell(word, word, 0.0)
        for word, spellings in (misread or {}).items():
            for spelling in spellings:
                if word in self._counts and spelling not in self._counts:
                    self._spell(spelling, word, _MISREAD_LOG)

    def log_probability(self, word: str, before: str) -> float:
        """Return the natural logarithm of a word's probability after another one."""
        if before in _BEFORE_A_SITTER and len(word) == 1 and word.isalpha():
            return _LETTER_LOG
        follows, kind = _kind(before), _kind(word)
        share = self._counts[word] / self._kinds[kind] if word in self._counts else 1.0
        return math.log(_FOLLOWS[follows][kind] * (1 - _STRANGE) * share)

    @property
    def log_strange(self) -> float:
        """Natural logarithm of the probability that a word is in no list."""
        return math.log(_STRANGE * _FOLLOWS["word"]["word"])

    def _spell(self, spelling: str, word: str, log_share: float) -> None:
        node = self.root
        for letter in spelling:
            node = node.next.setdefault(letter, Node())
        node.words[word] = max(log_share, node.words.get(word, -math.inf))


def heading_words(text: str) -> list[str]:
    """Return the words, numbers and signs of a heading, in small letters."""
    return _WORD.findall(text.casefold())


def _numbers() -> list[str]:
    days = [str(k) for k in range(1, 32)]
    return [*days, *days[:12], *(f"{k:02d}" for k in range(100)), *(str(year) for year in range(1990, 2040))]


def _kind(word: str) -> str:
    return "start" if not word else "number" if word[0].isdigit() else "word" if word[0].isalpha() else "sign"
