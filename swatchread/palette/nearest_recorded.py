"""The nearest recorded mixtures: an answer that is always possible, with a model or without."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from swatchread.colour.cielab import Floats, delta_e_2000
from swatchread.palette.fitted_palette import recipe_distance
from swatchread.palette.mixture_model import Mask
from swatchread.palette.training_data import Collected

_NOTHING_SHARED = 2.0 - 1e-9
"""Difference of shares of two mixtures that have no tube in common, less what rounding may take off."""


@dataclass(frozen=True, eq=False)
class Recorded:
    """A swatch as it was painted.

    Attributes
    ----------
    name : str
    recipe : str
    lab : ndarray, shape (3,)
        As measured.
    distance : float
        CIEDE2000 from the colour wanted, or the difference of the shares (0 the same, 2 nothing in common).
    """

    name: str
    recipe: str
    lab: Floats
    distance: float


def nearest_by_colour(
    collected: Collected, target: Floats, *, count: int = 5, tubes: tuple[str, ...] | None = None
) -> list[Recorded]:
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
    return _first(collected, delta_e_2000(samples.lab, target), allowed, count)


def nearest_by_recipe(collected: Collected, share: Floats, *, count: int = 5) -> list[Recorded]:
    """Return the recorded mixtures whose shares differ least; `share` has shape (t,)."""
    distance = recipe_distance(collected.samples, share)
    return _first(collected, distance, distance < _NOTHING_SHARED, count)


def _first(collected: Collected, distance: Floats, allowed: Mask, count: int) -> list[Recorded]:
    order = [int(i) for i in np.argsort(distance, kind="stable") if allowed[i]][:count]
    samples = collected.samples
    return [Recorded(samples.names[i], collected.recipes[i], samples.lab[i], float(distance[i])) for i in order]
