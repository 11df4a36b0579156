"""Several cards in one photo: `python -m tests.bench.cards --seeds 40 --scans 20 --start 82000 --size 2400x1800`.

How many of the cards and swatches are found, whether any swatch is given to another card, and the errors beside those
of single cards. Photos of two to eight cards on a table, and scans.
"""

import pickle
import sys
from collections import Counter
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np

from tests.scene import several
from tests.scene.spectra import delta_e_2000

from .matching import VISIBLE, match, rightly_placed
from .measure import read_notes
from .running import options, run_all, scene_folder, seeds_of
from .scenes import key_of
from .tables import aligned, judged

#: figure -> (lowest, highest) allowed.
TARGETS = {
    "cards found": (0.98, None),
    "swatches found": (0.985, None),
    "false swatches": (None, 0.005),
    "swatches given to another card": (None, 0.0),
    "photos with a card too many": (None, 0.02),
}


@dataclass
class Sheet:
    """One photo: how many cards and swatches are there and were found, and the errors.

    Attributes
    ----------
    name : str
    cards, found : true cards, and those to which a note belongs.
    extra : notes that belong to no card, or to one that has a note already.
    swatches, read, false, strayed : counts of visible swatches there; read under their own card; read where none is;
        read under another card.
    placed, turns : counts of those read in their right row and column; and of cards, True where most swatches are in
        their right places, on which writing tells which way up they are.
    errors, shares : ΔE00, and ΔE00 over the stated uncertainty, of those read under their own card.
    failure : the error's code.
    """

    name: str
    cards: int = 0
    found: int = 0
    extra: int = 0
    swatches: int = 0
    read: int = 0
    false: int = 0
    strayed: int = 0
    placed: int = 0
    turns: list = field(default_factory=list)
    errors: list = field(default_factory=list)
    shares: list = field(default_factory=list)
    failure: str = ""


def drawn(spec, folder):
    """Draw a photo of several cards into a folder, or take it from there; returns its path and its scene."""
    name = f"{'scan' if spec.scan else 'cards'}-{spec.seed}-{key_of(spec)}"
    path = Path(folder) / f"{name}{'.tif' if spec.scan else '.jpg'}"
    beside = path.with_suffix(".truth.pickle")
    if not beside.exists():
        scene = several.draw(spec)
        several.save(scene, path)
        part = beside.with_suffix(".part")
        part.write_bytes(pickle.dumps(replace(scene, rgb=None)))
        part.replace(beside)
    return path, pickle.loads(beside.read_bytes())  # noqa: S301 - our own file


def measure(task):
    """Read one photo and hold its notes against the truth of its cards."""
    from swatchread.errors import SwatchreadError

    spec, folder = task
    path, scene = drawn(spec, folder)
    sheet = Sheet(path.stem, len(scene.truths))
    sheet.swatches = sum(s.contrast >= VISIBLE for truth in scene.truths for s in truth.swatches)
    try:
        notes = read_notes(path)
    except SwatchreadError as error:
        sheet.failure = error.code
        return sheet
    every = [(card, swatch) for card, truth in enumerate(scene.truths) for swatch in truth.swatches]
    taken = [_hold_against(sheet, note, scene, every) for note in notes]
    sheet.found = len(set(taken) - {None})
    sheet.extra = len(notes) - sheet.found
    return sheet


def _hold_against(sheet, note, scene, every):
    """Add one note to a photo's counts; returns the number of the card to which it belongs, None if to none."""
    pairs = match([np.mean(s.outline, axis=0) for s in note.swatches], [swatch for _, swatch in every])
    owners = Counter(every[j][0] for _, j in pairs)
    sheet.false += len(note.swatches) - len(pairs)
    if not owners:
        return None
    own = owners.most_common(1)[0][0]
    sheet.strayed += sum(count for card, count in owners.items() if card != own)
    first = next(j for j, (card, _) in enumerate(every) if card == own)
    mine = [(i, j - first) for i, j in pairs if every[j][0] == own]
    swatches = scene.truths[own].swatches
    seen = [(i, j) for i, j in mine if swatches[j].contrast >= VISIBLE]
    sheet.read += len(seen)
    placed = rightly_placed([((note.swatches[i].row, note.swatches[i].column), j) for i, j in seen], swatches)
    sheet.placed += placed
    if scene.spec.cards[own].writing != "none":
        sheet.turns.append(2 * placed > len(seen))
    for i, j in seen:
        error = float(delta_e_2000(np.array(note.swatches[i].lab), swatches[j].lab))
        sheet.errors.append(error)
        sheet.shares.append(error / note.swatches[i].uncertainty.de00)
    return own


def rates(sheets):
    """Figures over some photos."""
    total = {name: sum(getattr(s, name) for s in sheets) for name in ("cards", "found", "swatches", "read", "false")}
    strayed, placed = sum(s.strayed for s in sheets), sum(s.placed for s in sheets)
    answers = max(total["read"] + total["false"] + strayed, 1)
    return {
        "cards found": total["found"] / total["cards"],
        "swatches found": total["read"] / total["swatches"],
        "false swatches": total["false"] / answers,
        "swatches given to another card": strayed / answers,
        "photos with a card too many": float(np.mean([s.extra > 0 for s in sheets])),
        "right row and column": placed / max(total["read"], 1),
        "written cards the right way up": float(np.mean([turn for s in sheets for turn in s.turns] or [1.0])),
    }


def summary(sheets):
    """Text of the figures of some photos, and their errors."""
    errors, shares = (np.array([e for s in sheets for e in getattr(s, name)]) for name in ("errors", "shares"))
    rows = judged(rates(sheets), TARGETS, lambda _, x: f"{x:.2%}")
    rows += [["error, ΔE00: median; 95th", f"{np.median(errors):.2f}; {np.quantile(errors, 0.95):.2f}", "", ""]]
    rows += [["inside 1 u; 2 u", f"{(shares <= 1).mean():.0%}; {(shares <= 2).mean():.0%}", "", ""]]
    counts = f"{len(sheets)} photos, {sum(s.cards for s in sheets)} cards, {sum(s.swatches for s in sheets)} swatches"
    return f"{counts}\n{aligned(rows, ['figure', 'measured', 'target', ''])}"


def failures(sheets):
    """One line for each photo in which something went wrong."""
    rows = [
        [s.name, s.failure or f"cards {s.found}/{s.cards} +{s.extra}", f"{s.read}/{s.swatches} +{s.false} ~{s.strayed}"]
        for s in sheets
        if s.failure or s.found < s.cards or s.extra or s.read < s.swatches or s.false or s.strayed
    ]
    return aligned(rows) if rows else "nothing went wrong"


def main(arguments=None):
    parser = options("cards", __doc__, seeds=20, start=82000, size=(2400, 1800))
    parser.add_argument("--scans", type=int, default=0, help="how many scans besides")
    parser.add_argument("--jobs", type=int, default=1)
    wanted = parser.parse_args(arguments)
    with scene_folder(wanted.cache) as folder:
        tasks = [(several.several_spec(seed, wanted.size), folder) for seed in seeds_of(wanted)]
        tasks += [(several.scan_spec(wanted.start + k), folder) for k in range(wanted.scans)]
        sheets = list(run_all(measure, tasks, wanted.jobs))
    for name, some in (("on a table", sheets[: wanted.seeds]), ("scans", sheets[wanted.seeds :])):
        if some:
            print(f"{name}: {summary(some)}\n\n{failures(some)}\n")
    return 0


if __name__ == "__main__":
    sys.exit(main())
