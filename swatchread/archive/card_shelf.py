"""The cards of the archive a page at a time, the newest first, each with its note."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from sqlalchemy import Engine, select

from swatchread.archive.database import reading
from swatchread.archive.note_rows import search_key, stored_note
from swatchread.archive.tables import ReadingRow
from swatchread.note.model import Note

SHELF: Final = 48
"""Cards that are shown at a time (choice): a few screens full."""


@dataclass(frozen=True, slots=True)
class ShelfCard:
    """A card on the shelf: its number and its newest note."""

    card: int
    note: Note


@dataclass(frozen=True, slots=True)
class Shelf:
    """Some cards, the newest first; `older` is the number to ask for those before, or None."""

    cards: tuple[ShelfCard, ...]
    older: int | None


def shelf(engine: Engine, before: int | None = None, words: str = "") -> Shelf:
    """Return the newest cards.

    Parameters
    ----------
    engine : sqlalchemy.Engine
    before : int, optional
        Only cards with a smaller number.
    words : str
        Only cards in whose title, sitter and remarks all of these words stand.

    Raises
    ------
    DamagedNoteError
        If one of their notes is damaged.
    """
    wanted = select(ReadingRow.card_id, ReadingRow.note_json, ReadingRow.note_sha256).where(ReadingRow.newest == 1)
    if before is not None:
        wanted = wanted.where(ReadingRow.card_id < before)
    for word in search_key(words).split():
        wanted = wanted.where(ReadingRow.words.contains(word, autoescape=True))
    with reading(engine) as connection:
        rows = connection.execute(wanted.order_by(ReadingRow.card_id.desc()).limit(SHELF + 1)).all()
    cards = tuple(ShelfCard(row.card_id, stored_note(row)) for row in rows[:SHELF])
    return Shelf(cards, cards[-1].card if len(rows) > SHELF else None)
