"""Pictures of cards, kept under the hash of their bytes, and the corrections of a reading that can be undone.

Functions that change something take the connection of a transaction, so that a note and its pictures are changed
together (`swatchread.archive.picture_archive.PictureArchive` calls them).
"""

from __future__ import annotations

import hashlib
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from sqlalchemy import Connection, Engine, delete, func, insert, select, update

from swatchread.archive.database import reading
from swatchread.archive.tables import CardHintsRow, CardPictureRow, CorrectionRow, PictureRow
from swatchread.errors import ArchiveError
from swatchread.note.model import Note, parse_note
from swatchread.note.picture_names import marked_name, stem_of_crop, title_name
from swatchread.note.safe_files import read_writing

CARD, HEADING, MARKED, PHOTO, WRITING = "card", "heading", "marked", "photo", "writing:"
"""Roles: the card cut out, what is written above its swatches, the marked photo, the photo itself for the screen, and a
swatch's handwriting with its id after the colon."""

MOST_STEPS: Final = 40
"""Corrections of a card that can be undone (choice)."""

_TODAY: Final = 0


@dataclass(frozen=True, slots=True)
class Picture:
    """A picture as a browser shows it."""

    media_type: str
    data: bytes

    @property
    def digest(self) -> str:
        """SHA-256 of the bytes."""
        return hashlib.sha256(self.data).hexdigest()


Pictures = Mapping[str, Picture]
"""Role -> picture."""


def pictures_beside(note: Note, folder: Path) -> dict[str, Picture]:
    """Return the pictures that a reading wrote beside its note: handwriting, title and marked photo.

    Parameters
    ----------
    note : Note
        Not trusted: names that lead out of the folder count as none.
    folder : pathlib.Path
    """
    found: dict[str, Picture] = {}
    stems = {Path(note.photo.file).stem}
    for swatch in note.swatches:
        crop = read_writing(folder, swatch.writing)
        if crop is not None and swatch.writing:
            found[f"{WRITING}{swatch.id}"] = Picture(crop[1], crop[0])
            stems.add(stem_of_crop(swatch.writing, swatch.id))
    if not found:
        return found
    for role, name in ((MARKED, marked_name), (HEADING, title_name)):
        pictures = (read_writing(folder, name(stem)) for stem in sorted(stems, reverse=True))
        if (picture := next(filter(None, pictures), None)) is not None:
            found[role] = Picture(picture[1], picture[0])
    return found


class PictureStore:
    """Looks pictures and corrections up.

    Parameters
    ----------
    engine : sqlalchemy.Engine
    """

    def __init__(self, engine: Engine) -> None:
        self._engine = engine

    def picture(self, digest: str) -> Picture | None:
        """Return the picture with a hash, or None."""
        wanted = select(PictureRow.media_type, PictureRow.data).where(PictureRow.digest == digest)
        with reading(self._engine) as connection:
            row = connection.execute(wanted).first()
        return None if row is None else Picture(row.media_type, row.data)

    def of(self, card: int) -> dict[str, str]:
        """Return the hashes of a card's pictures by their role."""
        with reading(self._engine) as connection:
            return _roles(connection, card, _TODAY)

    def of_cards(self, cards: Collection[int], role: str) -> dict[int, str]:
        """Return the hash of each card's picture in one role, by the card's number."""
        wanted = select(CardPictureRow.card_id, CardPictureRow.digest).where(
            CardPictureRow.card_id.in_(cards), CardPictureRow.step == _TODAY, CardPictureRow.role == role
        )
        with reading(self._engine) as connection:
            return {row.card_id: row.digest for row in connection.execute(wanted)}

    def hints(self, card: int) -> str:
        """Return what the painter has pointed at; empty if nothing."""
        with reading(self._engine) as connection:
            return _hints(connection, card)

    def steps(self, card: int) -> int:
        """Return how many corrections can be undone."""
        count = select(func.count()).where(CorrectionRow.card_id == card)
        with reading(self._engine) as connection:
            return connection.execute(count).scalar_one()


def keep_pictures(connection: Connection, card: int, pictures: Pictures, hints: str) -> None:
    """Put pictures in the place of a card's, and what the painter pointed at."""
    before = _roles(connection, card, _TODAY)
    connection.execute(delete(CardPictureRow).where(CardPictureRow.card_id == card, CardPictureRow.step == _TODAY))
    add_pictures(connection, card, pictures)
    _set_hints(connection, card, hints)
    _forget(connection, before.values())


