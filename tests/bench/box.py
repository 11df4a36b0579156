"""A box of twelve cards, from three photos to archived recipes: `python -m tests.bench.box --hand breip`.

Twelve drawn cards of fifteen swatches lie in three photos. They are read as on the page, and each doubt of the round is
decided against what was written. The painter's time is counted by the keystroke-level model (Card, Moran & Newell, The
keystroke-level model for user performance time with interactive systems, Communications of the ACM 23, 1980; values
from memory): once where all is typed on the pages of the cards, and once where offers are looked at and mended. The
program's time is measured.
"""

from __future__ import annotations

import argparse
import pickle
import tempfile
import time
from dataclasses import replace
from pathlib import Path

import numpy as np

from swatchread.archive.picture_archive import PictureArchive
from swatchread.note.entered_words import with_words
from swatchread.note.model import parse_note
from swatchread.page.doubt_desk import DoubtDesk
from swatchread.page.inbox import Inbox
from swatchread.page.photo_reading import ReadingTask, read_for_page
from swatchread.page.writing_desk import read_offers, writing_task
from swatchread.writing.recipe_language import split_words
from tests.scene import hands, several

KEY, THOUGHT, POINT = 0.28, 1.35, 1.1
"""Seconds of a key of an average typist, of looking at something and judging it, and of pointing with the mouse."""

FILES = 10.0
"""Seconds to choose the photos (own estimate), the same in both ways."""

HEADS = (
    ("Evening light", "K", "12 March 2024", "2024-03-12"), ("Harbour group", "R", "3/4/24", "2024-04-03"),
    ("Flesh run 2", "", "16.11.2023", "2023-11-16"), ("Shadows", "K", "2024-05-02", "2024-05-02"),
    ("Half tones", "M", "21 Oct 23", "2023-10-21"), ("Lamp study", "L", "Nov 2023", "2023-11"),
    ("Red earth tests", "", "5.6.2024", "2024-06-05"), ("Second sitting", "K", "9 Sept 2024", "2024-09-09"),
    ("Cool greys", "", "28/2/24", "2024-02-28"), ("Warm lights", "R", "14 April 2024", "2024-04-14"),
    ("Evening portrait", "M", "7/11/23", "2023-11-07"), ("Viridian trials", "", "30.1.2024", "2024-01-30"),
)  # fmt: skip
"""Title, sitter, date as written, and what it means to a painter who writes the day first. All invented."""


def photo_spec(seed, hand, heads):
    """Return four cards beside a chart, written in one hand."""
    spec = several.several_spec(seed, (4032, 3024))
    rng = np.random.default_rng([seed, 12])
    kept = {
        "rows": 5, "columns": 3, "missing": 0, "writing": "beside", "hand": hand, "margin": 0.75, "ground": "white",
        "torn": False, "tape": False, "two_blocks": False, "pencil_frames": False, "palette": "flesh-and-earth",
    }  # fmt: skip
    cards = [
        replace(
            (spec.cards * 4)[k],
            card_seed=10 * seed + k,
            card_turn=float(rng.uniform(-3, 3)),
            title=f"{title}\n{f'sitter {sitter} ' if sitter else ''}{written}",
            **kept,
        )
        for k, (title, sitter, written, _) in enumerate(heads)
    ]
    base = replace(spec.base, chart_turn=0.0, tilt=8.0)
    return replace(spec, cards=tuple(cards), sizes=(1.0,) * 4, window=25.0, gap=0.3, base=base)


class Tally:
    """Seconds of the painter in both ways, and how the offers were."""

    def __init__(self):
        self.typed = self.offered = FILES
        self.right = {"recipes": [0, 0], "titles": [0, 0], "sitters": [0, 0], "dates": [0, 0]}

    def card(self):
        """Open a card: point at it in the list, look, and go back; in the round it comes by itself."""
        self.typed += 2 * POINT + THOUGHT
        self.offered += THOUGHT

    def field(self, kind, lines, offered, wanted):
        """Fill in a field whose writing has so many lines."""
        self.typed += lines * THOUGHT + (len(wanted) + 1) * KEY
        is_right = words(offered) == words(wanted)
        self.offered += lines * THOUGHT + KEY
        if not is_right:
            missing = [word for word in split_words(wanted) if word not in split_words(offered)] or words(wanted)
            again = wanted if not offered else " ".join(missing)
            self.offered += (
                THOUGHT + (len(again) + 4 * len(missing)) * KEY
            )  # four keys to get to a word and to erase it
        self.right[kind][0] += is_right
        self.right[kind][1] += 1


def words(text):
    return [word for word in split_words(text) if word not in "+,"]


