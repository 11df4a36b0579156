"""`swatchread read --same-card`: several photos of one card, one note."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from swatchread.cli.messages import tell
from swatchread.errors import SwatchreadError, UsageError

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from swatchread.archive.store import Archive
    from swatchread.note.model import Note
    from swatchread.reading import Reading

SUFFIX = ".together"


@dataclass(frozen=True)
class Together:
    """What the command line asks for."""

    photos: list[Path]
    into: Path | None
    chart: str | None
    setup: Path | None
    accept_poor: bool
    as_json: bool


def read_together(wish: Together, archive: Archive | None) -> bool:
    """Read photos of one card, fuse them, write, print; return whether a photo has no say in the note.

    Raises
    ------
    SwatchreadError
        If fewer than two can be read, they are not of one card, or a result cannot be written.
    """
    from swatchread.batch.photo_list import find_jobs
    from swatchread.cli.reading_output import finish
    from swatchread.comparison.fusion import fuse
    from swatchread.report.reading_files import write_outputs
    from swatchread.setup.reader_factory import reader

    jobs = find_jobs(wish.photos, wish.into)
    if len(jobs) < 2:
        raise UsageError("One photo cannot be fused", "", "Give at least two photos of one card")
    read = reader(wish.chart, wish.setup, accept_poor=wish.accept_poor)
    notes, failures = _notes([job.photo for job in jobs], read)
    if failures and len(notes) < 2:
        raise next(iter(failures.values()))
    for path, error in failures.items():
        tell(error, path.name)
    note = fuse(list(notes.values()), [(path.name, f"{error.what}: {error.why}") for path, error in failures.items()])
    best = next(path for path, single in notes.items() if single.photo.sha256 == note.photo.sha256)
    # Read anew rather than kept: of many photos only one is held at a time.
    reading = replace(read(best), note=note)
    stem = jobs[0].stem + SUFFIX
    finish(write_outputs(reading, jobs[0].folder, stem), archive, as_json=wish.as_json)
    return bool(failures) or any(photo.left_out for photo in note.photos)


def _notes(
    paths: Sequence[Path], read: Callable[[Path], Reading]
) -> tuple[dict[Path, Note], dict[Path, SwatchreadError]]:
    from swatchread.cli.batch_reading import progress_bar

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
