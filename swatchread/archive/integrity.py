"""Checking that what is searched in an archive is what its notes say."""

from __future__ import annotations

from math import isclose
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, select, text
from sqlalchemy.exc import DatabaseError

from swatchread.archive.note_rows import RowWriter, pack, reading_columns, stored_note, swatch_rows
from swatchread.archive.results import Fault
from swatchread.archive.tables import CardRow, ReadingRow, SwatchRow, TubeRow
from swatchread.errors import DamagedNoteError
from swatchread.note.model import Note
from swatchread.note.safe_files import writing_file

_REMEDY = "remove the card and add its note again"
_NEW_ARCHIVE = "copy the file as it is, then add the note files to a new archive with --archive"
"""What helps where the database itself is damaged: nothing can be taken out of it any more."""


def check_archive(connection: Connection, writer: RowWriter) -> tuple[Fault, ...]:
    """Check an archive; see `swatchread.archive.store.Archive.check`."""
    faults = _file_faults(connection)
    try:
        cards = connection.execute(select(CardRow.id).order_by(CardRow.id)).scalars().all()
    except DatabaseError as error:
        return (*faults, Fault(None, f"the list of cards cannot be read: {error.orig}; {_NEW_ARCHIVE}"))
    for card in cards:
        try:
            with connection.begin_nested():  # so that the others can be read after a failure
                faults += _card_faults(connection, writer, card)
        except DatabaseError as error:
            faults.append(Fault(card, f"its part of the database cannot be read: {error.orig}; {_NEW_ARCHIVE}"))
    return tuple(faults)


def _card_faults(connection: Connection, writer: RowWriter, card: int) -> list[Fault]:
    rows = connection.execute(select(ReadingRow.__table__).where(ReadingRow.card_id == card)).all()
    if not rows:
        return [Fault(card, "it has no reading; add its note again")]
    faults = []
    if sum(row.newest for row in rows) != 1:
        faults.append(Fault(card, f"not exactly one of its readings is marked as the newest; {_REMEDY}"))
    for row in rows:
        faults.extend(_reading_faults(connection, writer, row))
    return faults


def _file_faults(connection: Connection) -> list[Fault]:
    if connection.dialect.name != "sqlite":
        return []
    try:
        lines = connection.execute(text("PRAGMA integrity_check(20)")).scalars().all()
    except DatabaseError as error:
        return [Fault(None, f"the file is damaged: {error.orig}; {_NEW_ARCHIVE}")]
    # One answer may hold many lines: pages that no longer hang together are listed one by one.
    faults = [Fault(None, f"the file is damaged: {' '.join(line.splitlines()[:2])}") for line in lines if line != "ok"]
    orphans = connection.execute(text("PRAGMA foreign_key_check")).all()
    return faults + [Fault(None, f"a row of {row[0]} belongs to nothing") for row in orphans]


def _reading_faults(connection: Connection, writer: RowWriter, row: Any) -> list[Fault]:
    try:
        note = stored_note(row)
    except DamagedNoteError as error:
        return [Fault(row.card_id, f"reading {row.tool_version}: its note is damaged: {error.why}; {_REMEDY}")]
    faults = []
    if not _rows_agree(connection, writer, row, note):
        what = f"reading {row.tool_version}: what is searched is not what the note says"
        faults.append(Fault(row.card_id, f"{what}; {_REMEDY}"))
    return faults + [
        Fault(row.card_id, f"the picture of the writing beside {swatch.id} is missing")
        for swatch in note.swatches
        if swatch.writing and row.folder and writing_file(Path(row.folder), swatch.writing) is None
    ]


def _rows_agree(connection: Connection, writer: RowWriter, row: Any, note: Note) -> bool:
    """Say whether all that is derived from a note is what would be derived from it now."""
    if not _agrees(row, reading_columns(note)):
        return False
    mine = SwatchRow.reading_id == row.id
    rows = connection.execute(select(SwatchRow.__table__).where(mine).order_by(SwatchRow.id)).all()
    if [one.swatch for one in rows] != [swatch.id for swatch in note.swatches]:
        return False
    tubes: dict[int, set[str]] = {one.id: set() for one in rows}
    named = select(TubeRow.swatch_id, TubeRow.tube).join(SwatchRow, SwatchRow.id == TubeRow.swatch_id).where(mine)
    for key, tube in connection.execute(named):
        tubes[key].add(tube)
    packed = pack((one.id for one in rows), (swatch.lab for swatch in note.swatches))
    return bytes(row.colours) == packed and all(
        tubes[one.id] == writer.tube_keys(swatch.recipe) and _agrees(one, derived)
        for one, swatch, derived in zip(rows, note.swatches, swatch_rows(note), strict=True)
    )


def _agrees(row: Any, derived: dict[str, Any]) -> bool:
    """Say whether a row holds what is derived from its note; processors may differ in the last digit of a number."""
    return all(
        isclose(stored, value, rel_tol=1e-9, abs_tol=1e-12)
        if isinstance(value, float) and isinstance(stored := getattr(row, name), float)
        else getattr(row, name) == value
        for name, value in derived.items()
    )
