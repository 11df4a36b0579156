"""`swatchread read` for folders and for several photos."""

from __future__ import annotations

import os
import shlex
import signal
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

import typer

from swatchread.cli.messages import progress_bar
from swatchread.cli.output import print_json
from swatchread.cli.reading_request import ReadingRequest

if TYPE_CHECKING:
    from swatchread.archive.store import Archive
    from swatchread.batch.batch_run import Batch
    from swatchread.batch.jobs import Job, Line
    from swatchread.batch.photo_addresses import Place


def read_batch(request: ReadingRequest, archive: Archive | None) -> bool:
    """Read photos in parallel, write the report and print the result.

    Returns
    -------
    bool
        Whether every photo could be read.

    Raises
    ------
    KeyboardInterrupt
        If it was interrupted; the report is written by then.
    SwatchreadError
        If nothing can be read at all, or the archive or the report cannot be written.
    """
    from swatchread.batch.batch_report import report_csv
    from swatchread.batch.jobs import find_jobs
    from swatchread.note.safe_files import write_text

    jobs = find_jobs(request.photos, request.into)
    batch, report = _batch(request, archive, len(jobs)), _report_file(request)
    lines: list[Line] = []
    stop = _Stop()
    try:
        with stop.listening():
            _read(batch, jobs, stop, lines)
    finally:
        if lines:  # a cluster that cannot be reached leaves the last report as it is
            write_text(report, report_csv(lines))
    _print(lines, report, as_json=request.as_json)
    if stop.requested:
        raise KeyboardInterrupt
    return not any(line.state == "failed" for line in lines)


def _batch(request: ReadingRequest, archive: Archive | None, count: int) -> Batch:
    from swatchread.batch.batch_run import Batch
    from swatchread.batch.jobs import Settings
    from swatchread.chart.definition import DEFAULT_CHART, load_chart
    from swatchread.setup.setup_file import load_setup

    setup = request.setup
    chart = load_setup(setup).chart_definition() if setup else load_chart(request.chart or DEFAULT_CHART)
    settings = Settings(request.chart, request.accept_poor, setup, request.stocks(archive))
    return Batch(settings, chart.name, archive, request.reread, min(request.jobs or _cores(), count), request.cluster)


def _read(batch: Batch, jobs: Sequence[Job], stop: _Stop, lines: list[Line]) -> None:
    with progress_bar() as progress:
        task = progress.add_task("Reading", total=len(jobs), failed="")
        stop.tell = progress.console.print
        failed = 0
        done: set[Place] = set()
        for line in batch.read(jobs, lambda: stop.requested):
            lines.append(line)
            failed += line.state == "failed"
            done |= {line.photo} if line.state != "not reached" else set()
            progress.update(task, completed=len(done), failed=f"{failed} failed" if failed else "")


class _Stop:
    """Ctrl-C: the first one lets the photos in hand be finished, the second one ends the program."""

    def __init__(self) -> None:
        self.requested = False
        self.tell: Callable[[str], Any] = lambda _: None

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
        if self.requested:
            raise KeyboardInterrupt
        self.requested = True
        self.tell("Stopping when the photos in hand are done; once more to leave at once.")


def _cores() -> int:
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


def _report_file(request: ReadingRequest) -> Path:
    from swatchread.batch.batch_report import REPORT_NAME

    return request.report_folder / REPORT_NAME


def _print(lines: Sequence[Line], report: Path, *, as_json: bool) -> None:
    from swatchread.batch.batch_report import doubts_table, facts, failures_table, summary
    from swatchread.report.note_files import text_files

    if as_json:
        print_json([facts(line) for line in sorted(lines, key=lambda line: str(line.photo))])
    else:
        from rich.console import Console

        console = Console(highlight=False)
        if any(line.state == "failed" for line in lines):
            console.print(failures_table(lines))
        if any(line.doubts for line in lines):
            console.print(doubts_table(lines))
        console.print(summary(lines), markup=False)
    for line in lines:
        if line.state == "read" and line.remark:
            typer.echo(f"{line.photo}: {line.remark}", err=True)
    pages = [text_files(line.note)["html"] for line in lines if line.note]
    typer.echo(f"Report: {report}", err=True)
    if any(line.doubts or line.error for line in lines):
        typer.echo(f"What is in doubt, one by one: swatchread doubts {shlex.quote(str(report.parent))}", err=True)
    if pages and not as_json:
        others = " The other cards have pages of the same ending." if len(pages) > 1 else ""
        typer.echo(f"Open {min(pages)} in a browser to see the card.{others}", err=True)
