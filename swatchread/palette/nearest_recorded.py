"""The nearest recorded mixtures: an answer that is always possible, with a model or without."""

from __future__ import annotations

from fractions import Fraction

import numpy as np

from swatchread.colour.cielab import Floats, delta_e_2000
from swatchread.palette.answer_records import NearestByColour, NearestByRecipe, colour_of
from swatchread.palette.fitted_palette import recipe_distance
from swatchread.palette.mixture_model import Mask, MixModel
from swatchread.palette.recipe_search import Proposal
from swatchread.palette.training_data import Collected
from swatchread.recipes.amounts import Amount
from swatchread.recipes.recipe import Ingredient, Recipe

_AGAIN = 5
"""Recorded recipes that are considered anew."""
_FINEST = 1000
"""Denominator of the finest part that a recipe holds."""
_NOTHING_SHARED = 2.0 - 1e-9
"""Difference of shares of two mixtures that have no tube in common, less what rounding may take off."""


def nearest_by_colour(
    collected: Collected, target: Floats, *, count: int = 5, tubes: tuple[str, ...] | None = None
) -> tuple[NearestByColour, ...]:
    """Return the recorded mixtures of the smallest CIEDE2000 from a colour.

    Parameters
    ----------
    collected : Collected
    target : ndarray, shape (3,)
        CIELAB, D50, 2 degree.
    count : int
    tubes : tuple of str, optional
        Only mixtures of these tubes.
    """
    samples = collected.samples
    excluded = [i for i, name in enumerate(samples.tubes) if tubes is not None and name not in tubes]
    allowed: Mask = np.logical_not(samples.used[:, excluded].any(axis=1))
    distance = delta_e_2000(samples.lab, target)
    return tuple(
        NearestByColour(samples.names[i], collected.recipes[i], colour_of(samples.lab[i]), float(distance[i]))
        for i in _smallest(distance, allowed, count)
    )


def recorded_proposals(
    model: MixModel, collected: Collected, target: Floats, tubes: tuple[str, ...], *, most_tubes: int
) -> list[Proposal]:
    """Return what recorded recipes are predicted to give when they are mixed again, the nearest to a colour first.

    Parameters
    ----------
    model : MixModel
    collected : Collected
    target : ndarray, shape (3,)
        CIELAB, D50, 2 degree.
    tubes : tuple of str
        Only recipes of these tubes.
    most_tubes : int
    """
    samples = collected.samples
    excluded = [i for i, name in enumerate(samples.tubes) if name not in tubes]
    fits = ~samples.used[:, excluded].any(axis=1) & (samples.used.sum(axis=1) <= most_tubes)
    amounts = samples.with_touch(model.paints.touch)
    off = delta_e_2000(model.paints.lab(amounts), target)
    near = np.array(_smallest(off, fits, _AGAIN), dtype=np.intp)
    predicted = model.predict(amounts[near], samples.touches[near])
    return [
        Proposal(recorded_recipe(collected, i), lab, float(off[i]), float(de00), samples.names[i])
        for i, lab, de00 in zip(near.tolist(), predicted.lab, predicted.de00, strict=True)
    ]


def nearest_by_recipe(collected: Collected, share: Floats, *, count: int = 5) -> tuple[NearestByRecipe, ...]:
    """Return the recorded mixtures whose shares differ least; `share` has shape (t,)."""
    samples = collected.samples
    distance = recipe_distance(samples, share)
    return tuple(
        NearestByRecipe(samples.names[i], collected.recipes[i], colour_of(samples.lab[i]), float(distance[i]))
        for i in _smallest(distance, distance < _NOTHING_SHARED, count)
    )


def recorded_recipe(collected: Collected, row: int) -> Recipe:
    """Return a recorded recipe in the painter's own parts, in the order in which it is written."""
    samples = collected.samples
    amounts = samples.amounts[row]
    used = [i for tube in collected.written_order[row] if samples.used[row, i := samples.tubes.index(tube)]]
    parts = [Fraction(float(amounts[i])).limit_denominator(_FINEST) if amounts[i] else Amount.TOUCH for i in used]
    return Recipe(tuple(Ingredient(samples.tubes[i], samples.tubes[i], p) for i, p in zip(used, parts, strict=True)))


def _smallest(distance: Floats, allowed: Mask, count: int) -> list[int]:
    """Return the indices of the smallest distances that are allowed, in their order."""
    return [int(i) for i in np.argsort(distance, kind="stable") if allowed[i]][:count]
