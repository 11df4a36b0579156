"""Keeping a note: one card a photo, one reading a version, and words that are never lost."""

from __future__ import annotations

import json
import os
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from packaging.version import InvalidVersion, Version
from sqlalchemy import Connection, case, insert, select, update

from swatchread.archive.card_pictures import add_pictures, pictures_beside
from swatchread.archive.note_rows import RowWriter, reading_columns, storable, stored_note
from swatchread.archive.results import Added
from swatchread.archive.tables import CardRow, ReadingRow
from swatchread.errors import ConflictError, DamagedNoteError
from swatchread.note.entered_words import (
    has_words,
    merge_words,
    named_as,
    same_measurements,
    take_words,
    with_words,
    words_of,
)
from swatchread.note.model import Note
from swatchread.note.safe_files import readable_name


def keep_note(
    connection: Connection,
    writer: RowWriter,
    note: Note,
    folder: Path | None,
    *,
    erase_words: bool = False,
    expected: int | None = None,
) -> Added:
    """Keep one note; see `swatchread.archive.store.Archive.add`."""
    card = connection.execute(select(CardRow.id).where(CardRow.photo_sha256 == note.identity)).scalar()
    if card is None:
        new = insert(CardRow).values(photo_sha256=note.identity, added=_now()).returning(CardRow.id)
        card = connection.execute(new).scalar_one()
        _insert(connection, writer, note, folder, card, words_of(note))
        return Added("new card", card)
    same = select(ReadingRow.__table__).where(
        ReadingRow.card_id == card, ReadingRow.tool_version == storable(note.tool.version)
    )
    row = connection.execute(same).first()
    if row is None:
        worded, message = _with_earlier_words(connection, note, card)
        _insert(connection, writer, worded, folder, card, words_of(note))
        return Added("new reading", card, message)
    kept = stored_note(row)
    check_edition(row, expected)
    if not same_measurements(kept, note):
        message = (
            "the archive has other measurements of this photo by this version; remove that reading first to replace it"
        )
        return Added("left alone", card, message)
    worded, brought, message = _with_new_words(row, kept, note, erase=erase_words)
    more: dict[str, Any] = {"file_words": json.dumps(brought)}
    if folder is not None:
        more["folder"] = _stored_folder(folder)
    # Also without new words: what is searched is derived anew, for the list of tubes may have changed.
    save_note(connection, writer, row, worded, {**more, "edition": row.edition + (worded != kept)})
    mark_newest(connection, card)
    return Added("unchanged" if worded == kept else "words taken", card, message)


def change_note(
    connection: Connection, writer: RowWriter, row: Any, change: Callable[[Note], Note], expected: int | None
) -> tuple[Note, int]:
    """Change a stored note; see `swatchread.archive.store.Archive.change`. Return the note and its edition."""
    check_edition(row, expected)
    kept = stored_note(row)
    note = change(kept)
    if note == kept:
        return kept, row.edition
    if (note.identity, note.tool.version) != (kept.identity, kept.tool.version):
        raise ValueError("a change of a note keeps its photo and the version that read it")
    # The words that a note file brought are told apart from those that are written here.
    more: dict[str, Any] = {"edition": row.edition + 1}
    if not row.file_words:
        more["file_words"] = json.dumps(words_of(kept))
    save_note(connection, writer, row, note, more)
    return note, more["edition"]


def check_edition(row: Any, expected: int | None) -> None:
    """Refuse to save over a change that was not seen.

    Raises
    ------
    ConflictError
    """
    if expected is not None and row.edition != expected:
        raise ConflictError(
            f"Card {row.card_id} was changed by something else meanwhile", "saving would lose that change"
        )


def save_note(connection: Connection, writer: RowWriter, row: Any, note: Note, more: dict[str, Any]) -> None:
    """Store a note in the place of the one in a row of `ReadingRow`, with other columns."""
    writer.write(connection, row.id, note)
    connection.execute(update(ReadingRow).where(ReadingRow.id == row.id).values(**more))


