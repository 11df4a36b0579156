"""Writers to be killed: `python -m tests.fuzz.killed WRITER FOLDER TIMES`.

The process makes itself ready once, then forks a writer that goes on and on, kills it after a random while, and looks
at what stands there; so often. A fork, because making ready takes longer than writing.
"""

from __future__ import annotations

import json
import os
import random
import signal
import sys
import time
from itertools import count
from pathlib import Path

import cv2

from tests.archive_data import build_note, swatch_data


def outputs(folder):
    """Write the files of a reading."""
    from swatchread.note.model import load_note
    from swatchread.reading import read_card
    from swatchread.report.reading_files import write_outputs

    reading = read_card(next(folder.glob("*.jpg")))
    into = folder / "notes"
    write_outputs(reading, into, "card")
    names = {path.name for path in into.iterdir()}

    def write():
        while True:
            write_outputs(reading, into, "card")

    def look():
        found = {path.name for path in into.iterdir() if not path.name.startswith(".")}
        assert found == names, found ^ names
        note = load_note(into / "card.note.json")
        assert (into / "card.note.html").read_text("utf-8").endswith("</html>\n")
        assert (into / "card.note.cgats.txt").read_text("ascii").endswith("END_DATA\n")
        assert len((into / "card.note.csv").read_bytes().split(b"\r\n")) == len(note.swatches) + 2
        assert all(cv2.imread(str(path)) is not None for path in into.glob("*.jpg"))
        assert all(path.read_bytes().endswith(b"\xff\xd9") for path in into.glob("*.jpg"))

    return write, look


def words(folder):
    """Put words into a note from a table, one table after the other."""
    from swatchread.note.model import load_note
    from swatchread.page.note_keeper import NoteKeeper
    from swatchread.page.word_table import read_words

    path = folder / "card.note.json"
    build_note([swatch_data(1, 1, (50, 10, 15), recipe="a" * 1800)]).save(path)
    tables = []
    for letter in "ab":
        table = folder / f"{letter}.csv"
        table.write_text(f"id,recipe,note\nr1c1,{letter * 1800},{letter * 1800}\n", "utf-8")
        tables.append(read_words(table))
    NoteKeeper(path).save(tables[0])

    def write():
        for number in count():
            NoteKeeper(path).save(tables[number % 2])

    def look():
        note = load_note(path)
        recipe = note.swatches[0].recipe
        assert recipe in {"a" * 1800, "b" * 1800}
        assert note.card_info.note == recipe  # both of one table

    return write, look


def archive(folder):
    """Add one card after the other to an archive; each that was said to be in it is in it."""
    from swatchread.archive.store import Archive

    place, told = folder / "archive.sqlite", folder / "told"
    Archive.open(str(place)).close()
    told.write_text("")

    def write():
        first = len(told.read_text().split())
        with Archive.open(str(place)) as opened:
            for number in count(first):
                swatches = [swatch_data(1, c, (50, c, 15), recipe=f"{c} red ochre") for c in range(1, 7)]
                added = opened.add(build_note(swatches, seed=1000 + number))
                with told.open("a") as file:
                    file.write(f"{added.card}\n")

    def look():
        with Archive.open(str(place)) as opened:
            assert not opened.check()
            cards = {line.card for line in opened.cards()}
        said = {int(line) for line in told.read_text().split()}
        assert said <= cards
        assert len(cards) <= len(said) + 1 + look.rounds
        look.rounds += 1

    look.rounds = 0
    return write, look


def main():
    """Make ready, then kill and look, and tell how often something was being written."""
    kind, folder, times = sys.argv[1:]
    writer = {"outputs": outputs, "words": words, "archive": archive}[kind]
    cv2.setNumThreads(0)  # a fork takes no threads along
    write, look = writer(Path(folder))
    rng, interrupted = random.Random(1), 0  # noqa: S311 - moments, not secrets
    for _ in range(int(times)):
        child = os.fork()
        if not child:
            try:
                write()
            finally:
                os._exit(3)  # only if the writer broke by itself
        time.sleep(rng.uniform(0.02, 0.4))
        os.kill(child, signal.SIGKILL)
        _, status = os.waitpid(child, 0)
        assert os.WIFSIGNALED(status), "the writer ended by itself"
        interrupted += any(Path(folder).rglob(".*.part"))
        look()
        for left in Path(folder).rglob(".*.part"):
            left.unlink()
    print(json.dumps({"interrupted": interrupted}))


if __name__ == "__main__":
    main()
