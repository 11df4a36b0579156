"""How well handwriting is read: `python -m tests.bench.writing --crops 18 --start 500`.

Each hand belongs to an invented painter with tubes and abbreviations of their own. Every crop is offered with the words
of the painter's notes known and none of the hand, and again after three cards of 18 swatches of that hand were
confirmed.
"""

from __future__ import annotations

import argparse
import time
from difflib import SequenceMatcher

import numpy as np

from swatchread.recipes.tubes import TubeList
from swatchread.writing.note_writing import ConfirmedCrop, WritingReader
from swatchread.writing.recipe_language import split_words
from tests.scene import hands

DEVELOPMENT = ("breip", "build", "create", "mentor", "femke", "klee", "steve")
"""Hands that were looked at while building; the others were not."""

PAINTERS = (
    ("white", "yellow ochre", "cad red", "ult blue", "burnt umber", "raw sienna", "black"),
    ("tw", "yo", "cr", "alz", "bu", "ub", "viridian"),
    ("titanium white", "red earth", "naples yellow", "terre verte", "ivory black", "rose"),
    ("wht", "ochre", "lt red", "cerulean", "b sienna", "cad yel", "umber"),
)
_AMOUNTS = ("1", "2", "3", "4", "5", "6", "8", "10", "1/2", "1/4", "1 1/2", "0.5", "3/4", "2.5", "1/3")
_SHARES = np.array([8, 7, 6, 4, 3, 2, 2, 1, 4, 2, 1.5, 1.5, 1, 1, 1])


def recipe_lines(rng, tubes):
    """Return an invented recipe of two to four paints as it stands on a card: a paint a line, or two lines."""
    parts = []
    for k, tube in enumerate(rng.choice(tubes, int(rng.integers(2, 5)), replace=False)):
        small = k > 0 and rng.random() < 0.22
        amount = (
            ("touch" if rng.random() < 0.7 else "bit of") if small else rng.choice(_AMOUNTS, p=_SHARES / _SHARES.sum())
        )
        parts.append(f"{amount} {tube}")
    if rng.random() < 0.5:
        return parts
    rest = " + ".join(parts[2:])
    lead = "+ " if rng.random() < 0.5 else ""
    return [" + ".join(parts[:2]), *([lead + rest] if rest else [])]


class Tally:
    """Words right of those written, and offered words by how sure they were."""

    def __init__(self):
        self.right, self.written = {"word": 0, "amount": 0}, {"word": 0, "amount": 0}
        self.offered = []
        self.seconds = []
        self.struck = {"written": 0, "offered": 0, "as sure": 0}

    def count(self, crop, offer, seconds):
        self.seconds.append(seconds)
        lines = crop.lines
        written = [word for word in split_words(" ".join(lines)) if word not in "+,"]
        offered = [word for word in offer.words if word.text not in "+,"]
        same = SequenceMatcher(None, written, [word.text for word in offered], autojunk=False).get_matching_blocks()
        found = {block.a + k for block in same for k in range(block.size)}
        true = {block.b + k for block in same for k in range(block.size)}
        for k, word in enumerate(written):
            kind = "amount" if word[0].isdigit() else "word"
            self.written[kind] += 1
            self.right[kind] += k in found
        self.offered += [(word.confidence, word.is_sure, k in true) for k, word in enumerate(offered)]
        wrong = [word for k, word in enumerate(offered) if k not in true and word.text in crop.struck]
        self.struck["written"] += len(crop.struck)
        self.struck["offered"] += len(wrong)
        self.struck["as sure"] += sum(word.is_sure for word in wrong)

    def share(self, kind):
        return self.right[kind] / max(self.written[kind], 1)

    @property
    def sure(self):
        """Share of the offered words that are offered as sure, and the share of those that are wrong."""
        sure = [true for _, is_sure, true in self.offered if is_sure]
        return len(sure) / max(len(self.offered), 1), 1 - sum(sure) / max(len(sure), 1)


def run(names, crops, start, *, learn=True, struck=hands.STRUCK):
    """Return tallies before and after learning, by hand."""
    before, after = {}, {}
    for name in names:
        tubes = PAINTERS[sum(name.encode()) % len(PAINTERS)]
        notes = [" + ".join(recipe_lines(np.random.default_rng([start, 1, k]), tubes)) for k in range(36)]
        reader = WritingReader(TubeList(tubes=(), hazards={}), notes)
        before[name] = _read(reader, name, tubes, crops, start, struck)
        if learn:
            known = []
            for k in range(3 * 18):
                lines = recipe_lines(np.random.default_rng([start, 2, k, *name.encode()]), tubes)
                known.append(ConfirmedCrop(hands.write_crop(name, lines, start + 10_000 + k).pixels, "\n".join(lines)))
            learned = WritingReader(TubeList(tubes=(), hazards={}), (), known)
            after[name] = _read(learned, name, tubes, crops, start, struck)
    return before, after


def _read(reader, name, tubes, crops, start, struck):
    tally = Tally()
    for k in range(crops):
        lines = recipe_lines(np.random.default_rng([start, 3, k, *name.encode()]), tubes)
        crop = hands.write_crop(name, lines, start + k, struck)
        begun = time.process_time()
        offer = reader.read(crop.pixels)
        tally.count(crop, offer, time.process_time() - begun)
    return tally


def pooled(tallies):
    """Return one tally of several."""
    whole = Tally()
    for tally in tallies:
        for kind in whole.right:
            whole.right[kind] += tally.right[kind]
            whole.written[kind] += tally.written[kind]
        whole.offered += tally.offered
        whole.seconds += tally.seconds
        for kind, count in tally.struck.items():
            whole.struck[kind] += count
    return whole


def main():
    """Print a line a hand, and one for all."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--crops", type=int, default=18)
    parser.add_argument("--start", type=int, default=500)
    parser.add_argument("--development", action="store_true", help="the hands that were looked at")
    parser.add_argument("--no-learning", action="store_true")
    parser.add_argument("--struck", type=float, default=hands.STRUCK, help="share of lines with a crossed-out word")
    given = parser.parse_args()
    names = [name for name in hands.hands() if (name in DEVELOPMENT) == given.development]
    before, after = run(names, given.crops, given.start, learn=not given.no_learning, struck=given.struck)
    print("hand     | words amounts | sure, of those wrong | after three cards: words amounts | CPU s a crop, most")
    for name in [*names, "all"]:
        one = pooled(before.values()) if name == "all" else before[name]
        two = (pooled(after.values()) if name == "all" else after[name]) if after else Tally()
        sure, wrong = one.sure
        print(
            f"{name:8s} | {100 * one.share('word'):5.1f} {100 * one.share('amount'):5.1f} | {100 * sure:5.1f} "
            f"{100 * wrong:4.1f} | {100 * two.share('word'):5.1f} {100 * two.share('amount'):5.1f}"
            f" | {np.mean(one.seconds):.2f} {np.max(one.seconds):.2f}",
            flush=True,
        )
    struck = pooled(before.values()).struck
    print(f"crossed-out words: {struck['written']}, offered {struck['offered']}, as sure {struck['as sure']}")


if __name__ == "__main__":
    main()