def mark_newest(connection: Connection, card: int) -> None:
    """Mark the reading by the latest version of the tool as the one that is searched."""
    rows = connection.execute(
        select(ReadingRow.id, ReadingRow.tool_version, ReadingRow.made).where(ReadingRow.card_id == card)
    ).all()
    newest = max(rows, key=lambda row: (_version(row.tool_version), row.made, row.id)).id
    marked = case((ReadingRow.id == newest, 1), else_=0)
    connection.execute(update(ReadingRow).where(ReadingRow.card_id == card).values(newest=marked))


def _insert(
    connection: Connection, writer: RowWriter, note: Note, folder: Path | None, card: int, brought: dict[str, str]
) -> None:
    columns: dict[str, Any] = {
        **reading_columns(note),
        "card_id": card,
        "added": _now(),
        "newest": 0,
        "folder": _stored_folder(folder) if folder else "",
        "colours": b"",
        "edition": 1,
        "file_words": json.dumps(brought),
        "note_sha256": "",
        "note_json": "",
    }
    key = connection.execute(insert(ReadingRow).values(**columns).returning(ReadingRow.id)).scalar_one()
    writer.write(connection, key, note)
    mark_newest(connection, card)
    if folder:
        add_pictures(connection, card, pictures_beside(note, folder))


def _with_earlier_words(connection: Connection, note: Note, card: int) -> tuple[Note, str]:
    """Carry the words of the earlier reading over to a new one, if both found the same swatches."""
    newest = select(ReadingRow.__table__).where(ReadingRow.card_id == card, ReadingRow.newest == 1)
    row = connection.execute(newest).first()
    if row is None:
        return note, ""
    try:
        earlier = stored_note(row)
    except DamagedNoteError:
        return note, "the earlier reading is damaged: words that only the archive had are not carried over"
    if not has_words(earlier):
        return note, ""
    # For a note fused from several photos, another photo may now be the best: then places cannot be compared.
    words = named_as(earlier, note) if earlier.photo.sha256 == note.photo.sha256 else earlier
    if words is None or {s.id for s in earlier.swatches} != {s.id for s in note.swatches}:
        return note, "this reading counts the swatches differently, so the earlier words stay with the earlier reading"
    worded = take_words(take_words(note, words), note)
    return worded, "" if worded is note or worded == note else "the words of the earlier reading were carried over"


def _with_new_words(row: Any, kept: Note, note: Note, *, erase: bool) -> tuple[Note, dict[str, str], str]:
    """Take over the words of a note file, but none that would undo a change that was made in the archive.

    Returns
    -------
    note : Note
    brought : dict of str to str
        The words of the file, to be told from later changes.
    message : str
        Names the words that were changed in both places.
    """
    mine, theirs = words_of(kept), words_of(note)
    if erase:
        return take_words(kept, note, erase=True), theirs, ""
    base = json.loads(row.file_words) if row.file_words else mine
    merged = merge_words(base, mine, theirs)
    texts = dict.fromkeys(theirs, "") | mine | merged.changed
    brought = base | {name: text for name, text in theirs.items() if name not in merged.conflicts}
    message = ""
    if merged.conflicts:
        names = ", ".join(merged.conflicts)
        message = f"changed both in the archive and in the note file: {names}; the archive keeps its own words"
    return take_words(kept, with_words(note, texts)), brought, message


def _stored_folder(folder: Path) -> str:
    """Return a folder as a database can hold it; without the pictures in it if its name is no text."""
    name = os.path.realpath(folder)
    return name if readable_name(name) == name else ""


def _version(text: str) -> Version:
    """Return a version of the tool in the order of PEP 440; what is no version comes before all that are."""
    try:
        return Version(text)
    except InvalidVersion:
        return Version("0.dev0")


def _now() -> str:
    return datetime.now(UTC).isoformat(timespec="seconds")
