"""Looking an archive over, whether its rows still say what its notes say."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from sqlalchemy import Connection, select, text

from swatchread.archive.adding import mark_newest
from swatchread.archive.note_rows import Deriver, Place, reading_columns, storable, swatch_columns
from swatchread.archive.packed_colours import pack
from swatchread.archive.results import Fault
from swatchread.archive.tables import CardRow, ColoursRow, NoteRow, ReadingRow, RecipeRow, SwatchRow
from swatchread.errors import NoteError
from swatchread.note.handwriting_files import writing_file
from swatchread.note.model import Note, parse_note


def check_archive(connection: Connection, deriver: Deriver, *, repair: bool) -> tuple[Fault, ...]:
    """Check an archive; see `swatchread.archive.store.Archive.check`."""
    faults = _file_faults(connection)
    for card in connection.execute(select(CardRow.id).order_by(CardRow.id)).scalars().all():
        rows = connection.execute(
            select(ReadingRow.__table__, NoteRow.json)
            .join(NoteRow, NoteRow.reading_id == ReadingRow.id)
            .where(ReadingRow.card_id == card)
        ).all()
        if not rows:
            faults.append(Fault(card, "has no reading; remove it"))
            continue
        if sum(row.newest for row in rows) != 1:
            faults.append(Fault(card, "does not mark exactly one reading as the newest", repair))
            if repair:
                mark_newest(connection, card)
        for row in rows:
            faults.extend(_reading_faults(connection, deriver, row, repair=repair))
    return tuple(faults)


def _file_faults(connection: Connection) -> list[Fault]:
    if connection.dialect.name != "sqlite":
        return []
    told = connection.execute(text("PRAGMA integrity_check(20)")).scalars().all()
    faults = [Fault(None, f"the file is damaged: {line}") for line in told if line != "ok"]
    loose = connection.execute(text("PRAGMA foreign_key_check")).all()
    return faults + [Fault(None, f"a row of {row[0]} belongs to nothing") for row in loose]


def _reading_faults(connection: Connection, deriver: Deriver, row: Any, *, repair: bool) -> list[Fault]:
    try:
        note = parse_note(row.json, "its note")
    except NoteError as error:
        return [Fault(row.card_id, f"reading {row.tool_version}: {error.what}: {error.why}")]
    faults = []
    derived = reading_columns(note)
    if any(getattr(row, name) != value for name, value in derived.items()) or not _rows_agree(
        connection, deriver, row, note
    ):
        faults.append(
            Fault(row.card_id, f"reading {row.tool_version}: what is searched is not what the note says", repair)
        )
        if repair:
            newest = connection.execute(select(ReadingRow.newest).where(ReadingRow.id == row.id)).scalar_one()
            deriver.rewrite(connection, Place(row.card_id, row.id, newest), note)
    return faults + [
        Fault(row.card_id, f"the picture of the writing beside {swatch.id} is missing")
        for swatch in note.swatches
        if swatch.writing and row.folder and writing_file(Path(row.folder), swatch.writing) is None
    ]


def _rows_agree(connection: Connection, deriver: Deriver, row: Any, note: Note) -> bool:
    statement = (
        select(SwatchRow.__table__, RecipeRow.written)
        .join(RecipeRow, RecipeRow.id == SwatchRow.recipe_id, isouter=True)
        .where(SwatchRow.reading_id == row.id)
    )
    rows = connection.execute(statement).all()
    kept = {swatch.swatch: swatch for swatch in rows}
    if len(rows) != len(note.swatches) or set(kept) != {swatch.id for swatch in note.swatches}:
        return False
    owner = {"card_id": row.card_id, "newest": row.newest}
    for swatch in note.swatches:
        columns = {**swatch_columns(swatch), **owner, "written": storable(swatch.recipe) or None}
        if any(getattr(kept[swatch.id], name) != value for name, value in columns.items()):
            return False
    colours = connection.execute(select(ColoursRow.__table__).where(ColoursRow.reading_id == row.id)).first()
    packed = pack((kept[s.id].id for s in note.swatches), (s.lab for s in note.swatches))
    if colours is None or colours.newest != row.newest or bytes(colours.packed) != packed:
        return False
    return all(
        deriver.recipe_agrees(connection, kept[swatch.id].recipe_id, swatch.recipe)
        for swatch in note.swatches
        if swatch.recipe
    )
