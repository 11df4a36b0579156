"""The end of every reading: print the note, say what was written, keep it in the archive."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import typer

if TYPE_CHECKING:
    from swatchread.archive.store import Archive
    from swatchread.note.model import Note
    from swatchread.report.reading_files import Written


def finish(written: Written, archive: Archive | None, *, as_json: bool) -> None:
    """Print a note whose files were written, and keep it in the archive if there is one."""
    note, paths = written.note, written.paths
    if as_json:
        typer.echo(note.to_json(), nl=False)
    else:
        from swatchread.report.console import print_note

        print_note(note)
        typer.echo(f"Written: {_named(note, paths)}", err=True)
    if written.aside is not None:
        typer.secho(f"Look: {written.remark}", fg="red", err=True)
    if archive is not None:
        added = archive.add(note, paths[0].parent)
        remark = f" ({added.message})" if added.message else ""
        typer.echo(f"Archive: {added.outcome}, card {added.card}{remark}", err=True)


def _named(note: Note, paths: Sequence[Path]) -> str:
    """Name files that begin alike: the first in full, of the others what follows, of the handwriting one for all."""
    stem, written = paths[0].name.removesuffix(".note.json"), {swatch.writing for swatch in note.swatches}
    crops = [path.name.removeprefix(stem) for path in paths[1:] if path.name in written]
    others = [path.name.removeprefix(stem) for path in paths[1:] if path.name not in written]
    more = f" and {len(crops) - 1} more of handwriting" if len(crops) > 1 else ""
    return ", ".join([str(paths[0]), *others, *crops[:1]]) + more
