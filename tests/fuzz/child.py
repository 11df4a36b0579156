"""Give one target many damaged inputs, in a process of its own: `python -m tests.fuzz.child KIND SEED COUNT`.

Runs in the current folder, with its memory bounded and an alarm a piece; prints what went wrong as JSON. The input that
is being tried stands in the file ``current``, so that it is there even if the process dies of it.
"""

from __future__ import annotations

import json
import random
import resource
import signal
import sys
import time
import traceback
from pathlib import Path

from swatchread.errors import SwatchreadError
from tests.fuzz.corpus import is_json, seeds
from tests.fuzz.mutate import damaged, damaged_json, resealed
from tests.fuzz.targets import TARGETS

SECONDS = 10
BYTES = 1536 * 1024 * 1024


class TooLongError(BaseException):
    """The time for one input is over. No Exception, so that no handler takes it for damage."""


def _ring(_number, _frame):
    raise TooLongError


def _bound_memory():
    """Let the process grow by `BYTES` from here: the libraries' address space is no memory in use."""
    pages = int(Path("/proc/self/statm").read_text().split()[0]) if Path("/proc/self/statm").exists() else 0
    most = pages * resource.getpagesize() + BYTES
    resource.setrlimit(resource.RLIMIT_AS, (most, most))


def inputs(kind, seed, count):
    """Yield damaged inputs, always the same ones; the whole ones come first."""
    whole = seeds(kind)
    yield from whole[:count]
    for number in range(count - len(whole)):
        rng = random.Random(f"{kind} {seed} {number}")  # noqa: S311 - any will do, but the same again
        data = rng.choice(whole)
        if is_json(kind) and rng.random() < 0.8:
            yield damaged_json(data, rng)
            continue
        faulty = damaged(data, whole, rng)
        yield resealed(faulty) if kind == "png" and rng.random() < 0.8 else faulty


def attempt(target, data):
    """Return what became of one input, and the traceback where that is a fault."""
    signal.setitimer(signal.ITIMER_REAL, SECONDS)
    try:
        target(data)
    except SwatchreadError:
        return "refused", ""
    except (Exception, TooLongError):  # noqa: BLE001 - this is what is looked for
        return "fault", traceback.format_exc(limit=-6)
    finally:
        signal.setitimer(signal.ITIMER_REAL, 0)
    return "taken", ""


def peak():
    """Return the most memory that this process had in use, bytes."""
    status = Path("/proc/self/status")
    if status.exists():  # getrusage would count what the process was forked from
        return next(int(line.split()[1]) * 1024 for line in status.read_text().splitlines() if line.startswith("VmHWM"))
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024


def main():
    """Try them all and print the outcome."""
    kind, seed, count = sys.argv[1], int(sys.argv[2]), int(sys.argv[3])
    target, counts, faults, longest = TARGETS[kind], {"refused": 0, "taken": 0, "fault": 0}, [], 0.0
    first = seeds(kind)[0]
    target(first)  # loads the libraries, which on a busy machine may take longer than an input may
    signal.signal(signal.SIGALRM, _ring)
    _bound_memory()
    for number, data in enumerate(inputs(kind, seed, count)):
        Path("current").write_bytes(data)
        started = time.monotonic()
        outcome, told = attempt(target, data)
        longest = max(longest, time.monotonic() - started)
        counts[outcome] += 1
        if told:
            Path(f"fault-{kind}-{seed}-{number}").write_bytes(data)
            faults.append({"number": number, "told": told})
    print(json.dumps({"counts": counts, "faults": faults[:20], "longest": longest, "peak": peak()}))


if __name__ == "__main__":
    main()
