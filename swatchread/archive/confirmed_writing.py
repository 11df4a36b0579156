"""What the archive knows of the painter's handwriting: recipes that were entered beside crops of it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from sqlalchemy import Engine, literal, select

from swatchread.archive.card_pictures import HEADING, WRITING
from swatchread.archive.database import reading
from swatchread.archive.tables import CardPictureRow, PictureRow, ReadingRow, SwatchRow

MOST_CROPS: Final = 72
"""Crops that are looked at again, the newest (choice): four cards of 18, which take a few seconds."""

MOST_HEADS: Final = 24
"""Heads of cards that are looked at again, the newest (choice): they take a second or two."""

MOST_RECIPES: Final = 1000
"""Recipes whose words are expected again, the newest (choice)."""


@dataclass(frozen=True, slots=True)
class ConfirmedWriting:
    """Recipes of a painter, the newest first.

    Parameters
    ----------
    recipes : tuple of str
        All of them.
    crops : tuple of (bytes, str)
        Pictures of handwriting, and the recipe of each.
    heads : tuple of (bytes, str, str, str)
        Pictures of the heads of cards, and the title, sitter and date of each.
    """

    recipes: tuple[str, ...] = ()
    crops: tuple[tuple[bytes, str], ...] = ()
    heads: tuple[tuple[bytes, str, str, str], ...] = ()


def known_writing(engine: Engine) -> ConfirmedWriting:
    """Return what painters have entered beside their handwriting.

    Parameters
    ----------
    engine : sqlalchemy.Engine
        Of an archive.

    Raises
    ------
    ArchiveError
        If the archive cannot be read.
    """
    entered = (ReadingRow.newest == 1, SwatchRow.recipe != "")
    newest = (ReadingRow.card_id.desc(), SwatchRow.id)
    of_reading = ReadingRow.id == SwatchRow.reading_id
    recipes = select(SwatchRow.recipe).join(ReadingRow, of_reading).where(*entered).order_by(*newest)
    role = literal(WRITING) + SwatchRow.swatch
    crops = (
        select(PictureRow.data, SwatchRow.recipe)
        .select_from(SwatchRow)
        .join(ReadingRow, of_reading)
        .join(CardPictureRow, CardPictureRow.card_id == ReadingRow.card_id)
        .join(PictureRow, PictureRow.digest == CardPictureRow.digest)
        .where(*entered, CardPictureRow.step == 0, CardPictureRow.role == role)
        .order_by(*newest)
    )
    given = (ReadingRow.title != "") | (ReadingRow.sitter != "") | (ReadingRow.date != "")
    heads = (
        select(PictureRow.data, ReadingRow.title, ReadingRow.sitter, ReadingRow.date)
        .select_from(ReadingRow)
        .join(CardPictureRow, CardPictureRow.card_id == ReadingRow.card_id)
        .join(PictureRow, PictureRow.digest == CardPictureRow.digest)
        .where(ReadingRow.newest == 1, given, CardPictureRow.step == 0, CardPictureRow.role == HEADING)
        .order_by(ReadingRow.card_id.desc())
    )
    with reading(engine) as connection:
        return ConfirmedWriting(
            tuple(connection.execute(recipes.limit(MOST_RECIPES)).scalars()),
            tuple((row.data, row.recipe) for row in connection.execute(crops.limit(MOST_CROPS))),
            tuple((row.data, row.title, row.sitter, row.date) for row in connection.execute(heads.limit(MOST_HEADS))),
        )
