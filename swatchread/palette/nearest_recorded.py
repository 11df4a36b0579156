"""The nearest recorded mixtures: an answer that is always possible, with a model or without."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from swatchread.colour.cielab import Floats, delta_e_2000
from swatchread.palette.answer_records import NearestByColour, NearestByRecipe, colour_of
from swatchread.palette.fitted_palette import recipe_distance
from swatchread.palette.mixture_model import Mask
from swatchread.palette.training_data import Collected

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


def nearest_by_recipe(collected: Collected, share: Floats, *, count: int = 5) -> tuple[NearestByRecipe, ...]:
    """Return the recorded mixtures whose shares differ least; `share` has shape (t,)."""
    samples = collected.samples
    distance = recipe_distance(samples, share)
    return tuple(
        NearestByRecipe(samples.names[i], collected.recipes[i], colour_of(samples.lab[i]), float(distance[i]))
        for i in _smallest(distance, distance < _NOTHING_SHARED, count)
    )


def _smallest(distance: Floats, allowed: Mask, count: int) -> Iterable[int]:
    """Return the indices of the smallest distances that are allowed, in their order."""
    return [int(i) for i in np.argsort(distance, kind="stable") if allowed[i]][:count]
