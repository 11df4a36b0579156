"""How well the heads of cards are read: `python -m tests.bench.headings --crops 18 --start 700`.

Each hand writes invented titles, sitters and dates in the forms that painters use. A head is read with nothing known of
the painter, and again after twelve heads of that hand were confirmed.
"""

from __future__ import annotations

import argparse
from collections import Counter
from datetime import date

import numpy as np

from swatchread.recipes.tubes import TubeList
from swatchread.writing.note_writing import ConfirmedHead, WritingReader
from tests.bench.writing import DEVELOPMENT
from tests.scene import hands

TITLES = ("evening light", "harbour group", "flesh run 2", "cool greys", "shadows by the window", "second sitting",
          "red earth tests", "half tones", "viridian trials", "smock in the sun", "lamp study 3",
          "old pier")  # fmt: skip
SITTERS = ("sitter K", "sitter R", "sitter: M", "model L", "")
FORMS = ("{d}.{m}.{y}", "{d}/{m}/{s}", "{d} {name} {y}", "{name} {d} {y}", "{y}-{m:02d}-{d:02d}", "{d}.{m}.{s}",
         "{d} {short} {s}", "{name} {y}")  # fmt: skip
LATEST = date(2025, 6, 1)


def draw(rng):
    """Return the lines of a head, and what is meant: title, sitter, date, and whether the date can be told."""
    day = date.fromordinal(int(rng.integers(date(2015, 1, 1).toordinal(), LATEST.toordinal())))
    form = str(rng.choice(FORMS))
    names = {"name": f"{day:%B}", "short": f"{day:%b}"}
    written = form.format(d=day.day, m=day.month, y=day.year, s=f"{day:%y}", **names)
    meant = f"{day:%Y-%m}" if "{d" not in form else day.isoformat()
    in_figures = "{m}" in form and day.day <= 12 and day.day != day.month
    other = date(day.year, day.day, day.month) if in_figures else LATEST
    title, sitter = str(rng.choice(TITLES)), str(rng.choice(SITTERS))
    second = f"{sitter} {written}".strip()
    lines = [title, second] if rng.random() < 0.7 else [f"{title} {second}"]
    return lines, (title, sitter[-1:], meant, not (in_figures and other <= LATEST))


def count(reader, hand, heads, start):
    """Return how often title words, sitters and dates are right, asked about, or wrong."""
    told = Counter()
    for k in range(heads):
        lines, (title, sitter, meant, is_clear) = draw(np.random.default_rng([start, 5, k, *hand.encode()]))
        heading = reader.read_heading(hands.write_crop(hand, lines, start + k, struck=0.0).pixels, LATEST)
        words = heading.title.text.casefold().split()
        told["title words"] += len(title.split())
        told["title words right"] += sum(word in words for word in title.split())
        told["sitters"] += 1
        told["sitters right"] += heading.sitter.text == sitter
        told["dates"] += 1
        told["dates right"] += heading.date.text == meant or (not is_clear and meant in heading.dates)
        told["dates wrong"] += bool(heading.date.text) and heading.date.text != meant
        for offer in heading.offers().values():
            told["sure"] += bool(offer.text) and not offer.doubts
        told["sure and wrong"] += bool(heading.date.text) and heading.date.text != meant and not heading.date.doubts
        told["sure and wrong"] += (
            bool(heading.sitter.text) and heading.sitter.text != sitter and not heading.sitter.doubts
        )
        told["sure and wrong"] += bool(words) and words != title.split() and not heading.title.doubts
    return told


def run(names, heads, start):
    """Yield each hand with its counts before and after learning."""
    for hand in names:
        before = count(WritingReader(TubeList(tubes=(), hazards={})), hand, heads, start)
        known = []
        for k in range(12):
            lines, (title, sitter, meant, _) = draw(np.random.default_rng([start, 6, k, *hand.encode()]))
            picture = hands.write_crop(hand, lines, start + 10_000 + k, struck=0.0).pixels
            known.append(ConfirmedHead(picture, title, sitter, meant))
        after = count(WritingReader(TubeList(tubes=(), hazards={}), (), (), known), hand, heads, start)
        yield hand, before, after


def line(name, told):
    """Return a line of the table."""
    shares = [told[f"{kind} right"] / max(told[kind], 1) for kind in ("title words", "sitters", "dates")]
    wrong = told["dates wrong"] / max(told["dates"], 1)
    sure = told["sure and wrong"] / max(told["sure"], 1)
    return f"{name:9s} " + " ".join(f"{100 * share:6.1f}" for share in (*shares, wrong, sure))


def main():
    """Print two lines a hand, and two for all."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--crops", type=int, default=18)
    parser.add_argument("--start", type=int, default=700)
    parser.add_argument("--development", action="store_true", help="the hands that were looked at")
    given = parser.parse_args()
    names = [name for name in hands.hands() if (name in DEVELOPMENT) == given.development]
    print("right, %:  title  sitter  date | wrong date | sure and wrong")
    both = Counter(), Counter()
    for hand, before, after in run(names, given.crops, given.start):
        for whole, part in zip(both, (before, after), strict=True):
            whole.update(part)
        print(line(hand, before), "| after 12", line("", after), flush=True)
    print(line("all", both[0]), "| after 12", line("", both[1]))


if __name__ == "__main__":
    main()
