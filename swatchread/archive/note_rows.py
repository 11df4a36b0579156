"""From a note to the rows that are searched."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import numpy.typing as npt

import hashlib
import unicodedata
from functools import lru_cache

from sqlalchemy import Connection, delete, insert, update

from swatchread.archive.question_words import day_range, munsell_columns
from swatchread.archive.tables import ReadingRow, SwatchRow, TubeRow
from swatchread.colour.cielab import value_of_lab
from swatchread.errors import DamagedNoteError, NoteError
from swatchread.note.model import Note, Swatch, parse_note
from swatchread.recipes.recipe import tube_words
from swatchread.recipes.tubes import TubeList

Row = dict[str, Any]

_RECIPES_REMEMBERED = 4096
"""Recipes that are understood once only: they repeat a great deal from card to card."""

_MOST_LETTERS = 200
"""Letters of a tube's name by which it is found: PostgreSQL's index takes no key of more than 2,704 bytes."""

WITHOUT_WARNINGS = '\n "warnings": []'
"""How the JSON of a note without warnings reads; no text inside it can, because a line feed is escaped there."""

_RECORD = [("key", "<i8"), ("lab", "<f8", (3,))]
"""The key of a swatch's row, and its CIELAB (D50, 2 degree), little-endian: a numpy record."""


class RowWriter:
    """Writes the rows that are searched; recipes are understood with one list of tubes.

    Parameters
    ----------
    tubes : TubeList
    """

    def __init__(self, tubes: TubeList) -> None:
        self.tube_keys = lru_cache(maxsize=_RECIPES_REMEMBERED)(lambda recipe: _tube_keys(recipe, tubes))

    def write(self, connection: Connection, reading: int, note: Note) -> None:
        """Store the note of a reading, and replace all that is derived from it."""
        connection.execute(delete(SwatchRow).where(SwatchRow.reading_id == reading))
        rows = [{**row, "reading_id": reading} for row in swatch_rows(note)]
        inserted = insert(SwatchRow).returning(SwatchRow.id, sort_by_parameter_order=True)
        keys = connection.execute(inserted, rows).scalars().all()
        tubes = [
            {"swatch_id": key, "tube": tube}
            for key, swatch in zip(keys, note.swatches, strict=True)
            for tube in self.tube_keys(swatch.recipe)
        ]
        if tubes:
            connection.execute(insert(TubeRow), tubes)
        packed = pack(keys, (swatch.lab for swatch in note.swatches))
        text = note.to_json()
        stored = {"colours": packed, "note_sha256": checksum(text), "note_json": text}
        mine = update(ReadingRow).where(ReadingRow.id == reading)
        connection.execute(mine.values(**reading_columns(note), **stored))


def checksum(text: str) -> str:
    """Return the SHA-256 of a note's JSON. Bytes of an archive that are no text count as they were."""
    return hashlib.sha256(text.encode("utf-8", "surrogateescape")).hexdigest()


def stored_note(row: Any) -> Note:
    """Return the note of a row of `ReadingRow`.

    Raises
    ------
    DamagedNoteError
        If it is not the note that was stored, or none that this program can read.
    """
    card, text = row.card_id, row.note_json
    if not isinstance(text, str) or checksum(text) != row.note_sha256:
        raise _damaged(card, "it is not what was stored: its checksum differs")
    try:
        return parse_note(text.encode("utf-8", "surrogateescape"), f"card {card}")
    except NoteError as error:
        raise _damaged(card, error.why or error.what) from error


def _damaged(card: int, why: str) -> DamagedNoteError:
    remedy = f"Take the card out with `swatchread archive remove {card}`, and add its note file or its photo again"
    return DamagedNoteError(f"The note of card {card} in the archive is damaged", why, remedy)


def reading_columns(note: Note) -> Row:
    """Return the columns of a reading that are derived from its note, without the packed colours."""
    info = note.card_info
    texts = [info.title, info.sitter, info.medium, info.support, info.note, note.photo.file]
    first, last = day_range(info.date) or day_range(note.photo.taken or "") or (None, None)
    columns = {
        "tool_version": note.tool.version,
        "made": note.made,
        "photo_file": note.photo.file,
        "title": info.title,
        "sitter": info.sitter,
        "date": info.date,
        "medium": info.medium,
        "sitter_key": search_key(info.sitter),
        "medium_key": search_key(info.medium),
        "date_first": first,
        "date_last": last,
        "words": search_key("\n".join(texts)),
    }
    return _storable_texts(columns)


def swatch_rows(note: Note) -> list[Row]:
    """Return the rows of a note's swatches, without their reading."""
    values = value_of_lab([swatch.lab for swatch in note.swatches]).tolist()
    return [_swatch_columns(swatch, value) for swatch, value in zip(note.swatches, values, strict=True)]


def _swatch_columns(swatch: Swatch, value: float) -> Row:
    hue, chroma = munsell_columns(swatch.munsell)
    columns = {
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
        "value": value,
        "value_name": swatch.value_name,
        "temperature": swatch.temperature.name,
        "relative": swatch.temperature.relative,
        "lean": swatch.lean,
        "writing": swatch.writing or "",
        "recipe": swatch.recipe,
        "recipe_key": search_key(swatch.recipe),
    }
    return _storable_texts(columns)


def search_key(text: str) -> str:
    """Return a text in the form in which it is compared: case ignored, spaces joined (alike in every database).

    An accent may be part of its letter or follow it, as in file names of some systems: both count as the same (Unicode
    Standard, section 3.13, D145: canonical caseless matching).
    """
    folded = unicodedata.normalize("NFD", unicodedata.normalize("NFD", storable(text)).casefold())
    return " ".join(unicodedata.normalize("NFC", folded).split())


def storable(text: str) -> str:
    """Return a text as every database can hold it."""
    # PostgreSQL's text holds no NUL; the note's own JSON writes it as an escape.
    return text.replace("\0", " ")


def _storable_texts(columns: Row) -> Row:
    return {name: storable(value) if isinstance(value, str) else value for name, value in columns.items()}


def tube_key(name: str) -> str:
    """Return the key by which a tube is found."""
    return search_key(name)[:_MOST_LETTERS]


def _tube_keys(recipe: str, tubes: TubeList) -> frozenset[str]:
    """Return the words for tubes in a recipe, as they are compared; which tube a word means may change any day."""
    return frozenset(tube_key(words) for words in tube_words(recipe, tubes))


def pack(keys: Iterable[int], labs: Iterable[tuple[float, float, float]]) -> bytes:
    """Return the records of some swatches as bytes."""
    import numpy as np

    return np.array(list(zip(keys, labs, strict=True)), dtype=_RECORD).tobytes()


def unpack(parts: Iterable[bytes]) -> npt.NDArray[Any]:
    """Return the records of several packs joined: fields `key`, shape (n,), and `lab`, shape (n, 3)."""
    import numpy as np

    return np.frombuffer(b"".join(parts), dtype=_RECORD)
