"""`swatchread read` where one note comes of it: from one photo, or from several photos of one card."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Final

import typer

from swatchread.cli.messages import progress_bar, tell
from swatchread.cli.output import print_json, print_table
from swatchread.cli.reading_request import ReadingRequest
from swatchread.errors import SwatchreadError, UsageError

_LEFT_OUT: Final = "reading_left_out"
"""The warning that a swatch of single photos was left out of a fused note."""

if TYPE_CHECKING:
    from collections.abc import Callable

    from swatchread.archive.store import Archive
    from swatchread.note.model import Note
    from swatchread.reading import Reading
    from swatchread.report.reading_files import Written


def read_single(request: ReadingRequest, archive: Archive | None) -> None:
    """Read one photo, write the files of each card in it, print its notes, and keep the set-up if that is requested."""
    from swatchread.report.reading_files import stem_beside, write_outputs

    (photo,) = request.files
    readings = request.cards_reader(archive)(photo)
    kept = None
    if request.keep_setup is not None:
        from swatchread.setup.setup_file import keep_setup

        kept = keep_setup(max(readings, key=lambda reading: len(reading.note.swatches)))
    stem = stem_beside(request.folder, photo)
    written = [write_outputs(reading, request.folder, stem) for reading in readings]
    if len(written) > 1:
        _tell_cards([one.note for one in written], as_json=request.as_json)
    for one in written:
        _finish(one, archive, as_json=request.as_json, is_printed=len(written) > 1)
    if kept is not None and request.keep_setup is not None:
        kept.save(request.keep_setup)
        typer.echo(f"Set-up kept: {request.keep_setup}", err=True)


def read_fused(request: ReadingRequest, archive: Archive | None) -> bool:
    """Read photos of one card and fuse them into one note.

    Returns
    -------
    bool
        Whether every photo had a say in the note, and in each of its swatches.

    Raises
    ------
    SwatchreadError
        If fewer than two photos can be read, they are not of one card, or a result cannot be written.
    """
    from swatchread.batch.jobs import find_jobs
    from swatchread.comparison.fusion import fuse
    from swatchread.report.reading_files import write_outputs

    jobs = find_jobs(request.files, request.into)
    if len(jobs) < 2:
        raise UsageError("--same-card needs two photos or more", "one was given", "Give several photos of one card")
    read = request.reader(archive)
    notes, failures = _read_each([job.file for job in jobs], read)
    if failures and len(notes) < 2:
        raise next(iter(failures.values()))
    for path, error in failures.items():
        tell(error, path.name)
    note = fuse(list(notes.values()), [(path.name, f"{error.what}: {error.why}") for path, error in failures.items()])
    best = next(path for path, single in notes.items() if single.photo.sha256 == note.photo.sha256)
    # The best photo is read again, because holding all the photos of a card could take all the memory.
    written = write_outputs(replace(read(best), note=note), jobs[0].results, f"{jobs[0].stem}.together")
    _finish(written, archive, as_json=request.as_json)
    left_out = any(photo.left_out for photo in note.photos) or any(w.code == _LEFT_OUT for w in note.warnings)
    return not failures and not left_out


def _read_each(
    paths: Sequence[Path], read: Callable[[Path], Reading]
) -> tuple[dict[Path, Note], dict[Path, SwatchreadError]]:
    notes: dict[Path, Note] = {}
    failures: dict[Path, SwatchreadError] = {}
    with progress_bar() as progress:
        task = progress.add_task("Reading", total=len(paths), failed="")
        for path in paths:
            try:
                notes[path] = read(path).note
            except SwatchreadError as error:
                failures[path] = error
            progress.update(task, advance=1, failed=f"{len(failures)} failed" if failures else "")
    return notes, failures


def _tell_cards(notes: Sequence[Note], *, as_json: bool) -> None:
    """Say how many cards a photo shows, and under which letters the marked photo has them; as JSON, print the notes."""
    told = ", ".join(f"{note.card.letter} ({len(note.swatches)} swatches)" for note in notes)
    typer.echo(f"{notes[0].photo.file} shows {len(notes)} cards: {told}", err=True)
    if as_json:
        print_json([note.model_dump(mode="json") for note in notes])


def _finish(written: Written, archive: Archive | None, *, as_json: bool, is_printed: bool = False) -> None:
    """Print a note, say which files were written, and put the note into the archive if there is one.

    `is_printed` says that its JSON stands in a list of several notes already.
    """
    note, paths = written.note, written.paths
    if as_json:
        typer.echo("" if is_printed else note.to_json(), nl=False)
    else:
        from swatchread.report.console import note_table

        print_table(note_table(note))
        typer.echo(f"Written: {_file_names(paths)}", err=True)
    if written.aside is not None:
        typer.secho(f"Look: {written.remark}", fg="red", err=True)
    if archive is not None:
        added = archive.add(note, paths[0].parent)
        remark = f" ({added.message})" if added.message else ""
        typer.echo(f"Archive: {added.outcome}, card {added.card}{remark}", err=True)
    if not as_json:
        from swatchread.report.note_files import text_files

        typer.echo(f"Open {text_files(paths[0])['html']} in a browser to see the card.", err=True)


def _file_names(paths: Sequence[Path]) -> str:
    """Return the note's path, the endings of the other files' names, and the folder that holds the handwriting."""
    note, *others = paths
    stem = note.name.removesuffix(".note.json")
    beside = [path.name.removeprefix(stem) for path in others if path.parent == note.parent]
    folders = dict.fromkeys(path.parent.name for path in others if path.parent != note.parent)
    return ", ".join([str(note), *beside]) + "".join(f"; the handwriting in {name}" for name in folders)
