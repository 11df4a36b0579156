"""Keeping a note: one card a photo, one reading a version, and words that are never lost."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from packaging.version import InvalidVersion, Version
from sqlalchemy import Connection, case, insert, select, update

from swatchread.archive.note_rows import RowWriter, reading_columns
from swatchread.archive.results import Added
from swatchread.archive.tables import CardRow, ReadingRow
from swatchread.note.entered_words import has_words, named_as, same_measurements, take_words
from swatchread.note.model import Note, parse_note


def keep_note(
    connection: Connection, writer: RowWriter, note: Note, folder: Path | None, *, erase_words: bool = False
) -> Added:
    """Keep one note; see `swatchread.archive.store.Archive.add`."""
    card = connection.execute(select(CardRow.id).where(CardRow.photo_sha256 == note.identity)).scalar()
    if card is None:
        new = insert(CardRow).values(photo_sha256=note.identity, added=_now()).returning(CardRow.id)
        card = connection.execute(new).scalar_one()
        _insert(connection, writer, note, folder, card)
        return Added("new card", card)
    same = select(ReadingRow.id, ReadingRow.note_json).where(
        ReadingRow.card_id == card, ReadingRow.tool_version == note.tool.version
    )
    row = connection.execute(same).first()
    if row is None:
        note, message = _with_earlier_words(connection, note, card)
        _insert(connection, writer, note, folder, card)
        return Added("new reading", card, message)
    kept = parse_note(row.note_json, f"card {card}")
    if not same_measurements(kept, note):
        message = (
            "the archive has other measurements of this photo by this version; remove that reading first to replace it"
        )
        return Added("left alone", card, message)
    worded = take_words(kept, note, erase=erase_words)
    # Also without new words: what is searched is derived anew, for the list of tubes may have changed.
    writer.write(connection, row.id, worded)
    mark_newest(connection, card)
    if folder is not None:
        connection.execute(update(ReadingRow).where(ReadingRow.id == row.id).values(folder=str(folder.resolve())))
    return Added("unchanged" if worded is kept else "words taken", card)


def mark_newest(connection: Connection, card: int) -> None:
    """Mark the reading by the latest version of the tool as the one that is searched."""
    rows = connection.execute(
        select(ReadingRow.id, ReadingRow.tool_version, ReadingRow.made).where(ReadingRow.card_id == card)
    ).all()
    newest = max(rows, key=lambda row: (_version(row.tool_version), row.made, row.id)).id
    marked = case((ReadingRow.id == newest, 1), else_=0)
    connection.execute(update(ReadingRow).where(ReadingRow.card_id == card).values(newest=marked))


def _insert(connection: Connection, writer: RowWriter, note: Note, folder: Path | None, card: int) -> None:
    columns: dict[str, Any] = {
        **reading_columns(note),
        "card_id": card,
        "added": _now(),
        "newest": 0,
        "folder": str(folder.resolve()) if folder else "",
        "colours": b"",
        "note_json": "",
    }
    key = connection.execute(insert(ReadingRow).values(**columns).returning(ReadingRow.id)).scalar_one()
    writer.write(connection, key, note)
    mark_newest(connection, card)


def _with_earlier_words(connection: Connection, note: Note, card: int) -> tuple[Note, str]:
    """Carry the words of the earlier reading over to a new one, if both found the same swatches."""
    newest = select(ReadingRow.note_json).where(ReadingRow.card_id == card, ReadingRow.newest == 1)
    text = connection.execute(newest).scalar()
    if text is None:
        return note, ""
    earlier = parse_note(text, f"card {card}")
    if not has_words(earlier):
        return note, ""
    # For a note fused from several photos, another photo may now be the best: then places cannot be compared.
    words = named_as(earlier, note) if earlier.photo.sha256 == note.photo.sha256 else earlier
    if words is None or {s.id for s in earlier.swatches} != {s.id for s in note.swatches}:
        return note, "this reading counts the swatches differently, so the earlier words stay with the earlier reading"
    worded = take_words(take_words(note, words), note)
    return worded, "" if worded is note or worded == note else "the words of the earlier reading were carried over"


def _version(text: str) -> Version:
    """Return a version of the tool in the order of PEP 440; what is no version comes before all that are."""
    try:
        return Version(text)
    except InvalidVersion:
        return Version("0.dev0")


def _now() -> str:
    return datetime.now(UTC).isoformat(timespec="seconds")
