"""How well mixtures are predicted, matched and corrected on invented archives; run as a module.

``python -m tests.bench.mixing [--seeds 3] [--cards 40] [--targets 60] [--crowding 0.0]``

The archives come from `tests.mixing_data`: two-constant mixing at 5 nm with other pigments, another surface, recipe
errors of 15 % and readings off by about 1 CIEDE2000, in part shared by each card. `--crowding 0.25` adds what the
fitted theory knows nothing of: a pigment that scatters less where it is dense.
"""

from __future__ import annotations

import argparse
import time
from dataclasses import replace

import numpy as np
from scipy.optimize import nnls

from swatchread.colour.cielab import delta_e_2000, lab_to_xyz, xyz_to_lab
from swatchread.palette.fitted_palette import fit_palette, leave_cards_out
from swatchread.palette.kubelka_munk import ratio_of_reflectance, reflectance_of_ratio
from swatchread.palette.mixture_fit import fit
from swatchread.palette.nudge import find_nudge
from swatchread.palette.pigment_prior import TOUCH_SHARE, believe
from swatchread.palette.recipe_amounts import as_mixture
from swatchread.palette.recipe_search import search_recipes
from swatchread.palette.training_data import Card
from swatchread.recipes.tubes import load_tubes
from tests.mixing_data import RECIPE_ERROR, TOUCH, TUBES, draw_recipe, exact_amounts, invented_world, true_lab

NEAR, FAR = 3.0, 14.0


def open_world(world):
    """Return the palette of an invented archive."""
    return fit_palette([Card(f"card {i}", n) for i, n in enumerate(world.notes)], load_tubes())


def order_of(palette):
    """Return where the palette's tubes stand in `TUBES`."""
    return [TUBES.index(name) for name in palette.collected.samples.tubes]


def single_constant_by_channel(samples):
    """Mix K/S of the three tristimulus values by share, fitted to the other cards: the best of the simple guesses.

    The nearest recorded mixture and tristimulus values mixed by share were always worse.
    """
    share, white = samples.with_touch(TOUCH_SHARE), lab_to_xyz(np.array([100.0, 0.0, 0.0]))
    ratio = ratio_of_reflectance(np.clip(lab_to_xyz(samples.lab) / white, 1e-3, 1.0))
    lab = np.empty_like(samples.lab)
    for card in np.unique(samples.card):
        out = samples.card == card
        own = [nnls(share[~out] / known[:, None], np.ones(len(known)))[0] for known in ratio[~out].T]
        lab[out] = xyz_to_lab(reflectance_of_ratio(share[out] @ np.transpose(own)) * white)
    return lab


def single_constant_spectral(samples):
    """Fit K spectra exactly as the model does, but with one scattering for all tubes."""
    belief = believe(samples.kinds or samples.tubes)
    single = replace(
        belief,
        log_scattering=np.zeros_like(belief.log_scattering),
        shapes=replace(belief.shapes, scattering=1e-6 * belief.shapes.scattering),
    )
    return leave_cards_out(fit(samples, single)).lab


def left_out(palette, world, crowding):
    """Return errors on cards left out: against what was read, and against what the told recipe truly gives.

    What was read holds the dosing errors of the very swatch and the noise of its reading, which nothing can foresee.
    """
    samples, held = palette.collected.samples, palette.held
    told = np.zeros((len(samples), len(TUBES)))
    told[:, order_of(palette)] = samples.with_touch(TOUCH[0])
    truth = true_lab(told, crowding)
    guesses = (single_constant_by_channel, single_constant_spectral)
    predicted = {"model": held.lab} | {guess.__name__: guess(samples) for guess in guesses}
    found = {}
    for name, lab in predicted.items():
        found[name] = float(np.median(delta_e_2000(lab, samples.lab)))
        found[f"{name}, of the truth"] = float(np.median(delta_e_2000(lab, truth)))
    found["no better is possible"] = float(np.median(delta_e_2000(truth, samples.lab)))
    found["model, nine tenths"] = float(np.quantile(held.de00, 0.9))
    for of in ("", ", of the truth"):
        found[f"best simple guess / model{of}"] = found["single_constant_by_channel" + of] / found["model" + of]
    exact = np.concatenate(world.exact)
    off = delta_e_2000(palette.model.paints.lab(exact[:, order_of(palette)]), true_lab(exact, crowding))
    found["model, exact amounts, true colour"] = float(np.median(off))
    found["covered by 1 stated sigma"] = float(np.mean(held.de00 <= held.scale * held.stated))
    return found


