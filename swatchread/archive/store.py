"""The archive: add notes, list them, search them and take them out again."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any, Final, Self

from sqlalchemy import Connection, Engine, delete, func, select
from sqlalchemy.orm import aliased

from swatchread.archive.adding import change_note, keep_note, mark_newest
from swatchread.archive.conditions import Query
from swatchread.archive.database import (
    archive_address,
    bring_up_to_date,
    is_up_to_date,
    open_engine,
    reading,
    shown,
    writing,
)
from swatchread.archive.integrity import check_archive
from swatchread.archive.map_search import MapSearch
from swatchread.archive.note_rows import WITHOUT_WARNINGS, RowWriter, storable, stored_note
from swatchread.archive.results import Added, CardLine, CardView, Fault, Found, ReadingLine
from swatchread.archive.search import find_swatches
from swatchread.archive.tables import CardRow, ReadingRow, SwatchRow
from swatchread.archive.tube_words import TubeWords
from swatchread.errors import ArchiveError
from swatchread.note.model import Note
from swatchread.recipes.tubes import TubeList, load_tubes

_MOST_CARDS: Final = 2**31 - 1
"""The largest number that both databases hold as a key."""


class Archive:
    """An open archive, made by `Archive.open`. Close it, or use it in a ``with`` statement.

    Parameters
    ----------
    engine : sqlalchemy.Engine
    tubes : TubeList
        What recipes are understood with.

    Attributes
    ----------
    tubes : TubeWords
        The painter's own words for tubes.
    map : MapSearch
        The value-and-warmth map of all swatches.
    """

    def __init__(self, engine: Engine, tubes: TubeList) -> None:
        self._engine = engine
        self._writer = RowWriter(tubes)
        self.tubes = TubeWords(engine, tubes)
        self.map = MapSearch(engine, self.tubes)

    @classmethod
    def open(cls, address: str | None = None, tubes: TubeList | None = None) -> Self:
        """Open an archive. It is made if it does not exist, and brought up to date if it is older.

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
            If it cannot be reached, is no archive, or was made by a later or a development version.
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

    def __exit__(self, *_failure: object) -> None:
        self.close()

    def close(self) -> None:
        """Close the connections to the database."""
        self._engine.dispose()

    @property
    def address(self) -> str:
        """Where it is, without a password."""
        return shown(self._engine.url)

    def add(
        self, note: Note, folder: Path | None = None, *, erase_words: bool = False, expected: int | None = None
    ) -> Added:
        """Add a note. The same photo read by the same version of the tool is kept only once.

        Parameters
        ----------
        note : Note
        folder : pathlib.Path, optional
            The folder of the note, in which the crops of handwriting are found again.
        erase_words : bool
            Whether an empty recipe or an empty line of card information erases the archive's; if not, it stays.
        expected : int, optional
            The edition of the archive's own note from which this one was made (`CardView.edition`).

        Returns
        -------
        Added

        Raises
        ------
        ConflictError
            If the archive's note has another edition by now.
        ArchiveError
            If the note could not be kept.
        """
        with writing(self._engine) as connection:
            return keep_note(connection, self._writer, note, folder, erase_words=erase_words, expected=expected)

    def add_all(self, notes: Iterable[tuple[Note, Path | None]], *, erase_words: bool = False) -> list[Added]:
        """Add several notes at once, either all or none; see `add`."""
        with writing(self._engine) as connection:
            return [
                keep_note(connection, self._writer, note, folder, erase_words=erase_words) for note, folder in notes
            ]

    def holds(self, photo_sha256: str, tool_version: str) -> int | None:
        """Return the number of a photo's card if the archive has its reading by that version; else None."""
        statement = (
            select(ReadingRow.card_id)
            .join(CardRow, CardRow.id == ReadingRow.card_id)
            .where(CardRow.photo_sha256 == photo_sha256, ReadingRow.tool_version == storable(tool_version))
        )
        with reading(self._engine) as connection:
            return connection.execute(statement).scalar()

    def cards(self) -> tuple[CardLine, ...]:
        """Return all cards in the order in which they were added, each as its newest reading describes it."""
        swatches = select(func.count()).where(SwatchRow.reading_id == ReadingRow.id).scalar_subquery()
        other = aliased(ReadingRow)
        readings = select(func.count()).where(other.card_id == ReadingRow.card_id).scalar_subquery()
        statement = (
            select(
                ReadingRow.card_id.label("card"),
                ReadingRow.photo_file.label("photo"),
                *(getattr(ReadingRow, name) for name in ("title", "sitter", "date", "medium", "tool_version")),
                swatches.label("swatches"),
                readings.label("readings"),
                (~ReadingRow.note_json.contains(WITHOUT_WARNINGS)).label("doubtful"),
            )
            .where(ReadingRow.newest == 1)
            .order_by(ReadingRow.card_id)
        )
        with reading(self._engine) as connection:
            return tuple(CardLine(**row._mapping) for row in connection.execute(statement))  # noqa: SLF001

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
        with reading(self._engine) as connection:
            chosen, lines = _readings(connection, number, tool_version)
        return CardView(number, stored_note(chosen), lines, chosen.edition)

    def notes(self, last: int | None = None) -> dict[int, Note]:
        """Return the newest note of every card, or of the `last` cards only, by number, as they were at one moment.

        Raises
        ------
        DamagedNoteError
            If one is damaged.
        """
        newest = select(ReadingRow.__table__).where(ReadingRow.newest == 1)
        statement = newest.order_by(ReadingRow.card_id if last is None else ReadingRow.card_id.desc()).limit(last)
        with reading(self._engine) as connection:
            return {row.card_id: stored_note(row) for row in connection.execute(statement)}

    def change(
        self,
        number: int,
        change: Callable[[Note], Note],
        *,
        expected: int | None = None,
        tool_version: str | None = None,
    ) -> CardView:
        """Change the note of a card. Nobody else can change it between its reading and its writing.

        Parameters
        ----------
        number : int
            The card's number.
        change : callable
            Takes the note as it is now and returns it as it shall be, of the same photo and version. What it raises
            leaves the note as it is.
        expected : int, optional
            The edition that was opened (`CardView.edition`). Without it the note is changed whatever came between.
        tool_version : str, optional
            Which reading; default the newest.

        Returns
        -------
        CardView
            The card after the change, with the edition to name at the next one.

        Raises
        ------
        ConflictError
            If the note has another edition by now. Nothing was changed.
        ArchiveError
            If there is no such card or reading, or it could not be written.
        """
        with writing(self._engine) as connection:
            chosen, lines = _readings(connection, number, tool_version)
            note, edition = change_note(connection, self._writer, chosen, change, expected)
        return CardView(number, note, lines, edition)

    def remove(self, number: int, tool_version: str | None = None) -> int:
        """Remove a card, or one reading of it, from the archive. Photos and note files stay.

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
            of_card = select(ReadingRow.id, ReadingRow.tool_version).where(ReadingRow.card_id == number)
            rows = connection.execute(of_card).all() if 0 < number <= _MOST_CARDS else []
            keys = [row.id for row in rows if tool_version in {None, row.tool_version}]
            if not keys:
                by = f" by version {tool_version}" if tool_version else ""
                raise ArchiveError(f"The archive has no reading of card {number}{by}", "", "Nothing was removed")
            connection.execute(delete(ReadingRow).where(ReadingRow.id.in_(keys)))
            if len(keys) == len(rows):
                connection.execute(delete(CardRow).where(CardRow.id == number))
            else:
                mark_newest(connection, number)
        return len(keys)

    def find(self, query: Query) -> tuple[Found, ...]:
        """Answer a question; see `swatchread.archive.search.find_swatches`."""
        with reading(self._engine) as connection:
            return find_swatches(connection, query, self.tubes.for_questions(connection))

    def check(self) -> tuple[Fault, ...]:
        """Return all faults of the archive: damage, and rows that do not say what the notes say."""
        with reading(self._engine) as connection:
            return check_archive(connection, self._writer)

    def _prepare(self) -> None:
        with reading(self._engine) as connection:
            if is_up_to_date(connection):
                return
        with writing(self._engine) as connection:
            if not is_up_to_date(connection):  # another process may have been faster
                bring_up_to_date(connection)


def _readings(connection: Connection, number: int, tool_version: str | None) -> tuple[Any, tuple[ReadingLine, ...]]:
    """Return the row of one of a card's readings, and the list of all."""
    of_card = select(ReadingRow.__table__).where(ReadingRow.card_id == number).order_by(ReadingRow.id)
    rows = connection.execute(of_card).all() if 0 < number <= _MOST_CARDS else []
    if not rows:
        raise ArchiveError(f"The archive has no card {number}", "", "List the cards with `swatchread archive list`")
    chosen = [row for row in rows if (row.newest if tool_version is None else row.tool_version == tool_version)]
    if not chosen:
        known = ", ".join(row.tool_version for row in rows)
        raise ArchiveError(
            f"Card {number} has no reading by version {tool_version}", f"it has {known}", "Name one of them"
        )
    return chosen[0], tuple(ReadingLine(row.tool_version, row.made, bool(row.newest)) for row in rows)
