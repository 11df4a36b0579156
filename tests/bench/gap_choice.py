"""Fit of what fills a grid's gaps: `python -m tests.bench.gap_choice --seeds 200 --size 2400x1800`.

The finder weighs what it sees in an empty place of a grid into log odds that it is a swatch
(`swatchread/grid/gap_filling.py`). Here the finder looks into every empty place that it meets on drawn scenes, and the
weights are fitted by a logistic regression. Held-out quarters tell how well they do on scenes they were not fitted on.
The last weight is that of lying beyond the grid's ends, where swatches are rare. The finder does without it, for there
a whole line has to speak for itself.
"""

import sys
from unittest import mock

import numpy as np

from .finder_ablation import plane_of
from .matching import VISIBLE, match
from .running import options, run_all, scene_folder
from .scenes import KINDS, drawn

#: Grids that show fewer true swatches are not a card's.
LEAST_SWATCHES = 3
#: Weight of the squared weights, of features that are scaled to a deviation of 1.
RIDGE = 0.001
QUARTERS = 4


def looked_at(task):
    """Return the features of what lies in the gaps of one scene, whether it is a swatch, and whether it was taken."""
    from swatchread.card import card_detection
    from swatchread.errors import SwatchreadError
    from swatchread.grid.gap_filling import fill_missing_cells, gaps_of
    from swatchread.grid.grid_gaps import SKIPPED

    seed, size, folder = task
    made = drawn(KINDS["finding"](seed, size), folder)
    plane, rows = plane_of(made), []
    if plane is None:
        return rows

    def watched(surface, image, grid):
        found = fill_missing_cells(surface, image, grid)
        scale = plane.outside.shape[1] / image.shape[1]
        places = [[cell.blob.centre for cell in grid.cells], [gap.centre for gap in gaps_of(surface, image, grid)]]
        known, empty = (truth_at(plane, np.reshape(centres, (-1, 2)), scale, made.truth.swatches) for centres in places)
        taken = set(known.values())
        for number, gap in enumerate(gaps_of(surface, image, grid) if len(taken) >= LEAST_SWATCHES else ()):
            own = empty.get(number)
            if gap.blob is not None and own not in taken and (own is None or visible(made.truth.swatches[own])):
                beyond = 0 < gap.beyond < SKIPPED
                was_taken = any(gap.blob.corner == blob.corner for blob in found)
                rows.append(([*gap.features, beyond], own is not None, was_taken))
        return found

    with mock.patch.object(card_detection, "fill_missing_cells", watched):
        try:
            card_detection.find_card(plane)
        except SwatchreadError:
            return []
    return rows


def visible(swatch):
    return swatch.contrast >= VISIBLE


def truth_at(plane, centres, scale, swatches):
    """Return number of a place in an image of the plane -> number of the true swatch there."""
    return (
        dict(match(list(plane.photo_points(centres * scale + (scale - 1.0) / 2.0)), swatches)) if len(centres) else {}
    )


def fitted(features, swatch):
    """Return the weights, the bias last."""
    from scipy.optimize import minimize

    scale = features.std(axis=0) + 1e-3
    design = np.c_[features / scale, np.ones(len(features))]
    held = RIDGE * np.r_[np.ones(features.shape[1]), 0.0]

    def loss(weights):
        odds = design @ weights
        slope = design.T @ (1.0 / (1.0 + np.exp(-odds)) - swatch) / len(odds) + held * weights
        return (np.logaddexp(0.0, odds) - swatch * odds).mean() + 0.5 * float(held @ weights**2), slope

    return minimize(loss, np.zeros(design.shape[1]), jac=True).x / np.r_[scale, 1.0]


def main(arguments=None):
    parser = options("gap_choice", __doc__, seeds=100, start=940_000, size=(2400, 1800))
    parser.add_argument("--jobs", type=int, default=1)
    wanted = parser.parse_args(arguments)
    with scene_folder(wanted.cache) as folder:
        tasks = [(wanted.start + k, wanted.size, folder) for k in range(wanted.seeds)]
        scenes = [rows for rows in run_all(looked_at, tasks, wanted.jobs) if rows]
    report(scenes)
    return 0


def report(scenes):
    """Print the weights, and what is lost and falsely taken by them, on scenes held out, and by the finder's own."""
    features, swatch, taken = (np.array([row[k] for rows in scenes for row in rows], float) for k in range(3))
    quarter = np.repeat(np.arange(len(scenes)) % QUARTERS, [len(rows) for rows in scenes])
    odds = np.zeros(len(swatch))
    for k in range(QUARTERS):
        weights = fitted(features[quarter != k], swatch[quarter != k])
        odds[quarter == k] = features[quarter == k] @ weights[:-1] + weights[-1]
    weights = fitted(features, swatch)
    print("weights", np.round(weights[:-1], 2).tolist(), "bias", round(float(weights[-1]), 2))
    for name, those in (("held out", odds > 0.0), ("the finder, by its own and with its rule of lines", taken > 0.0)):
        lost, false = int((swatch * ~those).sum()), int(((1.0 - swatch) * those).sum())
        print(f"{name}: {lost} of {swatch.sum():.0f} swatches lost, {false} of {(1.0 - swatch).sum():.0f} others taken")


if __name__ == "__main__":
    sys.exit(main())