def matches(palette, rng, count, crowding):
    """Return the true error of the first recipe for each of some reachable colours, and the seconds each took."""
    error, seconds = [], []
    for _ in range(count):
        target = true_lab(exact_amounts(draw_recipe(list(TUBES), rng), rng)[None], crowding)[0]
        start = time.perf_counter()
        best = search_recipes(palette.model, target, palette.usable)[0]
        seconds.append(time.perf_counter() - start)
        amounts = np.zeros((1, len(TUBES)))
        amounts[:, order_of(palette)] = as_mixture(best.recipe, palette).amounts
        error.append(float(delta_e_2000(true_lab(amounts, crowding)[0], target)))
    return np.array(error), np.array(seconds)


def misjudged(rng, crowding):
    """Return a mixture with one paint misjudged by half to double, and the colour it should have had."""
    while True:
        meant = exact_amounts(draw_recipe(list(TUBES), rng), rng, 0.0)
        mixed = meant * np.exp(RECIPE_ERROR * rng.standard_normal(len(TUBES)))
        mixed[rng.choice(np.flatnonzero(meant))] *= rng.choice([0.4, 0.5, 0.6, 1.6, 2.0, 2.5])
        colours = true_lab(np.array([mixed, meant]), crowding)
        if delta_e_2000(colours[0], colours[1]) > NEAR:
            return mixed / mixed.sum(), colours[0], colours[1]


def another(rng, crowding):
    """Return a mixture, and a colour near it that comes from other paints altogether."""
    while True:
        pair = [exact_amounts(draw_recipe(list(TUBES), rng), rng) for _ in range(2)]
        colours = true_lab(np.array(pair), crowding)
        if NEAR < delta_e_2000(colours[0], colours[1]) < FAR:
            return pair[0] / pair[0].sum(), colours[0], colours[1]


def dosed(addition, rng):
    """Return how much of a tube a painter truly puts in who is told to add so much."""
    by_parts, by_touch = np.exp(RECIPE_ERROR * rng.standard_normal()), np.exp(TOUCH[1] * rng.standard_normal())
    return TOUCH[0] * by_touch if addition.parts == "dot" else addition.parts / addition.of_mixture * by_parts


def nudges(palette, rng, count, crowding, draw):
    """Return CIEDE2000 before, after the first addition and after all, painters' dosing errors included."""
    rows = []
    for _ in range(count):
        mixture, start, target = draw(rng, crowding)
        read = start + 0.5 * rng.standard_normal(3)
        found = find_nudge(palette, read, target, palette.usable)
        left = [float(delta_e_2000(start, target))]
        for addition in found.additions:
            mixture = mixture.copy()
            mixture[TUBES.index(addition.tube)] += dosed(addition, rng)
            left.append(float(delta_e_2000(true_lab(mixture[None], crowding)[0], target)))
        rows.append((left[0], left[min(1, len(left) - 1)], left[-1]))
    return np.array(rows)


def run(seed, options):
    """Return all figures of one invented archive."""
    world = invented_world(options.cards, seed=seed, crowding=options.crowding)
    start = time.perf_counter()
    palette = open_world(world)
    figures = {"seconds to open": time.perf_counter() - start} | left_out(palette, world, options.crowding)
    rng = np.random.default_rng(10_000 + seed)
    error, seconds = matches(palette, rng, options.targets, options.crowding)
    figures["match: median"] = float(np.median(error))
    figures["match: within 4"] = float(np.mean(error <= 4.0))
    figures["match: longest, s"] = float(seconds.max())
    for name, draw in (("one paint misjudged", misjudged), ("another mixture", another)):
        rows = nudges(palette, rng, options.targets, options.crowding, draw)
        figures[f"nudge, {name}: halved by the first addition"] = float(np.mean(rows[:, 1] <= rows[:, 0] / 2))
        figures[f"nudge, {name}: halved by both"] = float(np.mean(rows[:, 2] <= rows[:, 0] / 2))
    return figures


def main():
    """Run the bench and print its table."""
    parser = argparse.ArgumentParser(description="Bench of mixing on invented archives.")
    parser.add_argument("--seeds", type=int, default=3)
    parser.add_argument("--cards", type=int, default=40)
    parser.add_argument("--targets", type=int, default=60)
    parser.add_argument("--crowding", type=float, default=0.0)
    options = parser.parse_args()
    every = [run(seed, options) for seed in range(options.seeds)]
    for name in every[0]:
        values = [figures[name] for figures in every]
        print(f"{name:52s} mean {np.mean(values):6.2f}   from {min(values):6.2f} to {max(values):6.2f}")


if __name__ == "__main__":
    main()
