"""A note with the files beside it that repeat what it says: written together, and none of them ahead of the note."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from swatchread.note.model import Note
from swatchread.note.safe_files import encoded, write_files
from swatchread.report.note_exports import SUFFIXES, export_note

TEXTS = ("csv", "cgats", "html")
"""Keys of `SUFFIXES`: what every reading writes beside its note."""


def text_files(note_file: Path, kinds: Iterable[str] = TEXTS) -> dict[str, Path]:
    """Return the paths of the files that repeat a note, by their format; none if it is not called ``….json``."""
    stem = note_file.name.removesuffix(".json")
    return {} if stem == note_file.name else {kind: note_file.with_name(stem + SUFFIXES[kind]) for kind in kinds}


def save_with_texts(note_file: Path, note: Note, kinds: Iterable[str]) -> None:
    """Save a note and the files beside it that repeat it. The note takes its name first.

    Parameters
    ----------
    note_file : pathlib.Path
    note : Note
    kinds : iterable of str
        Keys of `SUFFIXES`.

    Raises
    ------
    OutputError
        If a file cannot be written. With a full disk all files are as they were.
    """
    contents = {note_file: encoded(note_file, note.to_json())}
    for kind, path in text_files(note_file, kinds).items():
        contents[path] = encoded(path, export_note(note, kind, note_file))
    write_files(contents)


def texts_behind(note_file: Path, kinds: Iterable[str] = TEXTS) -> list[str]:
    """Return the formats that are missing beside a note or older than it, as after a kill while they were written."""
    saved = note_file.stat().st_mtime_ns
    files = text_files(note_file, kinds)
    return [kind for kind, path in files.items() if not path.is_file() or path.stat().st_mtime_ns < saved]
