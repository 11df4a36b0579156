"""What stands at the head of a card, offered as its title, sitter and date."""

from __future__ import annotations

import re
from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Final

from swatchread.writing.beam_search import likely_texts
from swatchread.writing.heading_language import HeadingLanguage
from swatchread.writing.ink_lines import Floats
from swatchread.writing.offers import Offer, OfferedWord, judged_words
from swatchread.writing.written_dates import Order, find_date

_SITTER: Final = re.compile(r"\b(?:sitter|model)\s*[:=]?\s*(?P<name>[^\W\d_]+)")
_NAMELESS: Final = re.compile(r"\b(?:sitter|model)\s*[:=]?\s*$", re.MULTILINE)
_LETTER: Final = re.compile(r"(?<![\w'])(?P<name>[b-hj-z])(?![\w'])")
"""A letter that stands alone calls a sitter, except the words "a" and "i"."""

_TIGHT: Final = "/-.'"
"""Signs that stand close to figures on both sides."""

_AROUND: Final = " ,.:-+&/'"
"""Signs that begin or end no title."""


@dataclass(frozen=True, slots=True)
class Heading:
    """What a heading may say.

    Attributes
    ----------
    title, sitter, date : Offer
        Empty where nothing was found; the date year first, empty where it may mean two days.
    dates : tuple of str
        What the date may mean, where day and month cannot be told.
    """

    title: Offer
    sitter: Offer
    date: Offer
    dates: tuple[str, ...] = ()

    def offers(self) -> dict[str, Offer]:
        """Return the offers by the field of `swatchread.note.model.CardInfo`."""
        return {"title": self.title, "sitter": self.sitter, "date": self.date}


def heading_of(
    lines: Sequence[Floats],
    language: HeadingLanguage,
    *,
    latest: date,
    sitters: Collection[str] = (),
    order: Order | None = None,
) -> Heading:
    """Return what a heading may say.

    Parameters
    ----------
    lines : sequence of ndarray
        The letters of each of its lines, from `swatchread.writing.recogniser.Recogniser.letters`.
    language : HeadingLanguage
    latest : datetime.date
        The day of the photo.
    sitters : collection of str
        Sitters of the painter's other cards.
    order : str, optional
        Which of day and month the painter writes first.
    """
    read = _Read(*_joined(_words(lines, language)))
    written = find_date(read.text, latest=latest, order=order)
    rest = read.text if written is None else _blanked(read.text, written.start, written.end)
    name = _sitter(rest, {sitter.casefold() for sitter in sitters if sitter})
    if name is not None:
        rest = _blanked(rest, name.start(), name.end())
    elif (bare := _NAMELESS.search(rest)) is not None:  # the name could not be read
        rest = _blanked(rest, bare.start(), bare.end())
    title = " ".join(rest.split()).strip(_AROUND)
    dates = written.meanings if written is not None else ()
    return Heading(
        read.left(rest, title[:1].upper() + title[1:]),
        Offer("", ()) if name is None else read.offer(*name.span("name"), name.group("name").title()),
        _only_date(read.offer(written.start, written.end, dates[0])) if written and len(dates) == 1 else Offer("", ()),
        dates if len(dates) > 1 else (),
    )


@dataclass(frozen=True, slots=True)
class _Read:
    """A text as it reads, its words, and where each stands."""

    text: str
    words: tuple[OfferedWord, ...]
    places: tuple[tuple[int, int], ...]

    def offer(self, start: int, end: int, shown: str) -> Offer:
        """Offer what stands between two places, as it is to be shown."""
        held = [a < end and b > start for a, b in self.places]
        return Offer(shown, tuple(word for word, is_held in zip(self.words, held, strict=True) if is_held))

    def left(self, rest: str, shown: str) -> Offer:
        """Offer the words that are left in a text of which some were blanked."""
        held = [any(letter.isalnum() for letter in rest[a:b]) for a, b in self.places]
        return Offer(shown, tuple(word for word, is_held in zip(self.words, held, strict=True) if is_held and shown))


def _only_date(offer: Offer) -> Offer:
    """Return the offer of a date; a year alone is unsure, for the rest of the date may not have been read."""
    if len(offer.text) > len("2024"):
        return offer
    return replace(offer, words=tuple(replace(word, confidence=min(word.confidence, 0.5)) for word in offer.words))


def read_text(lines: Sequence[Floats], language: HeadingLanguage) -> str:
    """Return a heading's text as it reads."""
    return _joined(_words(lines, language))[0]


def _words(lines: Sequence[Floats], language: HeadingLanguage) -> list[list[OfferedWord]]:
    return [judged_words(likely_texts(letters, language)) for letters in lines]


def _blanked(text: str, start: int, end: int) -> str:
    return text[:start] + " " * (end - start) + text[end:]


def _sitter(text: str, sitters: Collection[str]) -> re.Match[str] | None:
    """Return where a sitter is named: after the word, as one of the painter's sitters, or as a letter alone."""
    known = [m for m in re.finditer(r"(?P<name>[^\W\d_]+)", text) if m.group("name") in sitters]
    return _SITTER.search(text) or next(iter(known), None) or _LETTER.search(text)


def _joined(lines: Sequence[list[OfferedWord]]) -> tuple[str, tuple[OfferedWord, ...], tuple[tuple[int, int], ...]]:
    """Write words as one text, figures and their signs close together; return also the words and where each stands."""
    text, words, places = "", [], []
    for line in lines:
        before = "\n"
        text += "\n" if text and line else ""
        for word in line:
            tight = before == "\n" or word.text in _TIGHT or word.text in ",:"
            text += "" if tight or (before in _TIGHT and word.text[0].isdigit()) else " "
            places.append((len(text), len(text) + len(word.text)))
            text += word.text
            words.append(word)
            before = word.text
    return text, tuple(words), tuple(places)
