"""Writers to be killed: `python -m tests.fuzz.killed WRITER FOLDER TIMES`.

The process makes itself ready once, then forks a writer that goes on and on, kills it after a random while, and looks
at what stands there; so often. A fork, because making ready takes longer than writing. What the writer has finished it
notes down: that was acknowledged, and must stand.
"""

from __future__ import annotations

import csv
import json
import os
import random
import re
import signal
import sys
import time
from itertools import count
from pathlib import Path

import cv2

from tests.archive_data import build_note, swatch_data


def numbered(text):
    """Return the number that a writer has put into a text."""
    return int(re.search(r"number (\d+) ", text)[1])


def in_step(path, acknowledged):
    """Check that the note is the last acknowledged one or the next, and that nothing beside it is ahead of it."""
    from swatchread.note.model import load_note

    number = numbered(load_note(path).card_info.note)
    assert number in {acknowledged, acknowledged + 1}
    beside = path.name.removesuffix(".json")
    for ending in (".csv", ".cgats.txt", ".html"):
        text = path.with_name(beside + ending).read_text("utf-8")
        found = int(re.search(r"title (\d+) ", text)[1])
        assert found in {number, number - 1}, (ending, found, number)
    assert path.with_name(f"{beside}.html").read_text("utf-8").endswith("</html>\n")
    assert path.with_name(f"{beside}.cgats.txt").read_text("ascii").endswith("END_DATA\n")
    with path.with_name(f"{beside}.csv").open(encoding="utf-8", newline="") as file:
        assert len(list(csv.reader(file))) == len(load_note(path).swatches) + 1


def words_numbered(number):
    return {"title": f"title {number} invented", "note": f"number {number} {'x' * 1800}"}


def outputs(folder):
    """Fill a note in, and write the files of a reading over it, which keep what was filled in."""
    from swatchread.page.note_keeper import NoteKeeper, Words
    from swatchread.reading import read_card
    from swatchread.report.reading_files import write_outputs

    reading = read_card(next(folder.glob("*.jpg")))
    into = folder / "notes"
    write_outputs(reading, into, "card")

    def write(number):
        NoteKeeper(into / "card.note.json").save(Words(card=words_numbered(number)))
        write_outputs(reading, into, "card")

    write(0)
    names = {path.name for path in into.iterdir()}

    def look(acknowledged):
        found = {path.name for path in into.iterdir() if not path.name.endswith(".part")}
        assert found == names, found ^ names
        in_step(into / "card.note.json", acknowledged)
        assert all(cv2.imread(str(path)) is not None for path in into.glob("*.jpg"))
        assert all(path.read_bytes().endswith(b"\xff\xd9") for path in into.glob("*.jpg"))

    return write, look


def words(folder):
    """Save words into a note as the page does."""
    from swatchread.page.note_keeper import NoteKeeper, Words
    from swatchread.report.note_files import TEXTS, save_with_texts

    path = folder / "card.note.json"
    save_with_texts(path, build_note([swatch_data(1, c, (50, c, 15)) for c in range(1, 9)]), TEXTS)

    def write(number):
        NoteKeeper(path).save(Words(card=words_numbered(number)))

    write(0)
    return write, lambda acknowledged: in_step(path, acknowledged)


def archive(folder):
    """Add one card after the other to an archive; each that was said to be in it is in it."""
    from swatchread.archive.store import Archive

    place = folder / "archive.sqlite"

    def write(number):
        swatches = [swatch_data(1, c, (50, c, 15), recipe=f"{c} red ochre") for c in range(1, 7)]
        with Archive.open(str(place)) as opened:
            opened.add(build_note(swatches, seed=1000 + number))

    def look(acknowledged):
        with Archive.open(str(place)) as opened:
            assert not opened.check()
            photos = {line.photo for line in opened.cards()}
        expected = {f"card-{1000 + number}.jpg" for number in range(acknowledged + 1)}
        assert photos in (expected, expected | {f"card-{1001 + acknowledged}.jpg"})

    write(0)
    return write, look


def changes(folder):
    """Save words into a card of an archive."""
    from swatchread.archive.store import Archive
    from swatchread.note.entered_words import with_words

    place = folder / "changes.sqlite"
    with Archive.open(str(place)) as opened:
        opened.add(build_note([swatch_data(1, c, (50, c, 15)) for c in range(1, 9)]))

    def write(number):
        with Archive.open(str(place)) as opened:
            edition = opened.card(1).edition
            opened.change(1, lambda note: with_words(note, words_numbered(number)), expected=edition)

    def look(acknowledged):
        with Archive.open(str(place)) as opened:
            assert not opened.check()
            view = opened.card(1)
        assert numbered(view.note.card_info.note) in {acknowledged, acknowledged + 1}

    write(0)
    return write, look


def go_on(write, told, first):
    """Write again and again; note down what is begun and what is done."""
    for number in count(first):
        with told.open("a") as file:
            file.write(f"begun {number}\n")
        write(number)
        with told.open("a") as file:
            file.write(f"done {number}\n")


def main():
    """Make ready, then kill and look, and tell how often something was being written."""
    kind, folder, times = sys.argv[1], Path(sys.argv[2]), int(sys.argv[3])
    cv2.setNumThreads(0)  # a fork takes no threads along
    write, look = {"outputs": outputs, "words": words, "archive": archive, "changes": changes}[kind](folder)
    started = time.monotonic()
    write(1)
    longest = max(0.4, 1.5 * (time.monotonic() - started))  # so that some are finished and some are not
    told = folder / "told"
    rng, interrupted, left, acknowledged = random.Random(1), 0, 0, 1  # noqa: S311 - moments, not secrets
    for _ in range(times):
        child = os.fork()
        if not child:
            try:
                go_on(write, told, acknowledged + 1)
            finally:
                os._exit(3)  # only if the writer broke by itself
        time.sleep(rng.uniform(0.02, longest))
        os.kill(child, signal.SIGKILL)
        _, status = os.waitpid(child, 0)
        assert os.WIFSIGNALED(status), "the writer ended by itself"
        lines = told.read_text().splitlines() if told.exists() else []
        acknowledged = max([acknowledged, *(int(line.split()[1]) for line in lines if line.startswith("done"))])
        interrupted += bool(lines) and lines[-1].startswith("begun")
        left += any(folder.rglob(".*.part"))
        look(acknowledged)
    write(acknowledged + 1)
    stay = [path.name for path in folder.rglob(".*.part")]
    print(json.dumps({"interrupted": interrupted, "left": left, "stay": stay, "written": acknowledged}))


if __name__ == "__main__":
    main()
