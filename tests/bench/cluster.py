"""Cluster bench: `python -m tests.bench.cluster`: many small photos on two dask workers, and in one process.

Both runs read the same folder into an archive of their own: SQLite, or PostgreSQL where a server is named. With
``--kill N`` so many workers are killed on the way in one more run, whose notes must be the same, each once. The ratio
is of wall times, so nothing else may run meanwhile; it needs two cores.
"""

import argparse
import itertools
import os
import random
import signal
import socket
import subprocess
import sys
import time
from contextlib import ExitStack, contextmanager, suppress
from dataclasses import replace
from pathlib import Path

from tests.conftest import POSTGRES_ENVIRONMENT
from tests.postgres_schema import schema_of

from .batch import RUN
from .running import scene_folder

#: One process against two workers, wall time: the least that is asked.
LEAST_RATIO = 1.8
#: How many photos the estimate is for.
MANY = 10_000
_TOP = Path(__file__).parents[2]
_ENVIRONMENT = os.environ | {"OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"}
#: What dask does beside the work, at the intervals that it comes with, takes 10 % of a core of a scheduler and two
#: workers that are idle, and 2.5 % with these.
_QUIET = {
    "DASK_DISTRIBUTED__WORKER__PROFILE__ENABLED": "False",
    "DASK_DISTRIBUTED__ADMIN__TICK__INTERVAL": "1s",
    "DASK_DISTRIBUTED__ADMIN__SYSTEM_MONITOR__INTERVAL": "5s",
}
_ENVIRONMENT.pop("PYTHONDONTWRITEBYTECODE", None)
_SIZE = (1000, 750)
_SEED = 9300


def make_photos(folder, count, scenes):
    """Draw small scenes that are read, and write each under many names with other bytes behind the JPEG's end."""
    from swatchread import read_photo
    from swatchread.errors import SwatchreadError
    from tests.scene import draw, easy_spec, save

    drawn = []
    for index in itertools.count():
        path = folder / "drawn" / f"{index}.jpg"
        path.parent.mkdir(parents=True, exist_ok=True)
        if not path.exists():
            save(draw(replace(easy_spec(_SEED + index, _SIZE), rows=4, columns=3)), path)
        with suppress(SwatchreadError):
            read_photo(path)
            drawn.append(path.read_bytes())
        if len(drawn) == min(scenes, count):
            break
    photos = folder / f"{count} photos"
    for index in range(count):
        path = photos / f"box {index // 100:02}" / f"card {index:05}.jpg"
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(drawn[index % len(drawn)] + index.to_bytes(4))
    return photos


@contextmanager
def cluster_of(workers, folder):
    """Run a scheduler and workers of one thread each, as two command lines would; provide its address."""
    from distributed import Client

    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    dask = [sys.executable, "-W", "ignore", "-m"]
    scheduler = [*dask, "distributed.cli.dask_scheduler", "--host", "127.0.0.1", "--port", str(port), "--no-dashboard"]
    address = f"tcp://127.0.0.1:{port}"
    worker = [*dask, "distributed.cli.dask_worker", address, "--nworkers", str(workers), "--nthreads", "1"]
    worker += ["--no-dashboard", "--local-directory", str(folder)]
    with (folder / "dask.log").open("ab") as log, ExitStack() as stack:
        for command in (scheduler, worker):
            how = {"stdout": log, "stderr": log, "env": _ENVIRONMENT | _QUIET, "cwd": _TOP, "start_new_session": True}
            process = stack.enter_context(subprocess.Popen(command, **how))
            stack.callback(os.killpg, process.pid, signal.SIGKILL)
        with Client(address, timeout=60, set_as_default=False) as client:
            client.wait_for_workers(workers, timeout=120)
        yield address


def begin(photos, into, archive, *more):
    """Start the command that reads a folder."""
    command = [sys.executable, "-W", "ignore", "-c", RUN, "read", str(photos), "--into", str(into)]
    pipes = {"stdout": subprocess.PIPE, "stderr": subprocess.PIPE, "text": True}
    return subprocess.Popen([*command, "--archive", archive, *more], env=_ENVIRONMENT, cwd=_TOP, **pipes)


def seconds_of(photos, into, archive, *more):
    """Read a folder to the end; return the wall time."""
    start = time.monotonic()
    process = begin(photos, into, archive, *more)
    _, messages = process.communicate()
    if process.returncode:
        raise AssertionError(messages)
    return time.monotonic() - start


