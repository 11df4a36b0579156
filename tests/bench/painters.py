"""How far six invented painters can trust what they are told to mix; run as a module.

``python -m tests.bench.painters [--seed 0] [--cards 16] [--targets 24] [--painter 2]``

Each painter has cards of their own, doses by eye or on scales, writes small whole parts, touches or weighed decimals
up to 160 to 1, and mixes with one of two invented sets of pigments: the photo simulator's (`tests.scene.paints`) or
that of `tests.mixing_data`. Neither shares code with the reader. Truth is what they say of the paint, not a reading.
"""

from __future__ import annotations

import argparse
from collections.abc import Callable
from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np

from swatchread.archive.colour_reference import Wanted
from swatchread.colour.cielab import delta_e_2000, value_of_lab
from swatchread.palette.answers import match, nudge, predict
from swatchread.palette.fitted_palette import fit_palette
from swatchread.palette.plan_answer import plan
from swatchread.palette.training_data import Card
from swatchread.recipes.recipe import parse_recipe
from swatchread.recipes.tubes import load_tubes
from tests.archive_data import build_note, swatch_data
from tests.mixing_data import OWN_SD, SHARED_SD, TOUCH, TUBES, draw_recipe, recipe_text, true_lab
from tests.scene.paints import mix, paint_card
from tests.scene.paints import tubes as scene_tubes
from tests.scene.spectra import lab_of

NAMES = {"red earth": "red ochre", "ultramarine": "ultramarine blue", "phthalo green": "phthalocyanine green"}
"""The simulator's names of tubes -> those of the list of tubes."""
LARGEST_RATIO = 160
SWATCHES = 10


@dataclass(frozen=True)
class Painter:
    """Someone who mixes.

    Attributes
    ----------
    pigments : str
        ``"scene"`` or ``"mixing_data"``.
    dosing : float
        Standard deviation of the logarithm of an amount.
    writes : str
        ``"decimals"``, ``"parts"`` or ``"touches"``.
    palette : str
        The simulator's set of tubes.
    """

    pigments: str
    dosing: float
    writes: str
    palette: str = "flesh"


PAINTERS = (
    Painter("scene", 0.03, "decimals"),
    Painter("scene", 0.08, "parts", "six-tubes"),
    Painter("scene", 0.15, "parts", "with-saturated-tubes"),
    Painter("mixing_data", 0.03, "touches"),
    Painter("mixing_data", 0.08, "touches"),
    Painter("mixing_data", 0.15, "touches"),
)


@dataclass(frozen=True)
class Studio:
    """A painter's cards, with what is true of them."""

    painter: Painter
    names: tuple[str, ...]
    colour_of: Callable = field(repr=False)
    notes: list = field(repr=False)
    true: np.ndarray = field(repr=False)

    def amounts(self, parts, rng=None, error=None):
        """Return what goes into a mixture of told parts; exactly as told without a source of chance."""
        told = sum(p for p in parts.values() if p != "touch")
        exact = np.zeros(len(self.names))
        for tube, p in parts.items():
            touch = p == "touch"
            spread = TOUCH[1] if touch else self.painter.dosing if error is None else error
            by = np.exp(spread * rng.standard_normal()) if rng is not None else 1.0
            exact[self.names.index(tube)] += (told * TOUCH[0] if touch else float(p)) * by
        return exact

    def draw(self, rng):
        """Return the parts of another mixture of this painter's."""
        return draw_parts(self.painter, rng, 1)[0]


def scene_lab(amounts):
    """Return CIELAB of the simulator's paints, shape (n, 3)."""
    tubes = list(scene_tubes())
    return np.array([lab_of(mix(dict(zip(tubes, row, strict=True)))) for row in amounts])


def draw_parts(painter, rng, count):
    """Return some mixtures of a painter's, {tube: parts or "touch"}, as they are written down."""
    if painter.pigments == "mixing_data":
        palette = ["titanium white", *rng.choice(TUBES[1:], size=int(rng.integers(3, 6)), replace=False)]
        return [draw_recipe(palette, rng) for _ in range(count)]
    made = [m.recipe for m in paint_card(rng, painter.palette, (max(count, 5), 2), "grey") if m.recipe]
    made = [made[i] for i in rng.permutation(len(made))[:count]]
    return [{NAMES.get(t, t): p for t, p in written(parts, painter.writes).items()} for parts in made]


def written(parts, way):
    """Write weighed amounts down as a painter does: as they are, or in whole parts of the smallest."""
    if way == "decimals":
        return parts
    least = max(min(parts.values()), max(parts.values()) / LARGEST_RATIO)
    return {tube: max(1, round(p / least)) for tube, p in parts.items()}


