"""Keeping a note: one card a photo, one reading a version, and words that are never lost."""

from __future__ import annotations

import re
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, case, insert, select, update

from swatchread.archive.note_rows import Deriver, Place, reading_columns
from swatchread.archive.results import Added
from swatchread.archive.tables import CardRow, ColoursRow, NoteRow, ReadingRow, SwatchRow
from swatchread.note.entered_words import has_words, named_as, same_measurements, take_words
from swatchread.note.model import Note, parse_note

_VERSION = re.compile(r"(?P<release>\d+(?:\.\d+)*)(?P<rest>.*)", re.ASCII | re.DOTALL)
_NUMBER = re.compile(r"\d+", re.ASCII)


def keep_note(
    connection: Connection, deriver: Deriver, note: Note, folder: Path | None, *, erase_words: bool = False
) -> Added:
    """Keep one note; see `swatchread.archive.store.Archive.add`."""
    card = connection.execute(select(CardRow.id).where(CardRow.photo_sha256 == note.identity)).scalar()
    if card is None:
        new = insert(CardRow).values(photo_sha256=note.identity, added=_now()).returning(CardRow.id)
        card = connection.execute(new).scalar_one()
        _insert(connection, deriver, note, folder, card)
        return Added("new card", card)
    same = _with_notes().where(ReadingRow.card_id == card, ReadingRow.tool_version == note.tool.version)
    row = connection.execute(same).first()
    if row is None:
        note, message = _with_earlier_words(connection, note, card)
        _insert(connection, deriver, note, folder, card)
        return Added("new reading", card, message)
    kept = parse_note(row.json, f"card {card}")
    if not same_measurements(kept, note):
        message = (
            "the archive has other measurements of this photo by this version; remove that reading first to replace it"
        )
        return Added("left alone", card, message)
    worded = take_words(kept, note, erase=erase_words)
    if worded is kept:
        return Added("unchanged", card)
    deriver.rewrite(connection, Place(card, row.id, row.newest), worded)
    if folder is not None:
        connection.execute(update(ReadingRow).where(ReadingRow.id == row.id).values(folder=str(folder.resolve())))
    return Added("words taken", card)


def mark_newest(connection: Connection, card: int) -> None:
    """Mark the reading by the latest version of the tool, and its swatches, as the one that is searched."""
    rows = connection.execute(
        select(ReadingRow.id, ReadingRow.tool_version, ReadingRow.made).where(ReadingRow.card_id == card)
    ).all()
    newest = max(rows, key=lambda row: (_version_key(row.tool_version), row.made, row.id)).id
    connection.execute(
        update(ReadingRow).where(ReadingRow.card_id == card).values(newest=case((ReadingRow.id == newest, 1), else_=0))
    )
    for table in (SwatchRow, ColoursRow):
        connection.execute(
            update(table)
            .where(table.reading_id.in_([row.id for row in rows]))
            .values(newest=case((table.reading_id == newest, 1), else_=0))
        )


def rebuild(connection: Connection, deriver: Deriver) -> None:
    """Build everything that is derived from the notes again."""
    for key in connection.execute(select(ReadingRow.id).order_by(ReadingRow.id)).scalars().all():
        row = connection.execute(_with_notes().where(ReadingRow.id == key)).one()
        note = parse_note(row.json, f"card {row.card_id}")
        deriver.rewrite(connection, Place(row.card_id, key, row.newest), note)


def _with_notes() -> Any:
    columns = (ReadingRow.id, ReadingRow.card_id, ReadingRow.newest, NoteRow.json)
    return select(*columns).join(NoteRow, NoteRow.reading_id == ReadingRow.id)


def _insert(connection: Connection, deriver: Deriver, note: Note, folder: Path | None, card: int) -> None:
    columns = {
        **reading_columns(note),
        "card_id": card,
        "added": _now(),
        "newest": 0,
        "folder": str(folder.resolve()) if folder else "",
    }
    key = connection.execute(insert(ReadingRow).values(**columns).returning(ReadingRow.id)).scalar_one()
    connection.execute(insert(NoteRow).values(reading_id=key, json=note.to_json()))
    deriver.write(connection, Place(card, key, 0), note)
    mark_newest(connection, card)


def _with_earlier_words(connection: Connection, note: Note, card: int) -> tuple[Note, str]:
    """Hand the words of the reading before on to a new one, where both see the same swatches."""
    text = connection.execute(
        select(NoteRow.json)
        .join(ReadingRow, ReadingRow.id == NoteRow.reading_id)
        .where(ReadingRow.card_id == card, ReadingRow.newest == 1)
    ).scalar_one()
    earlier = parse_note(text, f"card {card}")
    if not has_words(earlier):
        return note, ""
    # Of photos fused into one, the best may be another one now: then places cannot be compared.
    words = named_as(earlier, note) if earlier.photo.sha256 == note.photo.sha256 else earlier
    if words is None or {s.id for s in earlier.swatches} != {s.id for s in note.swatches}:
        return note, "the swatches were counted otherwise than before, so the earlier words stay with that reading"
    worded = take_words(take_words(note, words), note)
    return worded, "" if worded is note or worded == note else "the words of the earlier reading were carried over"


def _version_key(version: str) -> tuple[tuple[int, ...], bool, tuple[int, ...]]:
    """Return what versions are ordered by: 0.2.0rc1 and 0.2.0.dev3, then 0.2.0, then 0.2.0.post1 (as PEP 440)."""
    found = _VERSION.match(version)
    release, rest = (found["release"], found["rest"]) if found else ("0", version)
    final = not rest or rest.startswith((".post", "-", "+"))
    return _numbers(release), final, _numbers(rest)


def _numbers(text: str) -> tuple[int, ...]:
    return tuple(int(number[:9]) for number in _NUMBER.findall(text))


def _now() -> str:
    return datetime.now(UTC).isoformat(timespec="seconds")
