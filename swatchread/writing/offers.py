"""What a crop of handwriting may say, offered word by word with how sure each is."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from difflib import SequenceMatcher
from typing import Final

from swatchread.writing.beam_search import Text, likely_texts
from swatchread.writing.ink_lines import Floats
from swatchread.writing.recipe_language import START, RecipeLanguage
from swatchread.writing.recogniser import LETTERS

SURE: Final = 0.9
"""Confidence from which a word is offered as sure: nine words in ten (drawn hands, `tests/bench/writing.py`)."""

_SHARPNESS: Final = 0.5
"""Flattens the texts' log probabilities (choice): neighbouring places of a line are not independent witnesses."""

_IN_DOUBT: Final = 0.5
"""Confidence of a word that reads clearly, though it seems to be crossed out (choice)."""

_JOINERS: Final = frozenset({"+", ",", "&", "and", "with", "of", "plus"})
_AMOUNT_WORDS: Final = frozenset({"touch", "bit", "dot", "speck", "half", "a"})


@dataclass(frozen=True, slots=True)
class OfferedWord:
    """A word, and the probability that it is what was written, 0 to 1."""

    text: str
    confidence: float

    @property
    def is_sure(self) -> bool:
        """Whether it is offered as sure."""
        return self.confidence >= SURE


@dataclass(frozen=True, slots=True)
class Offer:
    """What a crop may say.

    Parameters
    ----------
    text : str
        As it is put into a field; empty if nothing could be read.
    words : tuple of OfferedWord
        In reading order.
    crossed_out : bool
        Whether something seems to be crossed out; what was left out for that is not among the words.
    """

    text: str
    words: tuple[OfferedWord, ...]
    crossed_out: bool = False

    @property
    def doubts(self) -> tuple[str, ...]:
        """What is to be looked at closely, in words; empty if all is sure."""
        unsure = dict.fromkeys(word.text for word in self.words if not word.is_sure)
        return (*unsure, *(("what is crossed out",) if self.crossed_out else ()))


def offer_of(seen: Sequence[Floats], language: RecipeLanguage) -> Offer:
    """Return what a crop may say.

    Parameters
    ----------
    seen : sequence of ndarray, shape (n, 1 + len(LETTERS))
        The letters of each of its lines, from `swatchread.writing.recogniser.Recogniser.letters`.
    language : RecipeLanguage
        The words that are likely.

    Returns
    -------
    Offer
    """
    before, lines = START, []
    for letters in seen:
        words = _judged(likely_texts(letters, language, before))
        if words:
            before = words[-1].text
            lines.append(words)
    return Offer(_joined(lines), tuple(word for line in lines for word in line))


def crossed_out_offer(whole: Offer, without: Offer) -> Offer:
    """Return what a crop may say in which words seem to be crossed out.

    Parameters
    ----------
    whole, without : Offer
        What it may say with these words and without them. Where the words read clearly in spite of the stroke they are
        kept, for it may be a part of their letters, but they are not sure.
    """
    kept = _common(whole, without)
    extra = [k for k in range(len(whole.words)) if k not in kept]
    if not extra or not all(whole.words[k].is_sure for k in extra):
        return replace(without, crossed_out=True)
    words = tuple(w if k in kept else replace(w, confidence=_IN_DOUBT) for k, w in enumerate(whole.words))
    return replace(whole, words=words, crossed_out=True)


def _common(one: Offer, other: Offer) -> set[int]:
    """Return the places of the words in one offer that another has, too."""
    mine, theirs = ([word.text for word in offer.words] for offer in (one, other))
    blocks = SequenceMatcher(None, mine, theirs, autojunk=False).get_matching_blocks()
    return {block.a + k for block in blocks for k in range(block.size)}


def spelled_as_seen(letters: Floats) -> str:
    """Return a line's letters as they were seen, without regard to any language."""
    best = letters.argmax(axis=1)
    kept = [int(k) for i, k in enumerate(best) if k and (i == 0 or best[i - 1] != k)]
    return "".join(LETTERS[k - 1] for k in kept)


def _judged(texts: list[Text]) -> list[OfferedWord]:
    """Return the best text's words, each with the share of all texts that hold it at its place."""
    if not texts or not texts[0].words:
        return []
    best = texts[0]
    weights = [math.exp(_SHARPNESS * (text.log_probability - best.log_probability)) for text in texts]
    total = sum(weights)
    shares = [0.0] * len(best.words)
    for text, weight in zip(texts, weights, strict=True):
        for block in SequenceMatcher(None, best.words, text.words, autojunk=False).get_matching_blocks():
            for k in range(block.a, block.a + block.size):
                shares[k] += weight / total
    return [OfferedWord(word, round(min(share, 1.0), 3)) for word, share in zip(best.words, shares, strict=True)]


def _joined(lines: list[list[OfferedWord]]) -> str:
    """Write lines as one recipe: a line that begins with an amount is another paint."""
    text = ""
    for line in lines:
        words = [word.text for word in line]
        begins_anew = words[0][0].isdigit() or words[0] in _AMOUNT_WORDS
        ended = text.rsplit(" ", 1)[-1] in _JOINERS
        text += " + " if text and begins_anew and not ended else " " if text else ""
        text += " ".join(words)
    return text.replace(" ,", ",")
