"""Workers: started when there is work, replaced when they have grown or died.

The library's own pools give up as a whole when one process dies, and one bad file can kill a decoder.
"""

from __future__ import annotations

import signal
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from multiprocessing import get_context
from multiprocessing.connection import Connection, wait
from multiprocessing.context import SpawnProcess
from types import TracebackType
from typing import Self

from swatchread.batch.jobs import Job, Result, Settings, Trouble
from swatchread.batch.worker import work
from swatchread.errors import BrokenOffError

MOST_PHOTOS = 200
"""Photos after which a worker is replaced: what leaks, leaks so much at most."""

MOST_MEMORY = 1536 * 1024**2
MOST_SECONDS = 300.0
_GRACE = 5.0
_KILLED = 9


@dataclass(slots=True)
class _Worker:
    process: SpawnProcess
    connection: Connection
    job: Job | None = None
    since: float = 0.0
    done: int = 0


class Pool:
    """Processes that read photos. Use it in a ``with`` statement.

    Parameters
    ----------
    settings : Settings
    size : int
        How many photos are read at a time.
    seconds : float
        How long one photo may take.
    """

    def __init__(self, settings: Settings, size: int, seconds: float = MOST_SECONDS) -> None:
        self._settings = settings
        self._size = size
        self._seconds = seconds
        self._workers: list[_Worker] = []
        self._context = get_context("spawn")

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    @property
    def busy(self) -> int:
        """How many photos are being read."""
        return sum(worker.job is not None for worker in self._workers)

    @property
    def free(self) -> bool:
        """Whether another photo can be given."""
        return self.busy < self._size

    def give(self, job: Job) -> None:
        """Have a photo read; only while `free`."""
        idle = [worker for worker in self._workers if worker.job is None]
        worker = idle[0] if idle else self._start()
        worker.job, worker.since = job, time.monotonic()
        try:
            worker.connection.send(job)
        except OSError:  # it died while it was idle
            self._drop(worker)
            self.give(job)

    def results(self, timeout: float) -> list[Result]:
        """Wait until photos are done, at most so many seconds.

        Returns
        -------
        list of Result
            Perhaps empty.
        """
        busy = [worker for worker in self._workers if worker.job is not None]
        ready = wait([worker.connection for worker in busy], timeout) if busy else []
        found = []
        for worker in busy:
            if worker.connection in ready:
                found.append(self._received(worker))
            elif time.monotonic() - worker.since > self._seconds:
                found.append(self._given_up(worker))
        return found

    def close(self) -> None:
        """End all workers; what they are at is dropped."""
        for worker in self._workers:
            worker.connection.close()
            if worker.job is not None:
                worker.process.terminate()
        end = time.monotonic() + _GRACE
        for worker in self._workers:
            worker.process.join(max(0.0, end - time.monotonic()))
            if worker.process.is_alive():
                worker.process.kill()
                worker.process.join()
        self._workers.clear()

    def _start(self) -> _Worker:
        here, there = self._context.Pipe()
        process = self._context.Process(target=work, args=(there, self._settings), daemon=True)
        with _without_interrupts():
            process.start()
        there.close()
        worker = _Worker(process, here)
        self._workers.append(worker)
        return worker

    def _received(self, worker: _Worker) -> Result:
        try:
            result: Result = worker.connection.recv()
        except (EOFError, OSError):
            return self._died(worker)
        worker.job = None
        worker.done += 1
        if worker.done >= MOST_PHOTOS or result.memory > MOST_MEMORY:
            self._drop(worker)
        return result

    def _died(self, worker: _Worker) -> Result:
        worker.process.join(_GRACE)
        code = worker.process.exitcode
        why = (
            f"its process was ended by signal {-code}"
            if code is not None and code < 0
            else f"its process left ({code})"
        )
        # Systems short of memory kill the largest process.
        remedy = "Free some memory or use fewer --jobs, and read it again" if code == -_KILLED else ""
        return self._failed(worker, BrokenOffError(f"{_name(worker)} broke the reading off", why, remedy))

    def _given_up(self, worker: _Worker) -> Result:
        return self._failed(
            worker, BrokenOffError(f"{_name(worker)} took too long", f"over {self._seconds:.0f} seconds")
        )

    def _failed(self, worker: _Worker, error: BrokenOffError) -> Result:
        job = worker.job
        if job is None:  # pragma: no cover - only busy workers come here
            raise AssertionError
        seconds = time.monotonic() - worker.since
        self._drop(worker)
        return Result(job, Trouble.of(error), seconds)

    def _drop(self, worker: _Worker) -> None:
        """Let one worker go; it leaves by itself once nobody is at the other end, unless it hangs."""
        hangs = worker.job is not None
        self._workers.remove(worker)
        worker.connection.close()
        if hangs:
            worker.process.kill()
        worker.process.join(_GRACE)
        if worker.process.is_alive():
            worker.process.kill()
            worker.process.join()


def _name(worker: _Worker) -> str:
    return worker.job.photo.name if worker.job else "A photo"


@contextmanager
def _without_interrupts() -> Iterator[None]:
    """Start a process that Ctrl-C in the terminal does not reach, not even while it is still starting."""
    if not hasattr(signal, "pthread_sigmask"):  # Windows: the worker ignores it once it runs
        yield
        return
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)
