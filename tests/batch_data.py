"""A worker that does as it is told, in a module that a new process loads quickly."""

import os
import signal
import time
from pathlib import Path

from swatchread.batch.jobs import Job, Line


def obey(job, _settings):
    """Stand in for the reading of a photo of one card: its name says what happens, and the remark tells the process."""
    name = job.photo.stem
    if name == "kill":
        time.sleep(0.2)
        os.kill(os.getpid(), signal.SIGKILL)
    if name.startswith("slow"):
        time.sleep(1.0)
    if name == "hang":
        time.sleep(600)
    if name == "leave":
        time.sleep(0.2)
        os._exit(3)
    if name == "memory":
        return (Line(job.photo, "read", remark=os.environ.get("MALLOC_TRIM_THRESHOLD_", "not set")),)
    return (Line(job.photo, "read", remark=str(os.getpid())),)


def told(pool, names):
    """Run photos through a pool; return the results by name."""
    waiting, found = [Job(Path(f"{name}.jpg"), Path(), name) for name in names], {}
    while waiting or pool.busy:
        while waiting and pool.free:
            pool.give(waiting.pop(0))
        found |= {lines[0].photo.stem: lines[0] for lines in pool.results(0.1)}
    return found


def take_over():
    """Let the workers of this process obey; a dask worker is started with this."""
    from swatchread.batch import worker_pool

    worker_pool.read_job = obey
