"""From a note to the rows that are searched."""

from __future__ import annotations

from functools import lru_cache
from typing import Any

from sqlalchemy import Connection, delete, insert, select, update

from swatchread.archive.dates import day_range
from swatchread.archive.models import IngredientRow, ReadingRow, SwatchRow
from swatchread.archive.munsell_search import munsell_columns
from swatchread.note import Note, Swatch
from swatchread.recipe import Recipe, parse_recipe
from swatchread.tubes import TubeList

Row = dict[str, Any]


def reading_columns(note: Note) -> Row:
    """Return the derived columns of a reading."""
    info = note.card_info
    first, last = day_range(info.date) or day_range(note.photo.taken or "") or (None, None)
    return {
        "tool_version": note.tool.version,
        "made": note.made,
        "photo_file": _storable(note.photo.file),
        "title": _storable(info.title),
        "sitter": _storable(info.sitter),
        "date": _storable(info.date),
        "medium": _storable(info.medium),
        "sitter_key": search_key(info.sitter),
        "medium_key": search_key(info.medium),
        "date_first": first,
        "date_last": last,
        "note_json": note.to_json(),
    }


def swatch_columns(note: Note, swatch: Swatch) -> Row:
    """Return the row of one swatch, without its reading."""
    hue, chroma = munsell_columns(swatch.munsell)
    info = note.card_info
    texts = (swatch.recipe, info.title, info.sitter, info.medium, info.support, info.note, note.photo.file)
    return {
        "swatch": swatch.id,
        "row_number": swatch.row,
        "column_number": swatch.column,
        "lab_l": swatch.lab[0],
        "lab_a": swatch.lab[1],
        "lab_b": swatch.lab[2],
        "u_de00": swatch.uncertainty.de00,
        "own_de00": swatch.uncertainty.own_de00,
        "munsell": swatch.munsell,
        "munsell_hue": hue,
        "munsell_chroma": chroma,
        "value": swatch.value,
        "value_name": swatch.value_name,
        "temperature": swatch.temperature.name,
        "relative": swatch.temperature.relative,
        "lean": swatch.lean,
        "recipe": _storable(swatch.recipe),
        "writing": _storable(swatch.writing or ""),
        "words": search_key("\n".join(texts)),
    }


def search_key(text: str) -> str:
    """Return a text as it is compared: without regard to case, spaces joined (alike in every database)."""
    return " ".join(_storable(text).casefold().split())


def _storable(text: str) -> str:
    # PostgreSQL's text holds no NUL; the note's own JSON writes it as an escape.
    return text.replace("\0", " ")


class Deriver:
    """Builds the derived rows of readings with one list of tubes.

    Parameters
    ----------
    tubes : TubeList
    """

    def __init__(self, tubes: TubeList) -> None:
        # Recipes repeat a great deal from card to card.
        self._parse = lru_cache(maxsize=4096)(lambda text: parse_recipe(text, tubes))

    def write(self, connection: Connection, reading_id: int, note: Note, newest: int) -> None:
        """Insert the swatches and ingredients of a reading."""
        rows = [
            {**swatch_columns(note, swatch), "reading_id": reading_id, "newest": newest} for swatch in note.swatches
        ]
        statement = insert(SwatchRow).returning(SwatchRow.id, sort_by_parameter_order=True)
        keys = connection.execute(statement, rows).scalars().all()
        ingredients = [
            {"swatch_id": key, "tube": tube, "sure": sure}
            for key, swatch in zip(keys, note.swatches, strict=True)
            for tube, sure in self.ingredients(swatch.recipe)
        ]
        if ingredients:
            connection.execute(insert(IngredientRow), ingredients)

    def rewrite(self, connection: Connection, reading_id: int, note: Note, newest: int) -> None:
        """Replace the derived rows and columns of a reading."""
        erase_swatches(connection, reading_id)
        connection.execute(
            update(ReadingRow).where(ReadingRow.id == reading_id).values(**reading_columns(note), newest=newest)
        )
        self.write(connection, reading_id, note, newest)

    def ingredients(self, recipe: str) -> list[tuple[str, int]]:
        """Return (tube's key, whether it surely is in it) for everything a recipe names."""
        parsed: Recipe = self._parse(recipe)
        found: dict[str, int] = {}
        for ingredient in parsed.ingredients:
            sure = int(not ingredient.possible)
            for name in ingredient.possible or (ingredient.name,):
                key = search_key(name)
                found[key] = max(sure, found.get(key, 0))
        return sorted(found.items())


def erase_swatches(connection: Connection, reading_id: int) -> None:
    """Delete the swatches and ingredients of a reading."""
    keys = select(SwatchRow.id).where(SwatchRow.reading_id == reading_id)
    connection.execute(delete(IngredientRow).where(IngredientRow.swatch_id.in_(keys)))
    connection.execute(delete(SwatchRow).where(SwatchRow.reading_id == reading_id))
