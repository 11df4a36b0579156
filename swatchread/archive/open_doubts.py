"""What is doubtful about the cards of an archive; a note is looked at again when it has changed."""

from __future__ import annotations

from dataclasses import dataclass, field

from sqlalchemy import Connection, Engine, select

from swatchread.archive.database import reading
from swatchread.archive.note_rows import stored_note
from swatchread.archive.tables import ReadingRow
from swatchread.errors import DamagedNoteError
from swatchread.note.doubts import Doubt, doubts_of

_AT_ONCE = 500
"""Notes that are fetched at once (choice): each has some ten kilobytes."""


@dataclass(slots=True)
class OpenDoubts:
    """The doubts about an archive's cards.

    Parameters
    ----------
    engine : sqlalchemy.Engine
    """

    engine: Engine
    _known: dict[int, tuple[str, tuple[Doubt, ...]]] = field(default_factory=dict, init=False)

    def by_card(self) -> dict[int, tuple[Doubt, ...]]:
        """Return the doubts about each card by its number; cards without doubts are left out.

        Raises
        ------
        ArchiveError
            If the archive cannot be read.
        """
        notes = select(ReadingRow.card_id, ReadingRow.note_sha256).where(ReadingRow.newest == 1)
        with reading(self.engine) as connection:
            now = {row.card_id: row.note_sha256 for row in connection.execute(notes)}
            changed = [card for card, digest in now.items() if self._known.get(card, ("",))[0] != digest]
            for start in range(0, len(changed), _AT_ONCE):
                self._look_at(connection, changed[start : start + _AT_ONCE])
        self._known = {card: known for card, known in self._known.items() if card in now}
        return {card: doubts for card, (_, doubts) in sorted(self._known.items()) if doubts}

    def _look_at(self, connection: Connection, cards: list[int]) -> None:
        columns = (ReadingRow.card_id, ReadingRow.note_json, ReadingRow.note_sha256)
        for row in connection.execute(select(*columns).where(ReadingRow.newest == 1, ReadingRow.card_id.in_(cards))):
            try:
                note = stored_note(row)
            except DamagedNoteError:  # `archive check` tells that
                self._known[row.card_id] = (row.note_sha256, ())
                continue
            self._known[row.card_id] = (row.note_sha256, doubts_of(note))
