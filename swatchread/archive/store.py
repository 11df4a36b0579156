"""The archive: notes kept, listed, taken out again and asked."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from types import TracebackType
from typing import Any, Self

from sqlalchemy import Engine, delete, func, select

from swatchread.archive.adding import keep_note, mark_newest, rebuild
from swatchread.archive.conditions import Query
from swatchread.archive.database import archive_address, open_engine, reading, shown, writing
from swatchread.archive.integrity import check_archive
from swatchread.archive.migrations import SCHEMA_VERSION, bring_up_to_date, schema_version
from swatchread.archive.note_rows import Deriver, erase_swatches
from swatchread.archive.results import Added, CardLine, CardView, Fault, Found, ReadingLine
from swatchread.archive.search import find_swatches
from swatchread.archive.tables import CardRow, NoteRow, ReadingRow, SwatchRow
from swatchread.errors import ArchiveError
from swatchread.note.model import Note, parse_note
from swatchread.recipes.tubes import TubeList, load_tubes


class Archive:
    """An open archive. Use `Archive.open`; close it, or use it in a ``with`` statement.

    Parameters
    ----------
    engine : sqlalchemy.Engine
    tubes : TubeList
        What recipes are understood with.
    """

    def __init__(self, engine: Engine, tubes: TubeList) -> None:
        self._engine = engine
        self._tubes = tubes
        self._deriver = Deriver(tubes)

    @classmethod
    def open(cls, address: str | None = None, tubes: TubeList | None = None) -> Self:
        """Open an archive; make it, or bring it up to date, if need be.

        Parameters
        ----------
        address : str, optional
            An SQLAlchemy URL or the path of an SQLite file. Default: the environment variable
            ``SWATCHREAD_ARCHIVE``, else a file in the user's data directory.
        tubes : TubeList, optional
            Default: `swatchread.recipes.tubes.load_tubes`.

        Returns
        -------
        Archive

        Raises
        ------
        ArchiveError
            If it cannot be reached, is no archive, or was made by a later version.
        """
        archive = cls(open_engine(archive_address(address)), tubes or load_tubes())
        try:
            archive._prepare()
        except BaseException:
            archive.close()
            raise
        return archive

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def close(self) -> None:
        """Let go of the database."""
        self._engine.dispose()

    @property
    def address(self) -> str:
        """Where it is, without a password."""
        return shown(self._engine.url)

    def add(self, note: Note, folder: Path | None = None, *, erase_words: bool = False) -> Added:
        """Put a note in; the same photo read by the same version of the tool is never doubled.

        Parameters
        ----------
        note : Note
        folder : pathlib.Path, optional
            Where the note lies, to find the crops of handwriting again.
        erase_words : bool
            Whether empty words in the note empty the archive's; otherwise older words stay.

        Returns
        -------
        Added

        Raises
        ------
        ArchiveError
            If nothing could be kept.
        """
        return self.add_all([(note, folder)], erase_words=erase_words)[0]

    def add_all(self, notes: Iterable[tuple[Note, Path | None]], *, erase_words: bool = False) -> list[Added]:
        """Put several notes in at once, all or none; see `add`."""
        with writing(self._engine) as connection:
            return [
                keep_note(connection, self._deriver, note, folder, erase_words=erase_words) for note, folder in notes
            ]

    def holds(self, photo_sha256: str, tool_version: str) -> int | None:
        """Return the number of the card that a photo is, if a version of the tool has read it; else None."""
        statement = (
            select(ReadingRow.card_id)
            .join(CardRow, CardRow.id == ReadingRow.card_id)
            .where(CardRow.photo_sha256 == photo_sha256, ReadingRow.tool_version == tool_version)
        )
        with reading(self._engine) as connection:
            return connection.execute(statement).scalar()

    def cards(self) -> tuple[CardLine, ...]:
        """Return all cards, in the order they came in, each as its newest reading has it."""
        count = select(func.count()).where(SwatchRow.reading_id == ReadingRow.id).scalar_subquery()
        every = select(ReadingRow.card_id, func.count().label("n")).group_by(ReadingRow.card_id).subquery()
        statement = (
            select(ReadingRow, count.label("swatches"), every.c.n)
            .join(every, every.c.card_id == ReadingRow.card_id)
            .where(ReadingRow.newest == 1)
            .order_by(ReadingRow.card_id)
        )
        with reading(self._engine) as connection:
            return tuple(_line(row) for row in connection.execute(statement))

    def card(self, number: int, tool_version: str | None = None) -> CardView:
        """Return a card with its note.

        Parameters
        ----------
        number : int
            The card's number.
        tool_version : str, optional
            Which reading; default the newest.

        Raises
        ------
        ArchiveError
            If there is no such card or reading.
        """
        statement = (
            select(ReadingRow.__table__, NoteRow.json)
            .join(NoteRow, NoteRow.reading_id == ReadingRow.id)
            .where(ReadingRow.card_id == number)
            .order_by(ReadingRow.id)
        )
        with reading(self._engine) as connection:
            rows = connection.execute(statement).all()
        if not rows:
            raise ArchiveError(f"The archive has no card {number}", "", "List the cards with `swatchread archive list`")
        chosen = [row for row in rows if (row.newest if tool_version is None else row.tool_version == tool_version)]
        if not chosen:
            known = ", ".join(row.tool_version for row in rows)
            raise ArchiveError(f"Card {number} has no reading by version {tool_version}", f"it has {known}", "Name one")
        note = parse_note(chosen[0].json, f"card {number}")
        lines = tuple(ReadingLine(row.tool_version, row.made, row.added, bool(row.newest)) for row in rows)
        return CardView(number, note, chosen[0].folder, lines)

    def remove(self, number: int, tool_version: str | None = None) -> int:
        """Take a card, or one reading of it, out of the archive; files stay where they are.

        Returns
        -------
        int
            How many readings were removed.

        Raises
        ------
        ArchiveError
            If there is no such card or reading.
        """
        with writing(self._engine) as connection:
            rows = connection.execute(
                select(ReadingRow.id, ReadingRow.tool_version).where(ReadingRow.card_id == number)
            ).all()
            doomed = [row.id for row in rows if tool_version in {None, row.tool_version}]
            if not doomed:
                of = f" by version {tool_version}" if tool_version else ""
                raise ArchiveError(f"The archive has no reading of card {number}{of}", "", "Nothing was removed")
            for key in doomed:
                erase_swatches(connection, key)
            connection.execute(delete(NoteRow).where(NoteRow.reading_id.in_(doomed)))
            connection.execute(delete(ReadingRow).where(ReadingRow.id.in_(doomed)))
            if len(doomed) == len(rows):
                connection.execute(delete(CardRow).where(CardRow.id == number))
            else:
                mark_newest(connection, number)
        return len(doomed)

    def find(self, query: Query) -> tuple[Found, ...]:
        """Answer a question; see `swatchread.archive.search.find_swatches`."""
        with reading(self._engine) as connection:
            return find_swatches(connection, query, self._tubes)

    def check(self, *, repair: bool = False) -> tuple[Fault, ...]:
        """Look for what does not hold together.

        Parameters
        ----------
        repair : bool
            Build what is derived from the notes again where it is wrong, e.g. after the list of tubes changed.

        Returns
        -------
        tuple of Fault
        """
        opened = writing if repair else reading
        with opened(self._engine) as connection:
            return check_archive(connection, self._deriver, repair=repair)

    def _prepare(self) -> None:
        with reading(self._engine) as connection:
            if schema_version(connection) == SCHEMA_VERSION:
                return
        with writing(self._engine) as connection:
            if bring_up_to_date(connection):
                rebuild(connection, self._deriver)


def _line(row: Any) -> CardLine:
    return CardLine(
        card=row.card_id,
        title=row.title,
        sitter=row.sitter,
        date=row.date,
        medium=row.medium,
        photo=row.photo_file,
        swatches=row.swatches,
        readings=row.n,
        tool_version=row.tool_version,
    )