def open_studio(painter, seed, cards=16):
    """Return a painter's cards: two of single tubes and tints, the others of mixtures."""
    rng = np.random.default_rng((seed, PAINTERS.index(painter)))
    scene = painter.pigments == "scene"
    names = tuple(NAMES.get(t, t) for t in scene_tubes()) if scene else TUBES
    studio = Studio(painter, names, scene_lab if scene else true_lab, [], np.zeros((0, 3)))
    notes, true = [], []
    for number in range(cards):
        drawn = draw_parts(painter, rng, SWATCHES)
        if number in {3, 9}:
            used = dict.fromkeys(t for parts in draw_parts(painter, rng, 60) for t in parts if t != "titanium white")
            half = list(used)[number == 9 :: 2][:6]
            drawn = [r for t in half for r in ({t: 1}, {t: 1, "titanium white": 1}, {t: 1, "titanium white": 5})]
            drawn.append({"titanium white": 1})
        colours = studio.colour_of(np.array([studio.amounts(parts, rng) for parts in drawn]))
        true.append(colours)
        notes.append(note_of(drawn, colours, rng, number + 1000 * seed))
    return Studio(painter, names, studio.colour_of, notes, np.concatenate(true))


def note_of(drawn, colours, rng, seed):
    """Return the note of a card: its colours as a photo of one light would show them."""
    read = colours + SHARED_SD * rng.standard_normal(3) + OWN_SD * rng.standard_normal(colours.shape)
    sd = np.hypot(OWN_SD, SHARED_SD)
    stated = {"L": sd[0], "a": sd[1], "b": sd[2], "de00": 1.0, "own_de00": 0.65}
    swatches = [
        swatch_data(1 + i // 2, 1 + i % 2, lab, recipe=recipe_text(parts), uncertainty=stated)
        for i, (lab, parts) in enumerate(zip(read, drawn, strict=True))
    ]
    return build_note(swatches, seed=seed, info={"title": f"invented card {seed}", "medium": "oil"})


def parts_of(recipe, vocabulary):
    """Return a recipe's words as {tube: parts or "touch"}."""
    return {
        i.name: i.parts if i.parts == "touch" else float(i.parts) for i in parse_recipe(recipe, vocabulary).ingredients
    }


def reachable(studio, rng):
    """Return a mixture that the painter could make, and its true colour."""
    parts = studio.draw(rng)
    amounts = studio.amounts(parts, rng)
    return parts, amounts, studio.colour_of(amounts[None])[0]


def matched(studio, palette, rng, count):
    """Return for each of some colours the true error of the recipe named first, and that of the nearest record."""
    rows = []
    place = {name: i for i, name in enumerate(palette.collected.samples.names)}
    for _ in range(count):
        *_, target = reachable(studio, rng)
        found = match(target, palette)
        first = parts_of(found.recipes[0].recipe, palette.vocabulary)
        made = studio.colour_of(studio.amounts(first)[None])[0]
        nearest = studio.true[place[found.nearest[0].swatch]]
        again = studio.colour_of(studio.amounts(parts_of(found.nearest[0].recipe, palette.vocabulary))[None])[0]
        errors = delta_e_2000(np.array([made, nearest, again]), target)
        rows.append((*errors, found.recipes[0].expected_de00))
    return np.array(rows)


def misjudged(studio, rng):
    """Return a mixture with one paint misjudged by half to double, and the colour it should have had."""
    while True:
        parts = studio.draw(rng)
        meant, mixed = studio.amounts(parts), studio.amounts(parts, rng)
        mixed[rng.choice(np.flatnonzero(meant))] *= rng.choice([0.4, 0.5, 0.6, 1.6, 2.0, 2.5])
        start, target = studio.colour_of(np.array([mixed, meant]))
        if delta_e_2000(start, target) > 3.0:
            return mixed / mixed.sum(), start, target


def another(studio, rng):
    """Return a mixture, and a colour near it that comes from other paints altogether."""
    while True:
        (_, mixed, start), (*_, target) = reachable(studio, rng), reachable(studio, rng)
        if 3.0 < delta_e_2000(start, target) < 14.0:
            return mixed / mixed.sum(), start, target


def nudged(studio, palette, rng, count, draw):
    """Return CIEDE2000 before and after each announced addition, and what the answer says of mixing afresh."""
    rows = []
    for _ in range(count):
        mixed, start, target = draw(studio, rng)
        read = Wanted("now", start + OWN_SD * rng.standard_normal(3), 0.6)
        told = nudge(read, target, palette)
        left = [float(delta_e_2000(start, target))]
        for a in told.additions:
            touch = a.parts == "dot"
            by = np.exp((TOUCH[1] if touch else studio.painter.dosing) * rng.standard_normal())
            mixed[studio.names.index(a.tube)] += by * (TOUCH[0] if touch else a.parts / a.of_mixture)
            left.append(float(delta_e_2000(studio.colour_of(mixed[None])[0], target)))
        inside = None
        if told.additions:
            off = delta_e_2000(studio.colour_of(mixed[None])[0], np.array(told.additions[-1].colour.lab))
            inside = bool(off <= told.uncertainty_de00)
        rows.append((left, "afresh" in told.words, inside))
    return rows


def predicted(studio, palette, rng, count):
    """Return true error and stated uncertainty of mixtures on cards that nobody has seen."""
    rows = []
    for _ in range(count):
        parts, _, colour = reachable(studio, rng)
        told = predict(recipe_text(parts), palette).colour
        if told is not None:
            exact = studio.colour_of(studio.amounts(parts)[None])[0]
            rows.append((*delta_e_2000(np.array([colour, exact]), np.array(told.lab)), told.uncertainty.de00))
    return np.array(rows)


def planned(studio, palette, vocabulary):
    """Return departures from the even step: as read or predicted, and in truth; and the range of hue in a run."""
    place = {name: i for i, name in enumerate(palette.collected.samples.names)}
    told, true = [], []
    for steps in (5, 6, 8):
        made = plan(palette, steps=steps)
        for one, other in pairwise(made.steps):
            if one.run is None or other.run is None:
                told.append(np.nan)
                continue
            labs = [
                studio.true[place[o.name]]
                if o.kind == "recorded"
                else studio.colour_of(studio.amounts(parts_of(o.recipe, vocabulary))[None])[0]
                for o in (one.run, other.run)
            ]
            told.append(other.run.value - one.run.value - made.spacing)
            true.append(float(np.diff(value_of_lab(np.array(labs)))[0]) - made.spacing)
    return np.array(told), np.array(true)


def figures(painter, seed, options):
    """Return everything of one painter, as arrays to be put together."""
    studio = open_studio(painter, seed, options.cards)
    vocabulary = load_tubes()
    palette = fit_palette([Card(f"card {i}", n) for i, n in enumerate(studio.notes)], vocabulary)
    rng = np.random.default_rng((90_000 + seed, PAINTERS.index(painter)))
    even, true = planned(studio, palette, vocabulary)
    return {
        "match": matched(studio, palette, rng, options.targets),
        "misjudged": nudged(studio, palette, rng, options.targets, misjudged),
        "another": nudged(studio, palette, rng, options.targets, another),
        "predict": predicted(studio, palette, rng, 2 * options.targets),
        "even": even,
        "truly even": true,
        "held": np.array([[palette.held.median, palette.held.nearest_de00, palette.held.scale]]),
    }


def told(found):
    """Print the figures of one painter, or of all."""
    made, nearest, again, _ = found["match"].T
    worse = int(np.sum(made > nearest + 0.005))
    print(
        f"  match: median {np.median(made):.2f}, nine in ten {np.quantile(made, 0.9):.2f}; nearest record "
        f"{np.median(nearest):.2f} (made again {np.median(again):.2f}); worse in {worse} of {len(made)}, "
        f"by {np.max(made - nearest):.2f}; than made again in {int(np.sum(made > again + 0.005))}"
    )
    for kind in ("misjudged", "another"):
        rows = found[kind]
        steps = [(a, b) for left, *_ in rows for a, b in pairwise(left)]
        closer = np.mean([b < a for a, b in steps]) if steps else np.nan
        first = [left[1] < left[0] for left, *_ in rows if len(left) > 1]
        ends = np.array([(left[0], left[-1]) for left, *_ in rows])
        print(
            f"  nudge, {kind}: closer after {100 * closer:.1f} % of {len(steps)} additions, after the first "
            f"{100 * np.mean(first):.1f} %; {np.median(ends[:, 0]):.1f} -> {np.median(ends[:, 1]):.1f}; none "
            f"{sum(len(left) == 1 for left, *_ in rows)}, afresh said {sum(said for _, said, _ in rows)} of {len(rows)}"
        )
    colour, exact, u = found["predict"].T
    print(
        f"  predict: inside 1u {100 * np.mean(colour <= u):.0f} % (as told {100 * np.mean(exact <= u):.0f} %), "
        f"error {np.median(colour):.2f} (as told {np.median(exact):.2f}), u {np.median(u):.2f}"
    )
    for kind in ("even", "truly even"):
        off = np.abs(found[kind])
        inside, far = 100 * np.mean(off <= 0.2), np.nanquantile(off, 0.9)
        print(f"  plan, {kind}: {inside:.1f} % of {len(off)} intervals within 0.2, nine in ten {far:.2f}")
    print("  held out, nearest, scale:", np.round(found["held"].mean(axis=0), 2))


def main():
    """Run the bench and print its table."""
    parser = argparse.ArgumentParser(description="Bench of six invented painters.")
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--cards", type=int, default=16)
    parser.add_argument("--targets", type=int, default=24)
    parser.add_argument("--painter", type=int, action="append", default=None)
    options = parser.parse_args()
    every = []
    for number in options.painter or range(len(PAINTERS)):
        every.append(figures(PAINTERS[number], options.seed, options))
        print(PAINTERS[number], flush=True)
        told(every[-1])
    print("all")
    together = {
        name: [row for of_one in every for row in of_one[name]]
        if isinstance(every[0][name], list)
        else np.concatenate([of_one[name] for of_one in every])
        for name in every[0]
    }
    told(together)


if __name__ == "__main__":
    main()
