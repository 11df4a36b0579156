"""Page bench: `python -m tests.bench.page`: how long a painter waits for the local page, on an idle machine.

The program runs as a painter starts it, with an archive of 5,000 cards and 100,000 swatches; the figures are what a
browser on the same machine waits, the best of some tries but for what happens once.
"""

import html
import json
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from tests.archive_data import sample_card
from tests.page_server import get, post, processor_seconds, settled, upload

from .running import options, scene_folder, seeds_of
from .scenes import KINDS, drawn
from .tables import aligned, judged, misses

#: figure -> (lowest, highest) allowed; from the page's own design.
TARGETS = {
    "start to first page, s": (None, 1.5),
    "Cards, s": (None, 0.3),
    "a card, s": (None, 0.3),
    "Find, a question, s": (None, 0.15),
    "12 megapixels, drop to marked photo, s": (None, 2.0),
    "correction, s": (None, 1.5),
    "idle, share of a core": (None, 0.02),
}
CARDS, ROWS, COLUMNS = 5000, 5, 4
TRIES = 5
IDLE_SECONDS = 10.0


def fill(archive, cards):
    from swatchread.archive.picture_archive import PictureArchive

    with PictureArchive.open(str(archive)) as opened:
        for first in range(0, cards, 100):
            last = min(first + 100, cards)
            opened.add_all(
                (sample_card(k, rows=ROWS, columns=COLUMNS, munsell=False), None) for k in range(first, last)
            )


class Program:
    """The page as a painter starts it."""

    def __init__(self, archive):
        words = [sys.executable, "-m", "swatchread", "open", "--no-browser", "--archive", str(archive)]
        self.process = subprocess.Popen(words, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True)
        self.address = self.process.stdout.readline().strip()

    def stop(self):
        self.process.terminate()
        self.process.wait(20)
        self.process.stdout.close()


def seconds_of(act, tries=TRIES):
    best = float("inf")
    for _ in range(tries):
        start = time.perf_counter()
        act()
        best = min(best, time.perf_counter() - start)
    return best


def first_page(archive):
    start = time.perf_counter()
    program = Program(archive)
    get(program.address + "cards")
    return program, time.perf_counter() - start


def marked_photo(server, photo):
    """Send a photo as a browser does, and wait for the picture of what was found."""
    start = time.perf_counter()
    (taken,) = upload(server, (photo.name, photo.read_bytes()))
    facts = settled(server, taken["id"])
    get(f"{server.address}pictures/{facts['marked']}")
    return time.perf_counter() - start, facts["card"]


def correction(server, card):
    """Drag a corner of the card, of all corrections the one that takes longest but for the chart's.

    As the page does, the photo is taken in hand when the tool is chosen; a painter needs longer to reach the corner.
    """
    page = get(f"{server.address}cards/{card}")[1].decode()
    edition, drawn = (page.partition(f'{name}="')[2].partition('"')[0] for name in ("data-edition", "data-drawn"))
    (x, y), *others = json.loads(html.unescape(drawn))["card"]
    hints = {"card": [[x + 6.0, y + 4.0], *others]}
    post(f"{server.address}cards/{card}/in-hand", {})
    start = time.perf_counter()
    post(f"{server.address}cards/{card}/correct", {"edition": int(edition), "hints": hints})
    get(f"{server.address}cards/{card}")  # which the page then shows
    return time.perf_counter() - start


def measure(cards, photos):
    found = {}
    with tempfile.TemporaryDirectory() as folder:
        archive = Path(folder) / "archive.sqlite"
        fill(archive, cards)
        starts = []
        for _ in range(3):
            program, waited = first_page(archive)
            starts.append(waited)
            program.stop()
        found["start to first page, s"] = min(starts)
        program, _ = first_page(archive)
        try:
            time.sleep(8.0)  # readers load what they need
            found["Cards, s"] = seconds_of(lambda: get(program.address + "cards"))
            found["a card, s"] = seconds_of(lambda: get(program.address + "cards/77"))
            get(program.address + "find")
            questions = iter(range(1000))
            found["Find, a question, s"] = seconds_of(
                lambda: get(f"{program.address}find/answer?value={next(questions) % 5}-6&near=50,20,{next(questions)}")
            )
            read = [marked_photo(program, photo) for photo in photos]
            found["12 megapixels, drop to marked photo, s"] = min(waited for waited, _ in read)
            found["correction, s"] = min(correction(program, card) for _, card in read)
            time.sleep(2.0)
            before = processor_seconds(program.process.pid)
            time.sleep(IDLE_SECONDS)
            found["idle, share of a core"] = (processor_seconds(program.process.pid) - before) / IDLE_SECONDS
        finally:
            program.stop()
    return found


def report(made):
    """Text of the figures beside their targets."""
    return aligned(judged(made, TARGETS, lambda _, x: f"{x:.3g}"), ["figure", "measured", "target", ""])


def main(arguments=None):
    parser = options("page", __doc__, seeds=3, start=3000)
    parser.add_argument("--cards", type=int, default=CARDS)
    wanted = parser.parse_args(arguments)
    with scene_folder(wanted.cache) as scenes:
        photos = [drawn(KINDS["easy"](seed, wanted.size), scenes).path for seed in seeds_of(wanted)]
        found = measure(wanted.cards, photos)
    print(report(found))
    return 1 if misses(found, TARGETS) else 0


if __name__ == "__main__":
    sys.exit(main())
