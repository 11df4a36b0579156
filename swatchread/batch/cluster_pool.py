"""The workers of a dask cluster, as a batch gives photos to them.

The batch alone writes into the archive, so that no worker needs its address and a card that two workers have read is
kept once. What a scheduler forgets when it is restarted is given to it again.
"""

from __future__ import annotations

import os
import time
from collections import deque
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import CancelledError
from contextlib import AbstractContextManager, suppress
from dataclasses import dataclass, replace
from itertools import islice
from pathlib import Path
from queue import Empty, SimpleQueue
from tempfile import TemporaryDirectory
from typing import Any

from swatchread import __version__
from swatchread.batch.cluster_connection import CONNECT_SECONDS, connected
from swatchread.batch.cluster_worker import Outcome, read_on_worker
from swatchread.batch.jobs import Job, Line, Settings
from swatchread.batch.photo_addresses import photo_digests
from swatchread.errors import (
    BrokenOffError,
    ClusterError,
    ClusterFolderError,
    ClusterWorkerError,
    UnexpectedError,
)

LOST_SECONDS = 120.0
"""How long to wait for a scheduler that is gone, or for a first worker: a restart takes some seconds (choice)."""

_LOOK_SECONDS = 2.0
"""How often to ask the scheduler for its workers."""

_VISIBLE_SECONDS = 60.0
"""How long a shared folder may hide a new file: NFS remembers a folder for up to a minute (`man 5 nfs`)."""

_PER_THREAD = 2
"""Photos in hand for each thread of the workers, so that none waits for its next."""

_TOGETHER, _AHEAD = 8, 4
"""Photos that a worker hashes as one task, and tasks of which the results are not yet needed."""


@dataclass(eq=False)
class _Task:
    """What a worker does: it reads one photo, or hashes several of which this is the first."""

    job: Job
    call: tuple[Callable[..., Any], *tuple[Any, ...]]
    future: Any = None


