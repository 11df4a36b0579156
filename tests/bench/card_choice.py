"""Fit of the card's choice: `python -m tests.bench.card_choice --seeds 200 --few 100 --empty 40 --size 2400x1800`.

The finder weighs features of each region into log odds that it is the ground of a card (`swatchread/card/ranking.py`).
Here every region of drawn scenes is looked at as closely as the finder looks at the likeliest one, and the weights are
fitted so that the region that is chosen, by a softmax of the scores, is expected to yield most true swatches and fewest
false ones. To choose none yields nothing and has the score 0. `--few` counts cards of one to three swatches, `--empty`
photos that show a chart and no card. Held-out quarters tell how well the choice does on scenes it was not fitted on.
"""

import pickle
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np

from .finder_ablation import plane_of
from .matching import VISIBLE, match
from .running import options, run_all, scene_folder
from .scenes import KINDS, drawn

#: Rows and columns of cards with few swatches.
FEW = ((1, 1), (1, 2), (2, 1), (1, 3), (3, 1))
#: What a false swatch costs, in true ones; a scene's yield is no less than the lowest.
COST, LOWEST = 2.0, -1.5
#: Weight of the squared weights, of features that are scaled to a deviation of 1.
RIDGE = 0.001
QUARTERS = 4


def specs(wanted):
    """Yield the specs of all scenes."""
    finding = KINDS["finding"]
    for k in range(wanted.seeds):
        yield finding(wanted.start + k, wanted.size)
    for k in range(wanted.few):
        rows, columns = FEW[k % len(FEW)]
        spec = finding(wanted.start + 10_000 + k, wanted.size)
        yield replace(spec, rows=rows, columns=columns, missing=0, two_blocks=False)
    for k in range(wanted.empty):
        yield replace(finding(wanted.start + 20_000 + k, wanted.size), card_present=False)


def looked_at(task):
    """Return what each region of a scene looks like and yields: (features, true found, false found), and the truth."""
    from swatchread.card.card_detection import look_closely
    from swatchread.card.ranking import judged_regions
    from swatchread.plane.lab_image import edge_levels, lab_image_of

    spec, folder = task
    made = drawn(spec, folder)
    plane = plane_of(made)
    if plane is None:
        return None
    full = lab_image_of(plane)
    image = full.halved()
    levels = edge_levels(image)
    known = judged_regions(image, levels, plane.resolution / 2.0)
    rows = []
    for candidate in known:
        found = look_closely(candidate, known, plane, image, full)
        true = false = 0
        if found is not None:
            centres = found.plane.photo_points(np.array([cell.blob.centre for cell in found.grid.cells]))
            pairs = match(list(centres), made.truth.swatches) if spec.card_present else []
            true = sum(made.truth.swatches[j].contrast >= VISIBLE for _, j in pairs)
            false = len(centres) - len(pairs)
        rows.append((candidate.features, true, false))
    there = sum(s.contrast >= VISIBLE for s in made.truth.swatches) if spec.card_present else 0
    return there, rows


class Choice:
    """The regions of one scene and their yields; the last row stands for choosing none."""

    def __init__(self, there, rows):
        self.there = there
        self.features = np.array([[*features, 1.0] for features, _, _ in rows] + [[0.0] * (len(rows[0][0]) + 1)])
        self.found = np.array([[true, false] for _, true, false in rows] + [[0, 0]], float)
        raw = (self.found[:, 0] - COST * self.found[:, 1]) / max(there, 1)
        self.value = np.clip(raw, LOWEST, 1.0)


def fitted(choices, scale):
    """Return the weights, the bias last, that maximise the expected yield."""
    from scipy.optimize import minimize

    def loss(weights):
        total, slope = 0.0, np.zeros_like(weights)
        for one in choices:
            x = one.features / scale
            odds = x @ weights
            share = np.exp(odds - odds.max())
            share /= share.sum()
            mean = share @ one.value
            total -= mean
            slope -= x.T @ (share * (one.value - mean))
        return (
            total / len(choices) + RIDGE / 2 * float(weights @ weights),
            slope / len(choices) + RIDGE * weights,
        )

    begun = [minimize(loss, np.random.default_rng(k).normal(0, 0.3, len(scale)), jac=True) for k in range(4)]
    return min(begun, key=lambda result: result.fun).x / scale


def yields(choices, weights):
    """Return true swatches there, found, false ones, and how many empty photos were read."""
    picked = [one.found[int(np.argmax(one.features @ weights))] for one in choices]
    found, false = np.sum(picked, axis=0)
    empty = sum(pick.any() for one, pick in zip(choices, picked, strict=True) if not one.there)
    return sum(one.there for one in choices), found, false, empty


def main(arguments=None):
    parser = options("card_choice", __doc__, seeds=100, start=940_000, size=(2400, 1800))
    parser.add_argument("--few", type=int, default=50, help="how many cards of one to three swatches")
    parser.add_argument("--empty", type=int, default=20, help="how many photos without a card")
    parser.add_argument("--jobs", type=int, default=1)
    parser.add_argument("--keep", type=Path, metavar="FILE", help="keep what was looked at in this file")
    wanted = parser.parse_args(arguments)
    with scene_folder(wanted.cache) as folder:
        seen = [one for one in run_all(looked_at, [(spec, folder) for spec in specs(wanted)], wanted.jobs) if one]
    if wanted.keep:
        wanted.keep.write_bytes(pickle.dumps(seen))
    report([Choice(there, rows) for there, rows in seen if rows])
    return 0


def report(choices):
    """Print the weights, what they yield on scenes they were and were not fitted on, and what the finder's yield."""
    from swatchread.plane.finder_settings import settings

    scale = np.concatenate([one.features for one in choices]).std(axis=0) + 1e-3
    scale[-1] = 1.0
    total = np.zeros(4)
    for k in range(QUARTERS):
        rest = [one for j, one in enumerate(choices) if j % QUARTERS != k]
        total += yields(choices[k::QUARTERS], fitted(rest, scale))
    weights = fitted(choices, scale)
    print("weights", np.round(weights[:-1], 2).tolist(), "bias", round(float(weights[-1]), 2))
    known = settings()
    ours = np.array([*known.card_weights, known.card_bias - known.least_score])
    told = {"held out": total, "fitted": yields(choices, weights), "the finder's own": yields(choices, ours)}
    for name, (there, found, false, empty) in told.items():
        print(f"{name}: {found / there:.2%} of {there:.0f} swatches, {false:.0f} false, {empty:.0f} empty photos read")


if __name__ == "__main__":
    sys.exit(main())
