"""What a process of a batch does: it reads one photo after another.

This module imports no numerical library at its top, because `prepare` has to run before they are loaded.
"""

from __future__ import annotations

import os
import sys
import time
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

from swatchread.batch.jobs import Job, Result, Settings
from swatchread.errors import SwatchreadError, UnexpectedError

if TYPE_CHECKING:
    from swatchread.reading import Reading

MEMORY_BYTES = 4 * 1024**3
"""How much memory of its own a process may hold; a photo that needs more fails, and the others do not."""

_ONE_THREAD = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS", "VECLIB_MAXIMUM_THREADS")
"""One thread a process: with more, the processes would fight for the cores."""


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


def read_job(job: Job, settings: Settings) -> Result:
    """Read a photo and write its files.

    Parameters
    ----------
    job : Job
    settings : Settings

    Returns
    -------
    Result
        Of every failure too: whatever a photo does, the batch goes on and its report tells what happened.
    """
    start = time.monotonic()
    error: SwatchreadError | None = None
    remark = ""
    try:
        remark = _read(job, settings)
    except SwatchreadError as refusal:
        error = refusal
    except MemoryError:
        error = UnexpectedError(f"{job.photo.name} needs too much memory", "", "Reduce it, and read it again")
    except Exception as fault:  # noqa: BLE001
        error = UnexpectedError(f"{job.photo.name} met a fault", f"{type(fault).__name__}: {fault}")
    return Result(job, error, time.monotonic() - start, remark)


def _read(job: Job, settings: Settings) -> str:
    from swatchread.report.reading_files import write_outputs

    return write_outputs(_reader(settings)(job.photo), job.folder, job.stem).remark


@cache
def _reader(settings: Settings) -> Callable[[Path], Reading]:
    from swatchread.setup.setup_reading import reader

    return reader(settings.chart, settings.setup, accept_poor=settings.accept_poor)
