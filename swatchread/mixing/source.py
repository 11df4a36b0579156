"""Where cards come from: the archive, and note files."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from swatchread.mixing.collect import Card
from swatchread.note import Note, load_note
from swatchread.words import heading


def gather(notes: Sequence[Path], archive: str | None) -> list[Card]:
    """Return the cards to work from: the archive's, and those of note files.

    Parameters
    ----------
    notes : sequence of pathlib.Path
        With note files and no archive named, the archive is not opened.
    archive : str or None
        Its address; None for the usual one.

    Returns
    -------
    list of Card
        Each photo once; a note file stands for its card.

    Raises
    ------
    NoteError
        If a file is not a note.
    ArchiveError
        If the archive cannot be read.
    """
    files = [load_note(path) for path in notes]
    cards = [Card(heading(note), note) for note in files]
    known = {note.identity for note in files}
    if notes and archive is None:
        return cards
    return [card for card in _archived(archive) if card.note.identity not in known] + cards


def archived_note(address: str | None, number: int) -> Note:
    """Return the note of an archived card.

    Raises
    ------
    ArchiveError
        If the archive cannot be read, or has no such card.
    """
    from swatchread.archive.store import Archive

    with Archive.open(address) as opened:
        return opened.card(number).note


def _archived(address: str | None) -> list[Card]:
    from swatchread.archive.store import Archive

    with Archive.open(address) as opened:
        views = [opened.card(line.card) for line in opened.cards()]
    return [Card(f"card {view.card}", view.note) for view in views]
