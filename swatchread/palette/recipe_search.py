"""From a colour to recipes: small whole parts of few tubes.

Every subset of up to three tubes is tried at coarse proportions; the best subsets, and these with one tube more, are
tried at every small whole proportion. So the search is exhaustive where it matters and does not depend on a start.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from functools import cache
from itertools import combinations, product
from math import gcd

import numpy as np
import numpy.typing as npt

from swatchread.colour.cielab import Floats, delta_e_2000
from swatchread.palette.mixture_model import MixModel
from swatchread.recipes.amounts import Amount
from swatchread.recipes.recipe import Ingredient, Recipe

MOST_TUBES = 4
_COARSE = (0, 1, 2, 4, 8)
_FINE = tuple(range(9))
_FINE_FOUR = (0, 1, 2, 3, 4, 6)
_SUBSETS_REFINED = 24
_SUBSETS_EXTENDED = 8
_TOUCH = 0
"""Stands for a touch in a row of parts: every tube of a subset is in the mixture."""
_TUBE_WORTH = 0.25
"""CIEDE2000; a further tube must bring at least so much."""
_PART_WORTH = 0.02
_JUDGED = 400


@dataclass(frozen=True, eq=False)
class Proposal:
    """A recipe for a colour.

    Attributes
    ----------
    recipe : Recipe
    lab : ndarray, shape (3,)
        What it is predicted to be.
    de00 : float
        CIEDE2000 of that from the colour asked for.
    uncertainty_de00 : float
        One-sigma CIEDE2000 of the prediction, the painter's dosing included.
    expected_de00 : float
        Both together (root of the sum of squares).
    """

    recipe: Recipe
    lab: Floats
    de00: float
    uncertainty_de00: float

    @property
    def expected_de00(self) -> float:
        """Return the difference to be expected on the palette."""
        return float(np.hypot(self.de00, self.uncertainty_de00))


@dataclass(frozen=True, eq=False)
class _Pool:
    """Candidate mixtures of the model's tubes; `subset` says which tubes belong together."""

    amounts: Floats
    parts: Floats
    subset: npt.NDArray[np.intp]

    def take(self, which: npt.NDArray[np.intp]) -> _Pool:
        return _Pool(self.amounts[which], self.parts[which], self.subset[which])


def match(
    model: MixModel, target: Floats, tubes: tuple[str, ...], *, count: int = 5, most_tubes: int = MOST_TUBES
) -> list[Proposal]:
    """Find recipes for a colour.

    Parameters
    ----------
    model : MixModel
    target : ndarray, shape (3,)
        CIELAB, D50, 2 degree.
    tubes : tuple of str
        Tubes that may be used; each must be the model's.
    count : int
        At most so many recipes, of different sets of tubes.
    most_tubes : int
        1 to 4.

    Returns
    -------
    list of Proposal
        Ordered by the difference to be expected.
    """
    places = [model.tubes.index(name) for name in tubes]
    sizes = range(1, min(3, most_tubes, len(places)) + 1)
    subsets = [subset for size in sizes for subset in combinations(places, size)]
    coarse = _candidates(model, subsets, _COARSE)
    best = _best_subsets(model, coarse, target, len(subsets))
    chosen = [subsets[i] for i in best[:_SUBSETS_REFINED]]
    pools = [_candidates(model, chosen, _FINE)]
    if most_tubes >= MOST_TUBES:
        triples = [subsets[i] for i in best if len(subsets[i]) == MOST_TUBES - 1][:_SUBSETS_EXTENDED]
        fours = sorted({tuple(sorted((*t, p))) for t in triples for p in places if p not in t})
        pools.append(_candidates(model, fours, _FINE_FOUR))
    found = [proposal for pool in pools if len(pool.amounts) for proposal in _judge(model, pool, target)]
    return _worth_telling(found)[:count]


def _candidates(model: MixModel, subsets: list[tuple[int, ...]], levels: tuple[int, ...]) -> _Pool:
    amounts, told, owner = [], [], []
    for number, subset in enumerate(subsets):
        grid = _proportions(len(subset), levels)
        parts = np.full((len(grid), len(model.tubes)), -1.0)
        parts[:, list(subset)] = grid
        told.append(parts)
        owner.append(np.full(len(grid), number, dtype=np.intp))
    if not told:
        none = np.zeros((0, len(model.tubes)))
        return _Pool(none, none, np.zeros(0, dtype=np.intp))
    parts = np.concatenate(told)
    full = np.maximum(parts, 0.0)
    full = full + (parts == _TOUCH) * model.paints.touch * full.sum(axis=1, keepdims=True)
    amounts = full / full.sum(axis=1, keepdims=True)
    return _Pool(amounts, parts, np.concatenate(owner))


@cache
def _proportions(size: int, levels: tuple[int, ...]) -> Floats:
    """Return all proportions of so many tubes in lowest terms, with at most one of them a touch (0)."""
    rows = [row for row in product(levels, repeat=size) if row.count(_TOUCH) <= min(1, size - 1) and gcd(*row) == 1]
    return np.array(rows, dtype=np.float64)


def _best_subsets(model: MixModel, pool: _Pool, target: Floats, count: int) -> list[int]:
    off = delta_e_2000(model.paints.lab(pool.amounts), target)
    least = np.full(count, np.inf)
    np.minimum.at(least, pool.subset, off)
    return [int(i) for i in np.argsort(least, kind="stable")]


def _judge(model: MixModel, pool: _Pool, target: Floats) -> list[Proposal]:
    """Return the best recipe of each subset."""
    used = (pool.parts >= 0).sum(axis=1)
    cost = delta_e_2000(model.paints.lab(pool.amounts), target)
    cost = cost + _TUBE_WORTH * used + _PART_WORTH * np.maximum(pool.parts, 0.0).sum(axis=1)
    near = pool.take(np.argsort(cost, kind="stable")[:_JUDGED])
    predicted = model.predict(near.amounts, near.parts == _TOUCH)
    off = delta_e_2000(predicted.lab, target)
    total = np.hypot(off, predicted.de00) + _PART_WORTH * np.maximum(near.parts, 0.0).sum(axis=1)
    seen: set[int] = set()
    found = []
    for i in np.argsort(total, kind="stable"):
        if int(near.subset[i]) not in seen:
            seen.add(int(near.subset[i]))
            recipe = _recipe(model.tubes, near.parts[i])
            found.append(Proposal(recipe, predicted.lab[i], float(off[i]), float(predicted.de00[i])))
    return found


def _worth_telling(found: list[Proposal]) -> list[Proposal]:
    """Leave out recipes that add tubes to a better or hardly worse one."""
    found = sorted(found, key=lambda p: p.expected_de00)
    kept: list[Proposal] = []
    for proposal in found:
        own = set(proposal.recipe.tubes)
        simpler = (p for p in found if set(p.recipe.tubes) < own)
        if not any(p.expected_de00 <= proposal.expected_de00 + _TUBE_WORTH for p in simpler):
            kept.append(proposal)
    return kept


def _recipe(names: tuple[str, ...], parts: Floats) -> Recipe:
    """Write a row of parts as a recipe, the largest first."""
    order = [i for i in np.argsort(-parts, kind="stable") if parts[i] >= 0]
    return Recipe(
        tuple(Ingredient(names[i], names[i], Fraction(int(parts[i])) if parts[i] > 0 else Amount.TOUCH) for i in order)
    )
