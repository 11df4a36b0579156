"""The nearest recorded mixtures: what can always be said, with or without a model."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from swatchread.colour.cielab import Floats, delta_e_2000
from swatchread.palette.fitted_palette import recipe_distance
from swatchread.palette.mixture_model import Mask
from swatchread.palette.training_swatches import Collected


@dataclass(frozen=True, eq=False)
class Recorded:
    """A swatch as it was painted.

    Attributes
    ----------
    name : str
    recipe : str
    lab : ndarray, shape (3,)
        As measured.
    far : float
        From what was asked: CIEDE2000, or the difference of the shares (0 the same, 2 nothing in common).
    """

    name: str
    recipe: str
    lab: Floats
    far: float


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
    return _first(collected, delta_e_2000(collected.samples.lab, target), _of_tubes(collected, tubes), count)


def nearest_by_recipe(collected: Collected, share: Floats, *, count: int = 5) -> list[Recorded]:
    """Return the recorded mixtures whose shares are nearest; `share` has shape (t,)."""
    far = recipe_distance(collected.samples, share)
    return _first(collected, far, far < 2.0 - 1e-9, count)


def _of_tubes(collected: Collected, tubes: tuple[str, ...] | None) -> Mask:
    samples = collected.samples
    if tubes is None:
        return np.ones(len(samples), dtype=bool)
    others = [i for i, name in enumerate(samples.tubes) if name not in tubes]
    used = (samples.amounts > 0) | samples.touches
    return np.asarray(~used[:, others].any(axis=1))


def _first(collected: Collected, far: Floats, allowed: Mask, count: int) -> list[Recorded]:
    order = [int(i) for i in np.argsort(far, kind="stable") if allowed[i]][:count]
    samples = collected.samples
    return [Recorded(samples.names[i], collected.recipes[i], samples.lab[i], float(far[i])) for i in order]