def kill_on_the_way(process, address, into, count, times, seed=1):
    """Kill a worker that reads so many times, spread over the run; return how many were killed before its end."""
    from distributed import Client

    rng = random.Random(seed)  # noqa: S311 - no secret
    marks = sorted(rng.randrange(count // 10, count * 9 // 10) for _ in range(times))
    killed = 0
    for mark in marks:
        while process.poll() is None and len(list(into.rglob("*.note.json"))) < mark:
            time.sleep(0.2)
        if process.poll() is None:
            with Client(address, timeout=60, set_as_default=False) as client:
                os.kill(rng.choice(sorted(client.run(os.getpid).values())), signal.SIGKILL)
            killed += 1
    return killed


def notes_in(into):
    """Return the notes below a folder without the time at which each was made."""
    from swatchread.note.model import load_note

    return {path.name: load_note(path).model_copy(update={"made": ""}) for path in into.rglob("*.note.json")}


def wrong_with(archive, into, count, expected=None):
    """Return what is wrong: each photo must have one note and one card, and the archive no fault."""
    from swatchread.archive.store import Archive

    wrong = []
    notes = notes_in(into)
    if len(notes) != count:
        wrong.append(f"{len(notes)} notes of {count} photos")
    if expected is not None and notes != expected:
        wrong.append(f"{sum(notes.get(name) != note for name, note in expected.items())} notes differ")
    with Archive.open(archive) as opened:
        cards = opened.cards()
        wrong += [fault.message for fault in opened.check()]
    if len(cards) != count or any(card.readings != 1 for card in cards):
        wrong.append(f"{len(cards)} cards of {count} photos, {sum(card.readings for card in cards)} readings")
    return wrong


@contextmanager
def archives(folder):
    """Provide a function that names a new, empty archive."""
    server = os.environ.get(POSTGRES_ENVIRONMENT)
    with ExitStack() as stack:
        yield lambda name: stack.enter_context(schema_of(server)) if server else str(folder / f"{name}.sqlite")


def compared(folder, count, scenes, workers, kills):
    """Read the folder in all ways; return (figure, value) pairs and what is wrong."""
    photos = make_photos(folder, count, scenes)
    with archives(folder) as archive_of:
        archive, into = archive_of("alone"), folder / "alone"
        alone = seconds_of(photos, into, archive, "--jobs", "1")
        wrong, notes = wrong_with(archive, into, count), notes_in(into)
        with cluster_of(workers, folder) as address:
            archive, into = archive_of("shared"), folder / "shared"
            shared = seconds_of(photos, into, archive, "--cluster", address)
        wrong += wrong_with(archive, into, count, notes)
        told = [
            ("one process, s", f"{alone:.1f}"),
            (f"{workers} workers, s", f"{shared:.1f}"),
            ("ratio", f"{alone / shared:.2f}"),
            (f"{MANY} photos: one process, {workers} workers, h",
             f"{alone / count * MANY / 3600:.1f}, {shared / count * MANY / 3600:.1f}"),
        ]  # fmt: skip
        if kills:
            archive, into = archive_of("killed"), folder / "killed"
            with cluster_of(workers, folder) as address:
                start = time.monotonic()
                process = begin(photos, into, archive, "--cluster", address)
                killed = kill_on_the_way(process, address, into, count, kills)
                _, messages = process.communicate()
                told.append((f"{killed} workers killed, s", f"{time.monotonic() - start:.1f}"))
            wrong += [messages] if process.returncode else []
            wrong += wrong_with(archive, into, count, notes)
            wrong += [] if killed == kills else [f"{killed} workers killed instead of {kills}"]
    return told, wrong, alone / shared


def main():
    parser = argparse.ArgumentParser(prog="python -m tests.bench.cluster", description=__doc__.split(":")[0])
    parser.add_argument("--photos", type=int, default=1000, help="how many")
    parser.add_argument("--scenes", type=int, default=36, help="how many scenes they are drawn from")
    parser.add_argument("--workers", type=int, default=2, help="of one thread each")
    parser.add_argument("--kill", type=int, default=0, metavar="N", help="workers to kill on the way in one more run")
    parser.add_argument("--cache", type=Path, metavar="DIR", help="keep photos and results there, in a new folder")
    wanted = parser.parse_args()
    with scene_folder(wanted.cache) as folder:
        told, wrong, ratio = compared(folder, wanted.photos, wanted.scenes, wanted.workers, wanted.kill)
    for name, value in told:
        print(f"{name:<48}{value:>12}")
    print("\n".join(wrong) or "every photo has one note and one card, and all notes are the same")
    if ratio < LEAST_RATIO:
        print(f"the ratio is below {LEAST_RATIO}")
    sys.exit(bool(wrong) or ratio < LEAST_RATIO)


if __name__ == "__main__":
    main()
