"""What words are likely in a recipe, and after which others: counted from the painter's own recipes and from tubes.

A word's probability is a mixture of three counts: pairs of words in the painter's recipes, pairs in plain recipes made
of the tubes' names, and single words. What is in none of them is spelled letter by letter, at a price.
"""

from __future__ import annotations

import math
import re
from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Final

START: Final = ""
"""Stands before the first word."""

_AMOUNT: Final = "#"

_WORD: Final = re.compile(r"\d+(?:[./,]\d+)*|[½¼¾⅓⅔]|[^\W\d_]+|[+%&:,()?=→\"]")
_AMOUNTS: Final[Mapping[str, float]] = {
    **{str(k): 3.0 / k for k in range(1, 13)}, "15": 0.1, "16": 0.1, "20": 0.15, "25": 0.1, "30": 0.1, "40": 0.1,
    "50": 0.1, "60": 0.1, "80": 0.1, "1/2": 2.0, "1/3": 0.4, "2/3": 0.3, "1/4": 0.8, "3/4": 0.4, "1/8": 0.2, "0.5": 0.5,
    "1.5": 0.5, "2.5": 0.3, "0.25": 0.1, "3.5": 0.1, ".5": 0.1, "touch": 1.5, "bit": 0.2, "dot": 0.2, "speck": 0.1,
    "half": 0.1,
}  # fmt: skip
"""How often each amount stands in plain recipes (from memory: common practice)."""

_OWN, _PLAIN, _SINGLE = 0.6, 0.35, 0.05
"""Shares of the three counts; without recipes of the painter's own, the plain ones take over (choice)."""

_STRANGE: Final = 1e-4
"""Probability that a word is in no list (choice)."""

_MISREAD: Final[Mapping[str, tuple[str, ...]]] = {
    "1/2": ("v2", "y2", "n2", "½", "112", "i/2", "l/2", "1/z", "12"),
    "1/4": ("v4", "y4", "n4", "¼", "114", "i/4", "l/4"),
    "3/4": ("314", "¾", "3/9"),
    "1/3": ("v3", "y3", "⅓", "113", "i/3", "l/3"),
    "2/3": ("213", "⅔"),
    "1": ("i", "l"), "0.5": ("o.5", "05", "0,5"), "1.5": ("15", "i.5", "l.5", "1,5"), "2.5": ("25", "2,5"),
}  # fmt: skip
"""Amounts, and as what the recogniser reads them now and then (seen on drawn hands)."""

_MISREAD_LOG, _LEARNED_LOG = math.log(0.02), math.log(0.2)
"""Log probability of each such reading, and of one that was seen in the painter's own hand (choice)."""


@dataclass
class Node:
    """A place in the tree of spellings.

    Attributes
    ----------
    next : dict
        Letter -> node.
    words : dict
        Words that end here -> natural logarithm of the probability that the word is read so.
    """

    next: dict[str, Node] = field(default_factory=dict)
    words: dict[str, float] = field(default_factory=dict)


class RecipeLanguage:
    """The words of recipes and how likely they follow one another.

    Parameters
    ----------
    tubes : iterable of str
        Names of tubes and other words for them.
    own : iterable of str
        Recipes of the painter's own, as they were confirmed.
    misread : mapping, optional
        Word -> spellings as which this painter's hand has been read.
    """

    def __init__(
        self, tubes: Iterable[str], own: Iterable[str] = (), misread: Mapping[str, Iterable[str]] | None = None
    ) -> None:
        self._plain, self._own = _Pairs(), _Pairs()
        self._single: dict[str, float] = defaultdict(float)
        for name in tubes:
            self._add_tube(split_words(name))
        for text in own:
            words = split_words(text)
            for before, word in pairwise([START, *words]):
                self._own.add(before, word, 1.0)
                self._single[word] += 1
        self._all = sum(self._single.values())
        self._kinds: dict[str, float] = defaultdict(float)
        for word, count in self._single.items():
            self._kinds[_kind(word)] += count
        self.root = Node()
        for word in self._single:
            self._spell(word, word, 0.0)
        for table, price in ((_MISREAD, _MISREAD_LOG), (misread or {}, _LEARNED_LOG)):
            for word, spellings in table.items():
                for spelling in spellings:
                    if word in self._single and spelling not in self._single:
                        self._spell(spelling, word, price)

    def log_probability(self, word: str, before: str) -> float:
        """Return the natural logarithm of a word's probability after another one.

        All amounts follow, and are followed, alike; how often each occurs is counted apart. For a word that is in no
        list the probability of its letters is still to be added.
        """
        follows, kind = _kind(before), _kind(word)
        own = self._own.share(follows, kind)
        single = self._kinds[kind] / max(self._all, 1.0)
        known = _PLAIN * (self._plain.share(follows, kind) or 0.0) + _SINGLE * single
        mixed = known / (1 - _OWN) if own is None else _OWN * own + known
        chosen = self._single[word] / self._kinds[kind] if word in self._single else 1.0
        return math.log(max(mixed * chosen, _STRANGE * 1e-2))

    @property
    def log_strange(self) -> float:
        """Natural logarithm of the probability that a word is in no list."""
        return math.log(_STRANGE)

    def _add_tube(self, words: list[str]) -> None:
        if not words:
            return
        for amount, weight in _AMOUNTS.items():
            for before in (START, "+", ","):
                self._plain.add(before, amount, weight / 3)
            self._plain.add(amount, words[0], weight)
            self._single[amount] += weight / 10
        for before, word in pairwise(words):
            self._plain.add(before, word, 10.0)
        for word in words:
            self._single[word] += 1
        self._plain.add(words[-1], "+", 8.0)
        self._plain.add(words[-1], ",", 2.0)
        for before in ("+", ",", "of", START):
            self._plain.add(before, words[0], 1.0)
        for before, word in (("touch", "of"), ("bit", "of"), ("dot", "of"), ("+", "a"), ("a", "touch"), ("a", "bit")):
            self._plain.add(before, word, 0.5)
        for word in ("+", ",", "of", "a", "parts", "part", "and", "with", "%", "?", "&"):
            self._single[word] += 0.2

    def _spell(self, spelling: str, word: str, log_share: float) -> None:
        node = self.root
        for letter in spelling:
            node = node.next.setdefault(letter, Node())
        node.words[word] = max(log_share, node.words.get(word, -math.inf))


def _kind(word: str) -> str:
    """Return what a word counts as beside others: each as itself, and all amounts as one."""
    return _AMOUNT if word[:1].isdigit() or word[:1] == "." else word


class _Pairs:
    """Counts of words after words."""

    def __init__(self) -> None:
        self._after: dict[str, dict[str, float]] = defaultdict(lambda: defaultdict(float))
        self._totals: dict[str, float] = defaultdict(float)

    def add(self, before: str, word: str, weight: float) -> None:
        self._after[_kind(before)][_kind(word)] += weight
        self._totals[_kind(before)] += weight

    def share(self, before: str, word: str) -> float | None:
        """Return how often a word follows, 0 to 1; None if nothing was ever counted."""
        if not self._totals:
            return None
        total = self._totals.get(before, 0.0)
        return self._after[before].get(word, 0.0) / total if total else 0.0


def split_words(text: str) -> list[str]:
    """Return the words, amounts and signs of a recipe, in small letters."""
    return _WORD.findall(text.casefold())
