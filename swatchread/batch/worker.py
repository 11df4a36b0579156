"""A process that reads one photo after another, and nothing that a photo does to it harms the others."""

from __future__ import annotations

import os
import signal
import sys
import time
from collections.abc import Callable
from contextlib import suppress
from multiprocessing.connection import Connection
from pathlib import Path
from typing import TYPE_CHECKING

from swatchread.batch.jobs import Job, Result, Settings, Trouble
from swatchread.errors import SwatchreadError, UnexpectedError

if TYPE_CHECKING:
    from swatchread.reading import Reading

MEMORY = 4 * 1024**3
"""Bytes of its own that a worker may hold; a photo that wants more fails alone."""

_ONE_THREAD = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS", "VECLIB_MAXIMUM_THREADS")


def work(connection: Connection, settings: Settings) -> None:
    """Read the photos that come in, until the other end closes.

    Parameters
    ----------
    connection : multiprocessing.connection.Connection
        Gives a `Job`, takes a `Result`.
    settings : Settings
    """
    _prepare()
    from swatchread import reading  # noqa: F401 - so that the first photo does not wait for them
    from swatchread.report import reading_files  # noqa: F401
    from swatchread.setup.reader_factory import reader

    read = reader(settings.chart, Path(settings.setup) if settings.setup else None, accept_poor=settings.accept_poor)
    # At the other end may be nobody any more: killed. Then there is nobody to tell either.
    with suppress(EOFError, OSError):
        while True:
            job: Job = connection.recv()
            start = time.monotonic()
            trouble, remark = _read(job, read)
            connection.send(Result(job, trouble, time.monotonic() - start, _memory(), remark))


def _prepare() -> None:
    """Use one core, leave Ctrl-C to the parent, and take no more memory than is due."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    # Before the first import of a numerical library; one thread a worker, or workers would fight for the cores.
    for name in _ONE_THREAD:
        os.environ[name] = "1"
    if sys.platform == "linux":
        import resource

        _, most = resource.getrlimit(resource.RLIMIT_DATA)
        limit = MEMORY if most == resource.RLIM_INFINITY else min(MEMORY, most)
        resource.setrlimit(resource.RLIMIT_DATA, (limit, most))
    import cv2

    cv2.setNumThreads(1)


def _read(job: Job, read: Callable[[Path], Reading]) -> tuple[Trouble | None, str]:
    from swatchread.report.reading_files import write_outputs

    try:
        return None, write_outputs(read(job.photo), job.folder, job.stem).remark
    except SwatchreadError as error:
        met = error
    except MemoryError:
        met = UnexpectedError(f"{job.photo.name} needs too much memory", "", "Reduce it, and read it again")
    except Exception as error:  # noqa: BLE001 - whatever a photo does, the batch goes on and the report says it
        met = UnexpectedError(f"{job.photo.name} met a fault", f"{type(error).__name__}: {error}")
    return Trouble.of(met), ""


def _memory() -> int:
    if sys.platform == "win32":
        return 0
    import resource

    most = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return most if sys.platform == "darwin" else most * 1024