class ClusterPool(AbstractContextManager["ClusterPool"]):
    """The workers of a cluster. Use it in a ``with`` statement; leaving it drops what they are reading.

    Parameters
    ----------
    address : str
        Of the scheduler, such as ``tcp://studio:8786``.
    settings : Settings
        The files that it names must lie where the workers find them too.

    Raises
    ------
    MissingPackageError
        If dask is not installed.
    UsageError
        If the address makes no sense.
    ClusterError
        If no scheduler answers there.
    ClusterWorkerError
        If a worker has not this version of the program.
    """

    def __init__(self, address: str, settings: Settings) -> None:
        self._address = address
        self._settings = _absolute(settings)
        self._client = connected(address)
        self._tasks: set[_Task] = set()
        self._reading: set[_Task] = set()
        self._done: SimpleQueue[tuple[_Task, Any]] = SimpleQueue()
        self._threads = 0
        self._looked = self._worked = time.monotonic()
        self._look()

    def __exit__(self, *_: object) -> None:
        with suppress(OSError, TimeoutError):
            self._client.cancel([task.future for task in self._tasks])
            self._client.close(CONNECT_SECONDS)

    @property
    def busy(self) -> bool:
        """Whether a photo is being read."""
        return bool(self._reading)

    @property
    def free(self) -> bool:
        """Whether another photo can be given."""
        return len(self._reading) < _PER_THREAD * max(self._threads, 1)

    def digests(self, jobs: Iterable[Job]) -> Iterator[str | None]:
        """Yield the SHA-256 of each photo in turn, or None for one that cannot be read; workers read the bytes."""
        ahead, rest = deque[_Task](), iter(jobs)
        while some := list(islice(rest, _TOGETHER)):
            photos = [_absolute_job(job).photo for job in some]
            ahead.append(self._begin(_Task(some[0], (photo_digests, photos))))
            if len(ahead) >= _AHEAD:
                yield from self._value(ahead.popleft())
        while ahead:
            yield from self._value(ahead.popleft())

    def give(self, job: Job) -> None:
        """Have a photo read."""
        task = _Task(job, (read_on_worker, _absolute_job(job), self._settings, __version__))
        self._reading.add(self._begin(task))

    def results(self, timeout: float) -> Iterator[tuple[Line, ...]]:
        """Wait until a photo is done, or for so many seconds at most; yield its lines, one a card.

        Raises
        ------
        ClusterError
            If the scheduler or all workers are gone and do not come back, or a worker cannot take part.
        """
        self._look()
        try:
            task, future = self._done.get(timeout=timeout)
        except Empty:
            return
        if future is not task.future or task not in self._reading:  # it was given anew meanwhile, or is a digest
            return
        outcome = self._outcome(task)
        self._reading.discard(task)
        with TemporaryDirectory(prefix="swatchread-") as folder:
            yield tuple(_here(line, task.job, outcome, Path(folder)) for line in outcome.lines)

    def _begin(self, task: _Task) -> _Task:
        function, *arguments = task.call
        # Hashing is quick, and the readings wait for it.
        task.future = self._client.submit(function, *arguments, pure=False, priority=int(function is photo_digests))
        task.future.add_done_callback(lambda future: self._done.put((task, future)))
        self._tasks.add(task)
        return task

    def _outcome(self, task: _Task) -> Outcome:
        """Return what became of a reading; a photo that its worker did not survive is a photo that failed."""
        from distributed import KilledWorker

        name = task.job.photo.name
        try:
            outcome: Outcome = self._value(task)
        except KilledWorker as killed:
            why = f"{killed.allowed_failures + 1} workers of the cluster ended while they had it in hand"
            error = BrokenOffError(f"The reading of {name} was broken off", why)
        except ImportError as missing:
            raise ClusterWorkerError("A worker cannot take part", str(missing)) from missing
        except ClusterError:
            raise
        except Exception as fault:  # noqa: BLE001
            fault_here = UnexpectedError(f"{name} met a fault", f"{type(fault).__name__}: {fault}")
            return Outcome((Line(task.job.photo, "failed", error=fault_here),), {})
        else:
            return outcome
        return Outcome((Line(task.job.photo, "failed", error=error),), {})

    def _value(self, task: _Task) -> Any:
        """Wait for what a task gives; a scheduler that has forgotten it is told again."""
        while True:
            try:
                value = task.future.result(_LOOK_SECONDS)
            except CancelledError:
                self._begin(task)
            except TimeoutError:
                self._look()
            else:
                self._tasks.discard(task)
                return value

    def _look(self) -> None:
        """See now and then whether the scheduler is there, and how many threads its workers have."""
        now = time.monotonic()
        if self._threads and now - self._looked < _LOOK_SECONDS:
            return
        self._looked = now
        if self._client.status == "closed":
            self._reconnect()
        self._threads = 0
        with suppress(OSError, TimeoutError):
            self._threads = sum(self._client.nthreads().values())
        if self._threads or not self._tasks:
            self._worked = now
        elif now - self._worked > LOST_SECONDS:
            raise ClusterError(f"The cluster at {self._address} has no workers", f"none for {LOST_SECONDS:.0f} seconds")

    def _reconnect(self) -> None:
        """Find the scheduler again, and give it what it had in hand."""
        deadline = time.monotonic() + LOST_SECONDS
        while True:
            try:
                self._client = connected(self._address)
                break
            except ClusterError:
                if time.monotonic() > deadline:
                    raise
                time.sleep(_LOOK_SECONDS)
        for task in tuple(self._tasks):
            self._begin(task)


def _absolute(settings: Settings) -> Settings:
    """Return the settings with absolute paths: a worker runs in a folder of its own."""
    chart = settings.chart
    if chart and Path(chart).is_file():
        chart = str(Path(chart).absolute())
    return replace(settings, chart=chart, setup=settings.setup.absolute() if settings.setup else None)


def _absolute_job(job: Job) -> Job:
    photo = job.photo.absolute() if isinstance(job.photo, Path) else job.photo
    return Job(photo, job.folder.absolute() if job.folder else None, job.stem)


def _here(line: Line, job: Job, outcome: Outcome, folder: Path) -> Line:
    """Return a worker's line with the paths of this computer; results without a folder are put into a passing one."""
    if line.note is None:
        return replace(line, photo=job.photo)
    for name, data in outcome.files.items():
        (folder / name).parent.mkdir(exist_ok=True)
        (folder / name).write_bytes(data)
    note = (job.folder or folder) / line.note.name
    _require_visible(note)
    return replace(line, photo=job.photo, note=note)


def _require_visible(note: Path) -> None:
    """Wait until a file shows that was written on another computer.

    Raises
    ------
    ClusterFolderError
        If it does not.
    """
    deadline = time.monotonic() + _VISIBLE_SECONDS
    while not note.is_file():
        if time.monotonic() > deadline:
            why = f"a worker has written {note.name}, and it is not there"
            raise ClusterFolderError(f"The folder {note.parent} is not the one that the workers see", why)
        time.sleep(0.5)
        with suppress(OSError):
            os.listdir(note.parent)  # noqa: PTH208 - a network file system then asks the server again