def add_pictures(connection: Connection, card: int, pictures: Pictures) -> None:
    """Add pictures to those of a card; of one role the new one counts."""
    digests = {role: picture.digest for role, picture in pictures.items()}
    known = set(connection.execute(select(PictureRow.digest).where(PictureRow.digest.in_(digests.values()))).scalars())
    new = {
        digest: {"digest": digest, "media_type": pictures[role].media_type, "data": pictures[role].data}
        for role, digest in digests.items()
        if digest not in known
    }
    if new:
        connection.execute(insert(PictureRow), list(new.values()))
    of_today = (CardPictureRow.card_id == card, CardPictureRow.step == _TODAY)
    connection.execute(delete(CardPictureRow).where(*of_today, CardPictureRow.role.in_(digests)))
    rows = [{"card_id": card, "step": _TODAY, "role": role, "digest": digest} for role, digest in digests.items()]
    if rows:
        connection.execute(insert(CardPictureRow), rows)


def push_correction(connection: Connection, card: int, before: Note) -> None:
    """Remember how a card was read, before it is read otherwise."""
    values = {"card_id": card, "hints": _hints(connection, card), "note_json": before.to_json()}
    step = connection.execute(insert(CorrectionRow).values(**values).returning(CorrectionRow.id)).scalar_one()
    rows = [
        {"card_id": card, "step": step, "role": role, "digest": digest}
        for role, digest in _roles(connection, card, _TODAY).items()
    ]
    if rows:
        connection.execute(insert(CardPictureRow), rows)
    for old in _steps(connection, card)[MOST_STEPS:]:
        _drop_step(connection, card, old)


def last_correction(connection: Connection, card: int) -> Note:
    """Return the note that `pop_correction` would bring back.

    Raises
    ------
    ArchiveError
        If there is nothing to undo.
    """
    steps = _steps(connection, card)
    if not steps:
        raise ArchiveError(f"Nothing is left to undo on card {card}", "", "Read the photo again to begin anew")
    text = connection.execute(select(CorrectionRow.note_json).where(CorrectionRow.id == steps[0])).scalar_one()
    return parse_note(text, f"card {card}")


def pop_correction(connection: Connection, card: int) -> None:
    """Bring back the pictures and what the painter had pointed at before the last correction."""
    step = _steps(connection, card)[0]
    gone = _roles(connection, card, _TODAY)
    hints = connection.execute(select(CorrectionRow.hints).where(CorrectionRow.id == step)).scalar_one()
    of_card = CardPictureRow.card_id == card
    connection.execute(delete(CardPictureRow).where(of_card, CardPictureRow.step == _TODAY))
    connection.execute(update(CardPictureRow).where(of_card, CardPictureRow.step == step).values(step=_TODAY))
    connection.execute(delete(CorrectionRow).where(CorrectionRow.id == step))
    _set_hints(connection, card, hints)
    _forget(connection, gone.values())


def forget_unused(connection: Connection) -> None:
    """Delete the pictures that belong to no card any more."""
    connection.execute(delete(PictureRow).where(PictureRow.digest.not_in(select(CardPictureRow.digest))))


def _steps(connection: Connection, card: int) -> list[int]:
    """Return the keys of a card's corrections, the newest first."""
    of_card = select(CorrectionRow.id).where(CorrectionRow.card_id == card)
    return list(connection.execute(of_card.order_by(CorrectionRow.id.desc())).scalars())


def _drop_step(connection: Connection, card: int, step: int) -> None:
    gone = _roles(connection, card, step)
    connection.execute(delete(CardPictureRow).where(CardPictureRow.card_id == card, CardPictureRow.step == step))
    connection.execute(delete(CorrectionRow).where(CorrectionRow.id == step))
    _forget(connection, gone.values())


def _roles(connection: Connection, card: int, step: int) -> dict[str, str]:
    wanted = select(CardPictureRow.role, CardPictureRow.digest).where(
        CardPictureRow.card_id == card, CardPictureRow.step == step
    )
    return {row.role: row.digest for row in connection.execute(wanted)}


def _hints(connection: Connection, card: int) -> str:
    return connection.execute(select(CardHintsRow.hints).where(CardHintsRow.card_id == card)).scalar() or ""


def _set_hints(connection: Connection, card: int, hints: str) -> None:
    connection.execute(delete(CardHintsRow).where(CardHintsRow.card_id == card))
    if hints:
        connection.execute(insert(CardHintsRow).values(card_id=card, hints=hints))


def _forget(connection: Connection, digests: Iterable[str]) -> None:
    """Delete those of some pictures that no card has any more."""
    used = select(CardPictureRow.digest).where(CardPictureRow.digest == PictureRow.digest).exists()
    connection.execute(delete(PictureRow).where(PictureRow.digest.in_(set(digests)), ~used))
