"""Photos are read in processes of their own, because one bad file can kill a decoder or keep it busy for ever.

This module imports no numerical library at its top: in each process `prepare` has to run before they are loaded.
"""

from __future__ import annotations

import os
import signal
import sys
import time
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import FIRST_COMPLETED, Future, wait
from concurrent.futures.process import BrokenProcessPool
from contextlib import AbstractContextManager, contextmanager
from functools import cache
from multiprocessing import get_context
from pathlib import Path
from threading import Lock
from typing import TYPE_CHECKING

from pebble import ProcessExpired, ProcessPool

from swatchread.batch.jobs import Job, Line, Settings
from swatchread.errors import BrokenOffError, SwatchreadError, UnexpectedError

if TYPE_CHECKING:
    from swatchread.reading import Reading
    from swatchread.report.reading_files import Written

PHOTOS_PER_WORKER = 50
"""A worker is replaced after so many photos, so that what a library leaks or keeps is bounded."""

SECONDS_PER_PHOTO = 300.0
"""A reading takes a few seconds even of the largest photo that is accepted; one that takes so long hangs."""

MEMORY_BYTES = 4 * 1024**3
"""How much memory of its own a process may hold; a photo that needs more fails, and the others do not."""

_ONE_THREAD = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS", "VECLIB_MAXIMUM_THREADS")
"""One thread a process: with more, the processes would fight for the cores."""

_SIGKILL = 9


class ReadingProcesses(AbstractContextManager["ReadingProcesses"]):
    """Processes that read photos. One that dies or hangs takes only its photo with it, and is replaced.

    Use it in a ``with`` statement; leaving it ends the processes and drops what they are reading. Threads may share it.

    Parameters
    ----------
    size : int
        How many photos are read at a time.
    seconds : float
        How long one photo may take.
    """

    def __init__(self, size: int, seconds: float = SECONDS_PER_PHOTO) -> None:
        self._size = size
        self._seconds = seconds
        self._changing = Lock()
        self._processes = self._new_processes()

    def __exit__(self, *_: object) -> None:
        self._end_processes()

    def begin(self, job: Job, settings: Settings) -> Future[tuple[Line, ...]]:
        """Have a photo read; `lines_of` tells what became of it."""
        with self._changing, without_interrupts():
            if not self._processes.active:
                self._end_processes()
                self._processes = self._new_processes()
            return self._processes.schedule(read_job, (job, settings), timeout=self._seconds)

    def lines_of(self, job: Job, future: Future[tuple[Line, ...]]) -> tuple[Line, ...]:
        """Wait until a photo is done, and return its lines, one a card."""
        name = job.photo.name
        try:
            return future.result()
        except TimeoutError:
            error = BrokenOffError(f"{name} took too long", f"over {self._seconds:.0f} seconds")
        except ProcessExpired as expired:
            error = process_ended(name, expired.exitcode or 0)
        except BrokenProcessPool as broken:  # a process ended before it had begun
            error = BrokenOffError(f"The reading of {name} was broken off", f"its process could not be used: {broken}")
        return (Line(job.photo, "failed", error=error),)

    def _new_processes(self) -> ProcessPool:
        return ProcessPool(self._size, PHOTOS_PER_WORKER, prepare, context=get_context("spawn"))

    def _end_processes(self) -> None:
        self._processes.stop()  # type: ignore[no-untyped-call]
        self._processes.join()


