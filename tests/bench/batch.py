"""A shoebox of cards, some unreadable: a batch must lose nothing. The slow tests of the batch run it.

One command (archive complete, report right), three times killed and taken up each time, two commands on one folder and
one archive at once.
"""

import csv
import os
import random
import signal
import subprocess
import sys
import time
from collections import Counter
from pathlib import Path

RUN = "if __name__ == '__main__':\n from swatchread.cli.main import start\n start()"
#: Shares of an undisturbed run between which a batch is killed.
_EARLIEST, _LATEST = 0.15, 0.3


def make_photos(folder, count, bad, width=1600):
    """Draw `count` photos of different cards into a folder and its folders; the last `bad` of them are unreadable."""
    from tests.scene import chartless_spec, draw, easy_spec, save

    folder.mkdir(parents=True, exist_ok=True)
    size = (width, width * 3 // 4)
    for index in range(count - bad):
        path = folder / f"year {2020 + index % 3}" / f"card {index:02}.jpg"
        path.parent.mkdir(exist_ok=True)
        save(draw(easy_spec(9000 + index, size)), path)
    good = next(folder.rglob("card*.jpg")).read_bytes()
    ways = (
        lambda path: path.write_bytes(good[: len(good) // 2]),
        lambda path: path.write_text("not a photo\n", encoding="utf-8"),
        lambda path: path.write_bytes(b""),
        lambda path: path.write_bytes(good[:200] + os.urandom(4000)),
        lambda path: save(draw(chartless_spec(9100, (800, 600))), path),
    )
    for index in range(bad):
        ways[index % len(ways)](folder / f"bad {index}.jpg")
    return sorted(folder.rglob("*.jpg"))


def command(folder, into, archive, *more):
    """Name the command that reads a folder into another, and into an archive."""
    code = [sys.executable, "-W", "ignore", "-c", RUN, "read", str(folder), "--into", str(into)]
    return [*code, "--archive", str(archive), *more]


def run(folder, into, archive, *more):
    """Read a folder; return the exit status and the seconds it took."""
    start = time.monotonic()
    done = subprocess.run(command(folder, into, archive, *more), capture_output=True, text=True, check=False)
    if done.returncode not in (0, 1):
        raise AssertionError(done.stderr)
    return done.returncode, time.monotonic() - start


def killed(folder, into, archive, rng, span):
    """Start reading and kill the whole of it after a random time; return whether it was still at work."""
    process = subprocess.Popen(
        command(folder, into, archive),
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        start_new_session=True,
    )
    time.sleep(rng.uniform(*span))
    working = process.poll() is None
    if working:
        os.killpg(process.pid, signal.SIGKILL)
    process.wait()
    return working


def judge(into, archive, readable, unreadable):
    """Return what is wrong with the results: the archive, the notes and the report."""
    from swatchread.archive.store import Archive
    from swatchread.note.model import load_note

    wrong = []
    with Archive.open(str(archive)) as opened:
        cards = Counter(line.photo for line in opened.cards())
        wrong += [f"archive: {fault.message}" for fault in opened.check()]
        wrong += [f"card of {line.photo}: {line.readings} readings" for line in opened.cards() if line.readings != 1]
    if cards != Counter(photo.name for photo in readable):
        wrong.append(f"{sum(cards.values())} cards of {len(readable)} photos")
    notes = [load_note(path) for path in into.rglob("*.note.json")]
    if Counter(note.photo.file for note in notes) != Counter(photo.name for photo in readable):
        wrong.append(f"{len(notes)} notes of {len(readable)} photos")
    with (into / "read-report.csv").open(encoding="utf-8", newline="") as file:
        rows = {Path(row["photo"]).name: row for row in csv.DictReader(file)}
    if set(rows) != {photo.name for photo in (*readable, *unreadable)}:
        wrong.append(f"the report has {len(rows)} rows")
    failed = {name for name, row in rows.items() if row["state"] == "failed" and row["what"] and row["remedy"]}
    if failed != {photo.name for photo in unreadable}:
        wrong.append(f"the report says that these failed: {sorted(failed)}")
    return wrong


def fresh(out, name):
    """Return the places for results and for an archive beside them."""
    return out / name, out / f"{name}.sqlite"


def whole(out, photos, parts):
    """One command."""
    into, archive = fresh(out, "whole")
    status, seconds = run(photos, into, archive)
    again, after = run(photos, into, archive)
    wrong = judge(into, archive, *parts)
    wrong += [f"exit {status} and {again}"] if (status, again) != (1, 1) else []
    return wrong, f"{seconds:.0f} s, once more {after:.1f} s"


def kill_three_times(out, photos, parts, seed=1):
    """Three times SIGKILL at random, each before a third of what an undisturbed run takes here, then to the end."""
    _, undisturbed = run(photos, *fresh(out, "undisturbed"))
    span = undisturbed * _EARLIEST, undisturbed * _LATEST
    into, archive = fresh(out, "killed")
    rng = random.Random(seed)  # noqa: S311 - no secret
    at_work = sum(killed(photos, into, archive, rng, span) for _ in range(3))
    before = len(list(into.rglob("*.note.json")))
    status, seconds = run(photos, into, archive)
    wrong = judge(into, archive, *parts) + ([] if at_work == 3 else [f"killed at work {at_work} times only"])
    return wrong + ([] if status == 1 else [f"exit {status}"]), f"{before} notes stood when taken up, {seconds:.0f} s"


def two_at_once(out, photos, parts):
    """Two commands on one folder and one archive."""
    into, archive = fresh(out, "both")
    processes = [
        subprocess.Popen(
            command(photos, into, archive, "--jobs", "1"), stdout=subprocess.DEVNULL, stderr=subprocess.PIPE
        )
        for _ in range(2)
    ]
    messages = [process.communicate()[1].decode() for process in processes]
    wrong = [m for p, m in zip(processes, messages, strict=True) if p.returncode != 1]
    return wrong + judge(into, archive, *parts), ""
