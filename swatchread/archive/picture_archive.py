"""An archive that also keeps the pictures of its cards, and what was corrected on them."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, select

from swatchread.archive.adding import change_note, keep_note
from swatchread.archive.card_pictures import (
    Picture,
    Pictures,
    PictureStore,
    add_pictures,
    forget_unused,
    keep_pictures,
    last_correction,
    pictures_beside,
    pop_correction,
    push_correction,
)
from swatchread.archive.card_shelf import Shelf, shelf
from swatchread.archive.confirmed_writing import ConfirmedWriting, known_writing
from swatchread.archive.database import reading, writing
from swatchread.archive.note_rows import stored_note
from swatchread.archive.open_doubts import OpenDoubts
from swatchread.archive.photo_cards import cards_of_photo
from swatchread.archive.results import Added, CardView
from swatchread.archive.store import Archive
from swatchread.archive.tables import ReadingRow
from swatchread.errors import ArchiveError
from swatchread.note.model import Note

_PHOTOS = "photos"
"""Folder of the photos that came in, beside an archive that is a file."""


class PictureArchive(Archive):
    """An archive with pictures; a note and its pictures are always changed together."""

    @property
    def pictures(self) -> PictureStore:
        """The pictures, to be looked up."""
        return PictureStore(self._engine)

    def known_writing(self) -> ConfirmedWriting:
        """Return what painters have entered beside their handwriting."""
        return known_writing(self._engine)

    def open_doubts(self) -> OpenDoubts:
        """Return what is doubtful about the cards, to be looked up."""
        return OpenDoubts(self._engine)

    @property
    def photo_folder(self) -> Path:
        """The folder for photos that come in: beside the archive's file, or the user's own."""
        url = self._engine.url
        if url.get_backend_name() == "sqlite" and url.database and url.database != ":memory:":
            path = Path(url.database).absolute()
            return path.with_name(f"{path.stem}-{_PHOTOS}")
        from platformdirs import user_data_path

        return user_data_path("swatchread", appauthor=False) / _PHOTOS

    def shelf(self, before: int | None = None, words: str = "") -> Shelf:
        """Return some cards, the newest first; see `swatchread.archive.card_shelf.shelf`."""
        return shelf(self._engine, before, words)

    def cards_of_photo(self, photo_sha256: str) -> tuple[int, ...]:
        """Return the numbers of a photo's cards in reading order, whichever version read them."""
        with reading(self._engine) as connection:
            return cards_of_photo(connection, photo_sha256)

    def add_read(self, note: Note, pictures: Pictures, hints: str = "") -> Added:
        """Add a note that was just read, with its pictures and what the painter had pointed at.

        Raises
        ------
        ArchiveError
            If it could not be kept.
        """
        with writing(self._engine) as connection:
            added = keep_note(connection, self._writer, note, None)
            if added.outcome != "left alone":
                keep_pictures(connection, added.card, pictures, hints)
        return added

    def add_pictures(self, card: int, pictures: Mapping[str, Picture]) -> None:
        """Add pictures to those that a card has."""
        with writing(self._engine) as connection:
            add_pictures(connection, card, pictures)

    def correct(
        self, card: int, change: Callable[[Note], Note], pictures: Pictures, hints: str, *, expected: int | None = None
    ) -> CardView:
        """Put a new reading of a card's photo in the place of its newest, which can be brought back.

        Parameters
        ----------
        card : int
        change : callable
            From the note as it is now to the new one, of the same photo.
        pictures : mapping of str to Picture
            Of the new reading.
        hints : str
            What the painter had pointed at for it.
        expected : int, optional
            The edition that the painter saw.

        Raises
        ------
        ConflictError
            If the card has another edition by now.
        ArchiveError
            If there is no such card, or it could not be written.
        """
        with writing(self._engine) as connection:
            row = _newest(connection, card)
            before = stored_note(row)
            push_correction(connection, card, before)
            self._put(connection, row, change(before), expected)
            keep_pictures(connection, card, pictures, hints)
        return self.card(card)

    def undo(self, card: int, merge: Callable[[Note, Note], Note], *, expected: int | None = None) -> CardView:
        """Bring back how a card was read before its last correction.

        Parameters
        ----------
        card : int
        merge : callable
            From the note as it is now and the one of before to the one that is kept: it brings today's words along.
        expected : int, optional
            The edition that the painter saw.

        Raises
        ------
        ConflictError
            If the card has another edition by now.
        ArchiveError
            If nothing can be undone.
        """
        with writing(self._engine) as connection:
            row = _newest(connection, card)
            self._put(connection, row, merge(stored_note(row), last_correction(connection, card)), expected)
            pop_correction(connection, card)
        return self.card(card)

    def remove(self, number: int, tool_version: str | None = None) -> int:
        """Remove a card, or one reading of it, and pictures that no card has any more; see `Archive.remove`."""
        removed = super().remove(number, tool_version)
        with writing(self._engine) as connection:
            forget_unused(connection)
        return removed

    def take_pictures_beside(self, card: int) -> None:
        """Add the pictures that lie beside a card's note, for a card that came before the archive kept pictures."""
        wanted = select(ReadingRow.folder).where(ReadingRow.card_id == card, ReadingRow.newest == 1)
        with reading(self._engine) as connection:
            folder = connection.execute(wanted).scalar()
        found = pictures_beside(self.card(card).note, Path(folder)) if folder else {}
        if found:
            self.add_pictures(card, found)

    def photo_file(self, card: int) -> Path | None:
        """Return the photo of a card's newest reading if it lies beside its note, as it was read."""
        wanted = select(ReadingRow.folder, ReadingRow.photo_file, ReadingRow.note_json, ReadingRow.card_id)
        with reading(self._engine) as connection:
            row = connection.execute(wanted.where(ReadingRow.card_id == card, ReadingRow.newest == 1)).first()
        if row is None or not row.folder or row.photo_file != Path(row.photo_file).name:
            return None
        path = Path(row.folder) / row.photo_file
        try:
            with path.open("rb") as file:
                digest = hashlib.file_digest(file, "sha256").hexdigest()
        except (OSError, ValueError):
            return None
        return path if digest == self.card(card).note.photo.sha256 else None

    def _put(self, connection: Connection, row: Any, note: Note, expected: int | None) -> None:
        """Put a note in the place of a row's, or beside it if another version of the tool read it."""
        if note.tool.version == row.tool_version:
            change_note(connection, self._writer, row, lambda _: note, expected)
        else:
            keep_note(connection, self._writer, note, None)


def _newest(connection: Connection, card: int) -> Any:
    row = connection.execute(
        select(ReadingRow.__table__).where(ReadingRow.card_id == card, ReadingRow.newest == 1)
    ).first()
    if row is None:
        raise ArchiveError(f"The archive has no card {card}", "", "List the cards with `swatchread archive list`")
    return row
