"""The handwriting of a note's swatches, read from the crops that lie beside the note."""

from __future__ import annotations

import io
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from swatchread.note.model import Note
from swatchread.note.safe_files import read_writing
from swatchread.recipes.tubes import TubeList
from swatchread.writing.crossed_out import crossed_out_spans, without_spans
from swatchread.writing.hand import misread_words
from swatchread.writing.ink_lines import Floats, Picture, lines_of
from swatchread.writing.offers import Offer, crossed_out_offer, offer_of
from swatchread.writing.recipe_language import RecipeLanguage
from swatchread.writing.recogniser import Recogniser


@dataclass(frozen=True, slots=True, eq=False)
class ConfirmedCrop:
    """A crop of handwriting, shape (h, w, 3), uint8, RGB, and the recipe that the painter gave for it."""

    crop: Picture
    recipe: str


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

    Raises
    ------
    MissingPackageError
        If the extra ``swatchread[writing]`` is not installed.
    """

    def __init__(self, tubes: TubeList, recipes: Iterable[str] = (), confirmed: Sequence[ConfirmedCrop] = ()) -> None:
        self._recogniser = Recogniser()
        names = [word for tube in tubes.tubes for word in (tube.name, *tube.words)]
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

    def _seen(self, crop: Picture) -> list[Floats]:
        return [self._recogniser.letters(line) for line in lines_of(crop)]


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
