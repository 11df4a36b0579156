"""A worker that does as it is told, in a module that a new process loads quickly."""

import os
import signal
import time

from swatchread.batch.jobs import Line


def obey(job, _settings):
    """Stand in for the reading of a photo of one card: its name says what happens; the remark is the process."""
    name = job.photo.stem
    if name == "kill":
        time.sleep(0.2)
        os.kill(os.getpid(), signal.SIGKILL)
    if name == "hang":
        time.sleep(600)
    if name == "leave":
        time.sleep(0.2)
        os._exit(3)
    return (Line(job.photo, "read", remark=str(os.getpid())),)
