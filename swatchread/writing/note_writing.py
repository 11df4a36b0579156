"""The handwriting of a note's swatches, read from the crops that lie beside the note."""

from __future__ import annotations

import io
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from functools import cache, cached_property, lru_cache
from pathlib import Path

import numpy as np

from swatchread.note.model import Note
from swatchread.note.picture_names import stem_of_crop, title_name
from swatchread.note.safe_files import read_writing
from swatchread.recipes.tubes import TubeList
from swatchread.writing.crossed_out import crossed_out_spans, without_spans
from swatchread.writing.hand import misread_words
from swatchread.writing.heading_language import HeadingLanguage
from swatchread.writing.headings import Heading, heading_of, read_text
from swatchread.writing.ink_lines import Floats, Picture, lines_of
from swatchread.writing.offers import Offer, crossed_out_offer, offer_of
from swatchread.writing.recipe_language import RecipeLanguage
from swatchread.writing.recogniser import Recogniser
from swatchread.writing.written_dates import Order, day_of, order_in

_REMEMBERED = 256
"""Crops whose letters are remembered (choice): all that are confirmed, and some cards."""


@cache
def _recogniser() -> Recogniser:
    return Recogniser()


@dataclass(frozen=True, slots=True, eq=False)
class ConfirmedCrop:
    """A crop of handwriting, shape (h, w, 3), uint8, RGB, and the recipe that the painter gave for it."""

    crop: Picture
    recipe: str


@dataclass(frozen=True, slots=True, eq=False)
class ConfirmedHead:
    """A picture of a card's head, shape (h, w, 3), uint8, RGB, or None, and what the painter gave for it."""

    picture: Picture | None
    title: str
    sitter: str
    date: str


class WritingReader:
    """Offers what crops of one painter's handwriting say.

    Parameters
    ----------
    tubes : TubeList
        The painter's tubes.
    recipes : iterable of str
        Recipes of the painter's own: they say which words and abbreviations to expect.
    confirmed : sequence of ConfirmedCrop
        What has been confirmed of this hand: crops that look alike are then read alike.
    heads : sequence of ConfirmedHead
        What has been confirmed of the heads of cards, the newest first.

    Raises
    ------
    MissingPackageError
        If the extra ``swatchread[writing]`` is not installed.
    """

    def __init__(
        self,
        tubes: TubeList,
        recipes: Iterable[str] = (),
        confirmed: Sequence[ConfirmedCrop] = (),
        heads: Sequence[ConfirmedHead] = (),
    ) -> None:
        self._recogniser, self._heads = Recogniser(), heads
        names = [word for tube in tubes.tubes for word in (tube.name, *tube.words)]
        self._tubes = names
        known = [(self._seen(one.crop), one.recipe) for one in confirmed]
        own = [*recipes, *(one.recipe for one in confirmed)]
        self._language = RecipeLanguage(names, own, misread_words(known))

    def read(self, crop: Picture) -> Offer:
        """Return what a crop may say.

        Parameters
        ----------
        crop : ndarray, shape (h, w, 3), uint8, RGB
        """
        lines = lines_of(crop)
        seen = [self._recogniser.letters(line) for line in lines]
        offer = offer_of(seen, self._language)
        struck = [crossed_out_spans(line) for line in lines]
        if not any(struck):
            return offer
        without = [without_spans(letters, spans) for letters, spans in zip(seen, struck, strict=True)]
        return crossed_out_offer(offer, offer_of(without, self._language))

    def read_heading(self, picture: Picture, latest: date) -> Heading:
        """Return what the head of a card may say: title, sitter and date.

        Parameters
        ----------
        picture : ndarray, shape (h, w, 3), uint8, RGB
        latest : datetime.date
            The day of the photo: no date on the card is later.
        """
        language, sitters, order = self._of_heads
        seen = self._seen(picture, within=True)
        return heading_of(seen, language, latest=latest, sitters=sitters, order=order)

    @cached_property
    def _of_heads(self) -> tuple[HeadingLanguage, frozenset[str], Order | None]:
        """What confirmed heads say: the words to expect, the sitters, and whether the day stands before the month."""
        own = [f"{one.title} {one.sitter}" for one in self._heads]
        plain = HeadingLanguage(own, self._tubes)
        known, order = [], None
        for one in self._heads:
            if one.picture is not None:
                seen = self._seen(one.picture, within=True)
                known.append((seen, f"{one.title} {one.sitter}"))
                order = order or order_in(read_text(seen, plain), one.date)
        sitters = frozenset(one.sitter for one in self._heads)
        return HeadingLanguage(own, self._tubes, misread_words(known)), sitters, order

    def read_heading_beside(self, note: Note, folder: Path) -> Heading | None:
        """Return what the head of a note's card may say, from the picture beside the note; None if there is none."""
        stems = [stem_of_crop(swatch.writing, swatch.id) for swatch in note.swatches if swatch.writing]
        given = next(filter(None, (read_writing(folder, title_name(stem)) for stem in dict.fromkeys(stems))), None)
        picture = decode_crop(given[0]) if given is not None else None
        return None if picture is None else self.read_heading(picture, day_of(note))

    def read_note(self, note: Note, folder: Path) -> Iterator[tuple[str, Offer]]:
        """Return the id of each swatch that has a crop, and what the crop may say.

        Parameters
        ----------
        note : Note
        folder : pathlib.Path
            Where the note lies; a crop that is no longer there is left out.
        """
        for swatch in note.swatches:
            given = read_writing(folder, swatch.writing)
            crop = decode_crop(given[0]) if given is not None else None
            if crop is not None:
                yield swatch.id, self.read(crop)

    def _seen(self, crop: Picture, *, within: bool = False) -> list[Floats]:
        return list(_letters(crop.tobytes(), crop.shape, within))


@lru_cache(maxsize=_REMEMBERED)
def _letters(crop: bytes, shape: tuple[int, ...], within: bool) -> tuple[Floats, ...]:
    """Return the letters of each line of a crop; confirmed crops are looked at again whenever another is confirmed."""
    pixels = np.frombuffer(crop, np.uint8).reshape(shape)
    return tuple(_recogniser().letters(line) for line in lines_of(pixels, within=within))


def confirmed_heads(known: Iterable[tuple[bytes, str, str, str]]) -> list[ConfirmedHead]:
    """Return heads of cards from their pictures, titles, sitters and dates."""
    return [ConfirmedHead(decode_crop(data), *words) for data, *words in known]


def confirmed_crops(pictures: Iterable[tuple[bytes, str]]) -> list[ConfirmedCrop]:
    """Return the crops in pictures, each beside its recipe; one that cannot be decoded is left out."""
    return [ConfirmedCrop(crop, recipe) for data, recipe in pictures if (crop := decode_crop(data)) is not None]


def decode_crop(data: bytes) -> Picture | None:
    """Return a crop's pixels, shape (h, w, 3), uint8, RGB, or None if the data are no picture."""
    from PIL import Image, UnidentifiedImageError

    try:
        with Image.open(io.BytesIO(data)) as picture:
            return np.asarray(picture.convert("RGB"))
    except (OSError, UnidentifiedImageError, Image.DecompressionBombError):
        return None
