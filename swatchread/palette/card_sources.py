"""Where cards come from: the archive, and note files."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from pathlib import Path

from swatchread.note.model import Note, load_note
from swatchread.note.phrases import heading, plain
from swatchread.palette.training_swatches import Card


def gather_cards(notes: Sequence[Path], archive: str | None) -> list[Card]:
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
        Each photo once, by the first file that holds it, and no two called alike; a note file stands for its card.

    Raises
    ------
    NoteError
        If a file is not a note.
    ArchiveError
        If the archive cannot be read.
    """
    files: dict[str, tuple[Path, Note]] = {}
    for path in notes:
        note = load_note(path)
        files.setdefault(note.identity, (path, note))
    if notes and archive is None:
        return _named(files, ())
    archived = [card for card in _archived(archive) if card.note.identity not in files]
    return archived + _named(files, [card.name for card in archived])


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


def _named(files: Mapping[str, tuple[Path, Note]], taken: Sequence[str]) -> list[Card]:
    """Call each card by its heading, and by its file too where others are called so: answers name swatches by cards."""
    titles = Counter(heading(note) for _, note in files.values())
    used = set(taken)
    cards = []
    for path, note in files.values():
        name = heading(note)
        if titles[name] > 1 or name in used:
            name = f"{name} ({plain(path.name)})"
        start, number = name, 1
        while name in used:  # files of one name in two folders
            number += 1
            name = f"{start} {number}"
        used.add(name)
        cards.append(Card(name, note))
    return cards


def _archived(address: str | None) -> list[Card]:
    from swatchread.archive.store import Archive

    with Archive.open(address) as opened:
        views = [opened.card(line.card) for line in opened.cards()]
    return [Card(f"card {view.card}", view.note) for view in views]