def place(note, truths):
    """Return which drawn card a note is, and what was written beside each of its swatches."""
    middles = {swatch.id: np.mean(swatch.outline, axis=0) for swatch in note.swatches}

    def nearest(truth, middle):
        return min(truth.swatches, key=lambda one: float(np.hypot(*(np.asarray(one.centre_px) - middle))))

    first = next(iter(middles.values()))
    card = min(range(len(truths)), key=lambda k: np.hypot(*(nearest(truths[k], first).centre_px - first)))
    return card, {name: hands.recipe_lines(nearest(truths[card], middle).recipe) for name, middle in middles.items()}


def drawn_photo(seed, hand, heads, path):
    """Return the truths of a photo, which is drawn unless it is there."""
    kept = path.with_suffix(".truths")
    if not kept.is_file():
        scene = several.draw(photo_spec(seed, hand, heads))
        several.save(scene, path)
        kept.write_bytes(pickle.dumps(scene.truths))
    return pickle.loads(kept.read_bytes())  # noqa: S301 - written here


def run(hand, seed, folder):
    """Read three photos and decide all doubts; return the tally, the program's seconds, and the cards."""
    tally, waits, cards = Tally(), {"to the first card": 0.0, "reading": 0.0, "handwriting": []}, {}
    with tempfile.TemporaryDirectory() as inner, PictureArchive.open(f"{inner}/archive.sqlite") as archive:
        for k in range(3):
            heads = HEADS[4 * k : 4 * k + 4]
            path = folder / f"box-{hand}-{seed + k}.jpg"
            truths = drawn_photo(seed + k, hand, heads, path)
            begun = time.perf_counter()
            read = read_for_page(ReadingTask(path, path.name))
            for one in (read, *read.others):
                number = archive.add_read(parse_note(one.note), one.pictures).card
                which, lines = place(archive.card(number).note, truths)
                cards[number] = heads[which], lines
            waits["reading"] += time.perf_counter() - begun
            waits["to the first card"] = waits["to the first card"] or waits["reading"]
        desk = DoubtDesk(archive, Inbox(archive.photo_folder))
        while ahead := desk.ahead():
            one = ahead[0]
            desk.show(one)
            if one.doubt.kind != "recipes" or one.card is None:
                tally.offered += 2 * THOUGHT + KEY
                desk.decide(one.doubt.key, "take", 3.0)
                if one.card is None:
                    break
                continue
            decide_recipes(archive, one, cards[one.card], (tally, waits))
            desk.decide(one.doubt.key, "take", 60.0)
    return tally, waits, cards


def decide_recipes(archive, one, drawn, counted):
    """Fill in a card: what is offered is compared with what was written."""
    (title, sitter, _, meant), lines = drawn
    tally, waits = counted
    task = writing_task(archive, archive.card(one.card))
    begun = time.perf_counter()
    offers = read_offers(task)
    waits["handwriting"].append(time.perf_counter() - begun)
    by_id = {offer["id"]: offer["text"] for offer in offers["swatches"]}
    tally.card()
    entered = {swatch: " + ".join(lines[swatch]) for swatch in one.doubt.swatches}
    for swatch, wanted in entered.items():
        tally.field("recipes", len(lines[swatch]), by_id.get(swatch, ""), wanted)
    head = {"title": title, "sitter": sitter, "date": meant}
    for name, kind in (("title", "titles"), ("sitter", "sitters"), ("date", "dates")):
        offer = offers["card"].get(name, {"text": ""})
        chosen = meant if meant in [day for day, _ in offer.get("choices", ())] else offer["text"]
        tally.field(kind, 1, chosen, head[name])
    archive.change(one.card, lambda note: with_words(note, entered | head))


def main():
    """Print the minutes in both ways."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--hand", default="breip")
    parser.add_argument("--seed", type=int, default=5101)
    parser.add_argument("--photos", type=Path, help="a folder in which the drawn photos are kept")
    given = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        tally, waits, cards = run(given.hand, given.seed, given.photos or Path(folder))
    print(f"{len(cards)} cards, {sum(len(lines) for _, lines in cards.values())} swatches")
    print(f"all typed {tally.typed / 60:.1f} minutes; offers looked at and mended {tally.offered / 60:.1f} minutes")
    print("; ".join(f"{kind} right as offered {right} of {of}" for kind, (right, of) in tally.right.items()))
    mean = np.mean(waits["handwriting"])
    print(f"program: first card after {waits['to the first card']:.0f} s, three photos {waits['reading']:.0f} s, "
          f"handwriting {mean:.1f} s a card, at most {max(waits['handwriting']):.1f} s")  # fmt: skip


if __name__ == "__main__":
    main()
