"""`swatchread read` for folders and for several photos."""

from __future__ import annotations

import signal
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import typer

from swatchread.errors import ArchiveError

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from rich.progress import Progress

    from swatchread.archive.store import Archive
    from swatchread.batch.jobs import Job, Line


@dataclass(frozen=True)
class Wish:
    """What the command line asks for."""

    photos: list[Path]
    into: Path | None
    chart: str | None
    accept_poor: bool
    again: bool
    jobs: int | None
    report: Path | None
    as_json: bool
    setup: Path | None = None


def read_many(wish: Wish, archive: Archive | None) -> int:
    """Read photos in parallel; report, print, and return the exit status.

    Raises
    ------
    KeyboardInterrupt
        If it was interrupted; the report is written by then.
    SwatchreadError
        If nothing can be read at all, or the archive or the report cannot be written.
    """
    from swatchread.batch.batch_report import report_csv
    from swatchread.batch.photo_list import find_jobs
    from swatchread.note.safe_files import write_text

    jobs = find_jobs(wish.photos, wish.into)
    report = wish.report or _report_place(wish)
    lines: list[Line] = []
    stop = _Stop()
    try:
        with stop.listening():
            _read(wish, archive, jobs, stop, lines)
    except ArchiveError:
        write_text(report, report_csv(lines))
        raise
    write_text(report, report_csv(lines))
    _print(lines, report, as_json=wish.as_json)
    if stop.asked:
        raise KeyboardInterrupt
    return 1 if any(line.state == "failed" for line in lines) else 0


def _read(wish: Wish, archive: Archive | None, jobs: Sequence[Job], stop: _Stop, lines: list[Line]) -> None:
    from swatchread.batch.batch_run import Batch
    from swatchread.batch.jobs import Settings
    from swatchread.chart.definition import DEFAULT_CHART, load_chart
    from swatchread.setup.setup_file import load_setup

    chart = load_setup(wish.setup).chart_definition() if wish.setup else load_chart(wish.chart or DEFAULT_CHART)
    settings = Settings(wish.chart, wish.accept_poor, str(wish.setup) if wish.setup else None)
    batch = Batch(settings, chart.name, archive, wish.again, min(wish.jobs or _cores(), len(jobs)))
    with progress_bar() as progress:
        task = progress.add_task("Reading", total=len(jobs), failed="")
        stop.tell = progress.console.print
        for line in batch.read(jobs, stop.wanted):
            lines.append(line)
            failed = sum(one.state == "failed" for one in lines)
            progress.update(task, advance=line.state != "not reached", failed=f"{failed} failed" if failed else "")


def progress_bar() -> Progress:
    """Return a bar on standard error, with a field `failed`."""
    from rich.console import Console
    from rich.progress import (
        BarColumn,
        MofNCompleteColumn,
        Progress,
        TextColumn,
        TimeElapsedColumn,
        TimeRemainingColumn,
    )

    return Progress(
        TextColumn("{task.description}"),
        BarColumn(),
        MofNCompleteColumn(),
        TextColumn("{task.fields[failed]}"),
        TimeElapsedColumn(),
        TextColumn("left"),
        TimeRemainingColumn(),
        console=Console(stderr=True, highlight=False),
    )


class _Stop:
    """Ctrl-C: once to finish the photos in hand and leave, twice to leave at once."""

    def __init__(self) -> None:
        self.asked = False
        self.tell: Callable[[str], Any] = lambda _: None

    def wanted(self) -> bool:
        return self.asked

    @contextmanager
    def listening(self) -> Iterator[None]:
        signals = [signal.SIGINT, signal.SIGTERM]
        before = [signal.signal(number, self._heard) for number in signals]
        try:
            yield
        finally:
            for number, handler in zip(signals, before, strict=True):
                signal.signal(number, handler)

    def _heard(self, _number: int, _frame: object) -> None:
        if self.asked:
            raise KeyboardInterrupt
        self.asked = True
        self.tell("Stopping when the photos in hand are done; once more to leave at once.")


def _cores() -> int:
    import os

    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def _report_place(wish: Wish) -> Path:
    from swatchread.batch.batch_report import REPORT_NAME

    first = wish.photos[0]
    return (wish.into or (first if first.is_dir() else first.parent)) / REPORT_NAME


def _print(lines: Sequence[Line], report: Path, *, as_json: bool) -> None:
    from swatchread.batch.batch_tables import failures_table, summary

    if as_json:
        import json

        from swatchread.batch.batch_report import facts

        ordered = sorted(lines, key=lambda line: str(line.photo))
        typer.echo(json.dumps([facts(line) for line in ordered], ensure_ascii=False, indent=1))
    else:
        from rich.console import Console

        console = Console(highlight=False)
        if any(line.state == "failed" for line in lines):
            console.print(failures_table(lines))
        console.print(summary(lines), markup=False)
    for line in lines:
        if line.state == "read" and line.remark:
            typer.echo(f"{line.photo}: {line.remark}", err=True)
    typer.echo(f"Report: {report}", err=True)
