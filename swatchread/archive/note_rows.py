"""From a note to the rows that are searched."""

from __future__ import annotations

import hashlib
import unicodedata
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from sqlalchemy import Connection, delete, exists, insert, select, update

from swatchread.archive.dates import day_range
from swatchread.archive.munsell_range import munsell_columns
from swatchread.archive.packed_colours import pack
from swatchread.archive.tables import ColoursRow, IngredientRow, NoteRow, ReadingRow, RecipeRow, SwatchRow
from swatchread.note.model import Note, Swatch
from swatchread.recipes.recipe import Recipe, parse_recipe
from swatchread.recipes.tubes import TubeList

Row = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Place:
    """Where swatches belong: the keys of their card and reading, and whether that reading is the newest."""

    card: int
    reading: int
    newest: int


def reading_columns(note: Note) -> Row:
    """Return the derived columns of a reading."""
    info = note.card_info
    texts = [info.title, info.sitter, info.medium, info.support, info.note, note.photo.file]
    first, last = day_range(info.date) or day_range(note.photo.taken or "") or (None, None)
    return {
        "tool_version": note.tool.version,
        "made": note.made,
        "photo_file": storable(note.photo.file),
        "title": storable(info.title),
        "sitter": storable(info.sitter),
        "date": storable(info.date),
        "medium": storable(info.medium),
        "sitter_key": search_key(info.sitter),
        "medium_key": search_key(info.medium),
        "date_first": first,
        "date_last": last,
        "words": search_key("\n".join(texts)),
    }


def swatch_columns(swatch: Swatch) -> Row:
    """Return the row of one swatch, without its reading and its recipe."""
    hue, chroma = munsell_columns(swatch.munsell)
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
        "writing": storable(swatch.writing or ""),
    }


def search_key(text: str) -> str:
    """Return a text as it is compared: without regard to case, spaces joined (alike in every database).

    An accent may be a letter's own or follow it, as file names on some systems have it: both are one (Unicode Standard,
    section 3.13, D145: canonical caseless matching).
    """
    folded = unicodedata.normalize("NFD", unicodedata.normalize("NFD", storable(text)).casefold())
    return " ".join(unicodedata.normalize("NFC", folded).split())


def storable(text: str) -> str:
    """Return a text as every database can hold it."""
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

    def write(self, connection: Connection, place: Place, note: Note) -> None:
        """Insert the swatches of a reading, with their recipes and packed colours."""
        recipes = self._recipe_keys(connection, {swatch.recipe for swatch in note.swatches if swatch.recipe})
        owner = {"card_id": place.card, "reading_id": place.reading, "newest": place.newest}
        rows = [{**swatch_columns(s), **owner, "recipe_id": recipes.get(s.recipe)} for s in note.swatches]
        statement = insert(SwatchRow).returning(SwatchRow.id, sort_by_parameter_order=True)
        keys = connection.execute(statement, rows).scalars().all()
        packed = pack(keys, (swatch.lab for swatch in note.swatches))
        connection.execute(insert(ColoursRow).values(reading_id=place.reading, newest=place.newest, packed=packed))

    def rewrite(self, connection: Connection, place: Place, note: Note) -> None:
        """Replace the note of a reading and all that is derived from it."""
        erase_swatches(connection, place.reading)
        mine = ReadingRow.id == place.reading
        connection.execute(update(ReadingRow).where(mine).values(**reading_columns(note), newest=place.newest))
        connection.execute(update(NoteRow).where(NoteRow.reading_id == place.reading).values(json=note.to_json()))
        # Recipes that other readings carry too are still there, as they were understood before.
        for text, key in self._known_recipes(connection, {swatch.recipe for swatch in note.swatches}).items():
            if not self.recipe_agrees(connection, key, text):
                connection.execute(update(RecipeRow).where(RecipeRow.id == key).values(words=search_key(text)))
                connection.execute(delete(IngredientRow).where(IngredientRow.recipe_id == key))
                self._insert_ingredients(connection, key, text)
        self.write(connection, place, note)

    def recipe_agrees(self, connection: Connection, key: int, recipe: str) -> bool:
        """Say whether what is searched of a recipe is what would be written of it now."""
        words = connection.execute(select(RecipeRow.words).where(RecipeRow.id == key)).scalar()
        named = connection.execute(select(IngredientRow.tube, IngredientRow.sure).where(IngredientRow.recipe_id == key))
        return words == search_key(recipe) and sorted((tube, sure) for tube, sure in named) == self.ingredients(recipe)

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

    def _recipe_keys(self, connection: Connection, texts: set[str]) -> dict[str, int]:
        """Return the row key of each recipe; new ones are inserted with their ingredients."""
        keys = self._known_recipes(connection, texts)
        for text in sorted(texts - set(keys)):
            new = insert(RecipeRow).values(sha256=recipe_digest(text), written=storable(text), words=search_key(text))
            keys[text] = key = connection.execute(new.returning(RecipeRow.id)).scalar_one()
            self._insert_ingredients(connection, key, text)
        return keys

    def _known_recipes(self, connection: Connection, texts: set[str]) -> dict[str, int]:
        """Return the row key of each recipe that is there already."""
        digests = {recipe_digest(text): text for text in texts}
        known = select(RecipeRow.sha256, RecipeRow.id).where(RecipeRow.sha256.in_(list(digests)))
        return {digests[row.sha256]: row.id for row in connection.execute(known)}

    def _insert_ingredients(self, connection: Connection, key: int, text: str) -> None:
        rows = [{"recipe_id": key, "tube": tube, "sure": sure} for tube, sure in self.ingredients(text)]
        if rows:
            connection.execute(insert(IngredientRow), rows)


def recipe_digest(text: str) -> str:
    """Return what a recipe is known by in the table."""
    return hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest()


def erase_swatches(connection: Connection, reading: int) -> None:
    """Delete the swatches and colours of a reading, and the recipes that nothing else carries."""
    mine = SwatchRow.reading_id == reading
    recipes = connection.execute(select(SwatchRow.recipe_id).where(mine, SwatchRow.recipe_id.is_not(None)).distinct())
    keys = recipes.scalars().all()
    connection.execute(delete(SwatchRow).where(mine))
    connection.execute(delete(ColoursRow).where(ColoursRow.reading_id == reading))
    loose = select(RecipeRow.id).where(RecipeRow.id.in_(keys), ~exists().where(SwatchRow.recipe_id == RecipeRow.id))
    doomed = connection.execute(loose).scalars().all()
    connection.execute(delete(IngredientRow).where(IngredientRow.recipe_id.in_(doomed)))
    connection.execute(delete(RecipeRow).where(RecipeRow.id.in_(doomed)))
