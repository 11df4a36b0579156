"""The end of every reading: print the note, say what was written, keep it in the archive."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import typer

if TYPE_CHECKING:
    from swatchread.archive.store import Archive
    from swatchread.note import Note


def finish(note: Note, stem: Path, archive: Archive | None, *, as_json: bool) -> None:
    """Print a note whose files were written, and keep it in the archive if there is one."""
    if as_json:
        typer.echo(note.to_json(), nl=False)
    else:
        from swatchread.pictures.table import print_note

        print_note(note)
        typer.echo(f"Written: {stem}.note.json, .note.html, .note.csv, .note.cgats.txt, .marked.jpg", err=True)
    if archive is not None:
        added = archive.add(note, stem.parent)
        remark = f" ({added.message})" if added.message else ""
        typer.echo(f"Archive: {added.outcome}, card {added.card}{remark}", err=True)
