"""Ordinary faults: `python -m tests.bench.ordinary --kinds shade-on-card,local-tone --seeds 20 --size 2400x1800`.

Each photo is read as it is and again with one ordinary fault. Of the spoiled photos the bench prints which are silently
wrong, refused, or warned of; of the others errors and stated uncertainties by light and colour, and what changed since
an earlier run (`--save`, `--against`).
"""

import json
import sys
from dataclasses import replace
from functools import cache
from pathlib import Path

from tests.scene.faults import KINDS, ordinary_spec, spoiled, spoiled_file, unspoiled

from .measure import read_notes, read_photo
from .ordinary_pair import Pair
from .ordinary_report import (
    changes,
    clean_line,
    clean_table,
    kept,
    lamp_table,
    outcome_table,
    silent_table,
    warning_lines,
)
from .running import options, run_all, scene_folder, seeds_of
from .scenes import drawn


def _read_two_cards(made, path):
    """Read a photo of two cards and hold each note against its card.

    Colours are those of the first card, which the clean photo shows too: what is wrong there is no fault of the second
    card. Rows and columns count on both, as wrong for a card that has no note and of which no warning tells.
    """
    from swatchread.errors import SwatchreadError

    try:
        notes = read_notes(path)
    except SwatchreadError:
        return read_photo(made, path)
    other = replace(made, scene=replace(made.scene, truth=replace(made.truth, swatches=made.truth.second_card)))
    held = [[read_photo(card, path, lambda _, note=note: note) for note in notes] for card in (made, other)]
    best = [max(of_card, key=lambda photo: len(photo.matched)) for of_card in held]
    whole, second = best
    whole.false = sum(len(note.swatches) for note in notes) - sum(photo.found - photo.false for photo in best)
    whole.warnings = tuple({code for photo in best for code in photo.warnings})
    lost = sum(not photo.matched for photo in best) if "second_card" not in whole.warnings else 0
    whole.placed -= lost + len(second.matched) - second.placed
    return whole


def measure_seed(task):
    """Read one ordinary photo and its spoiled versions: the clean record and the pairs."""
    seed, size, kinds, folder = task
    spec = ordinary_spec(seed, size)
    clean_of = cache(lambda clean: read_photo(drawn(clean, folder)))
    pairs = []
    for kind in kinds:
        made = drawn(spoiled(spec, kind), folder)
        path = spoiled_file(made.path, spec, kind)
        read = _read_two_cards if made.truth.second_card else read_photo
        pairs.append(Pair(kind, clean_of(unspoiled(spec, kind)), read(made, path)))
    return clean_of(spec), pairs


def main(arguments=None):
    parser = options("ordinary", __doc__, seeds=20, start=9000, size=(2400, 1800))
    parser.add_argument(
        "--kinds", default=",".join(KINDS), help="faults, comma-separated; empty for clean photos alone"
    )
    parser.add_argument("--jobs", type=int, default=1, choices=[1, 2])
    parser.add_argument("--save", type=Path, metavar="FILE", help="keep the record of the clean photos")
    parser.add_argument("--against", type=Path, metavar="FILE", help="compare the clean photos with a kept record")
    wanted = parser.parse_args(arguments)
    kinds = [kind for kind in wanted.kinds.split(",") if kind]
    if unknown := set(kinds) - set(KINDS):
        parser.error(f"no such fault: {', '.join(sorted(unknown))}; there are {', '.join(KINDS)}")
    with scene_folder(wanted.cache) as folder:
        tasks = [(seed, wanted.size, kinds, folder) for seed in seeds_of(wanted)]
        done = list(run_all(measure_seed, tasks, wanted.jobs))
    photos, pairs = [clean for clean, _ in done], [pair for _, some in done for pair in some]
    print(f"seeds {wanted.start} to {wanted.start + wanted.seeds - 1}, {wanted.size[0]}×{wanted.size[1]}\n")
    parts = [outcome_table(pairs), warning_lines(pairs), silent_table(pairs), lamp_table(pairs)] if pairs else []
    parts += [clean_line(photos), clean_table(photos)]
    if wanted.against:
        parts.append(changes(json.loads(wanted.against.read_text(encoding="utf-8")), kept(photos)))
    print("\n\n".join(part for part in parts if part))
    if wanted.save:
        wanted.save.write_text(json.dumps(kept(photos)) + "\n", encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())