class WorkerPool(AbstractContextManager["WorkerPool"]):
    """The processes of this computer, as a batch gives photos to them. Use it in a ``with`` statement.

    Parameters
    ----------
    settings : Settings
    size : int
        How many photos are read at a time.
    seconds : float
        How long one photo may take.
    """

    def __init__(self, settings: Settings, size: int, seconds: float = SECONDS_PER_PHOTO) -> None:
        self._settings = settings
        self._size = size
        self._processes = ReadingProcesses(size, seconds)
        self._in_hand: dict[Future[tuple[Line, ...]], Job] = {}

    def __exit__(self, *failure: object) -> None:
        self._processes.__exit__(*failure)

    @property
    def busy(self) -> bool:
        """Whether a photo is being read."""
        return bool(self._in_hand)

    @property
    def free(self) -> bool:
        """Whether another photo can be given."""
        return len(self._in_hand) < self._size

    def digests(self, jobs: Iterable[Job]) -> Iterator[str | None]:
        """Yield the SHA-256 of each photo in turn, or None for one that cannot be read; see `photo_digest`."""
        from swatchread.batch.photo_addresses import photo_digest

        return (photo_digest(job.photo) for job in jobs)

    def give(self, job: Job) -> None:
        """Have a photo read."""
        self._in_hand[self._processes.begin(job, self._settings)] = job

    def results(self, timeout: float) -> list[tuple[Line, ...]]:
        """Wait until a photo is done, or for so many seconds at most.

        Returns
        -------
        list of tuple of Line
            The lines of each photo that is done, one a card; the list may be empty.
        """
        done, _ = wait(self._in_hand, timeout, FIRST_COMPLETED)
        return [self._processes.lines_of(self._in_hand.pop(future), future) for future in done]


def process_ended(name: str, exit_code: int) -> BrokenOffError:
    """Return the error of a photo whose process ended while it was read."""
    why = f"its process was ended by signal {-exit_code}" if exit_code < 0 else f"its process left ({exit_code})"
    # A system that is short of memory kills the largest process.
    remedy = "Free some memory or use fewer --jobs, and read it again" if exit_code == -_SIGKILL else ""
    return BrokenOffError(f"The reading of {name} was broken off", why, remedy)


@contextmanager
def without_interrupts() -> Iterator[None]:
    """Start processes and threads that Ctrl-C in the terminal does not reach, not even while they are starting."""
    if not hasattr(signal, "pthread_sigmask"):  # Windows: a worker ignores it once it runs
        yield
        return
    from multiprocessing.resource_tracker import ensure_running

    ensure_running()  # when the first process is started, this would let interrupts through again
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


def prepare() -> None:
    """Let this process use one core and no more than `MEMORY_BYTES`."""
    os.environ.update(dict.fromkeys(_ONE_THREAD, "1"))
    if sys.platform == "linux":
        import resource

        _, most = resource.getrlimit(resource.RLIMIT_DATA)
        limit = MEMORY_BYTES if most == resource.RLIM_INFINITY else min(MEMORY_BYTES, most)
        resource.setrlimit(resource.RLIMIT_DATA, (limit, most))
    import cv2

    cv2.setNumThreads(1)


def read_job(job: Job, settings: Settings) -> tuple[Line, ...]:
    """Read a photo and write its files.

    Parameters
    ----------
    job : Job
    settings : Settings

    Returns
    -------
    tuple of Line
        ``read``, one a card, or ``failed``: whatever a photo does, the batch goes on and its report tells it.
    """
    start = time.monotonic()
    try:
        written = _read(job, settings)
        seconds = (time.monotonic() - start) / len(written)
        return tuple(Line(job.photo, "read", one.paths[0], remark=one.remark, seconds=seconds) for one in written)
    except SwatchreadError as refusal:
        error = refusal
    except MemoryError:
        error = UnexpectedError(f"{job.photo.name} needs too much memory", "", "Reduce it, and read it again")
    except Exception as fault:  # noqa: BLE001
        error = UnexpectedError(f"{job.photo.name} met a fault", f"{type(fault).__name__}: {fault}")
    return (Line(job.photo, "failed", error=error, seconds=time.monotonic() - start),)


def _read(job: Job, settings: Settings) -> list[Written]:
    from swatchread.report.reading_files import write_outputs

    return [write_outputs(reading, job.results, job.stem) for reading in _reader(settings)(job.file)]


@cache
def _reader(settings: Settings) -> Callable[[Path], tuple[Reading, ...]]:
    from swatchread.setup.setup_reading import cards_reader

    return cards_reader(settings.chart, settings.setup, accept_poor=settings.accept_poor, stocks=settings.stocks)
