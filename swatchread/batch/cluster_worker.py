"""What a worker of a cluster does with one photo: it reads in processes of its own, which a bad photo may kill."""

from __future__ import annotations

import multiprocessing
import os
from contextlib import ExitStack
from dataclasses import dataclass, replace
from functools import cache
from multiprocessing.util import Finalize
from pathlib import Path
from tempfile import TemporaryDirectory

from swatchread import __version__
from swatchread.batch.jobs import Job, Line, Settings
from swatchread.batch.photo_addresses import fetched
from swatchread.batch.worker_pool import ReadingProcesses
from swatchread.errors import ClusterWorkerError, SwatchreadError

_KEPT = frozenset({".json", ".jpg"})
"""Suffixes of what the archive keeps of a reading: the note and its pictures."""


@dataclass(frozen=True, slots=True)
class Outcome:
    """What became of a photo on a worker.

    Attributes
    ----------
    lines : tuple of Line
        One a card.
    files : dict of str to bytes
        Names below the folder of the results -> contents, of a photo whose results have no folder.
    """

    lines: tuple[Line, ...]
    files: dict[str, bytes]


def read_on_worker(job: Job, settings: Settings, version: str) -> Outcome:
    """Read a photo on this worker.

    Parameters
    ----------
    job : Job
        With absolute paths, which must lead to the same files here.
    settings : Settings
    version : str
        Of the program that asks.

    Raises
    ------
    ClusterWorkerError
        If this worker has another version of the program.
    """
    if version != __version__:
        raise ClusterWorkerError("A worker cannot take part", f"it has swatchread {__version__}, and this is {version}")
    with ExitStack() as stack:
        try:
            photo = stack.enter_context(fetched(job.photo))
        except SwatchreadError as error:
            return Outcome((Line(job.photo, "failed", error=error),), {})
        folder = job.folder or Path(stack.enter_context(TemporaryDirectory(prefix="swatchread-")))
        here = Job(photo, folder, job.stem)
        processes = _reading_processes(_threads())
        lines = processes.lines_of(here, processes.begin(here, settings))
        files = {} if job.folder else _contents(folder)
    return Outcome(tuple(replace(line, photo=job.photo) for line in lines), files)


@cache
def _reading_processes(size: int) -> ReadingProcesses:
    # Dask has its workers give freed memory back at once. Readings ask for it again, and took half as long
    # again by that.
    os.environ.pop("MALLOC_TRIM_THRESHOLD_", None)
    # Dask starts its workers as daemons, which may have no children.
    multiprocessing.current_process().daemon = False
    processes = ReadingProcesses(size)
    # A worker that ends waits for its children, and those of a pool are replaced until it is closed.
    Finalize(None, processes.__exit__, exitpriority=10)
    return processes


def _threads() -> int:
    from distributed import get_worker

    return int(get_worker().state.nthreads)


def _contents(folder: Path) -> dict[str, bytes]:
    kept = (path for path in folder.rglob("*") if path.suffix in _KEPT and path.is_file())
    return {path.relative_to(folder).as_posix(): path.read_bytes() for path in kept}
