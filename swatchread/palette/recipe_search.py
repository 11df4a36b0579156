"""From a colour to recipes: small whole parts of few tubes.

Every set of up to three tubes is tried at coarse proportions. The best sets, and the best sets of three with one tube
more, are tried at every small whole proportion. So the search is exhaustive where it matters and needs no start.
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
from swatchread.palette.training_data import shares_of
from swatchread.recipes.amounts import Amount
from swatchread.recipes.recipe import Ingredient, Recipe

MOST_TUBES = 4
"""Tubes in one recipe; a painter at work mixes no more (common practice)."""
_TOUCH = 0
"""Stands for a touch in a row of parts."""
_COARSE = (_TOUCH, 1, 2, 4, 8)
"""Parts that are tried of every set of tubes."""
_FINE = tuple(range(9))
"""Parts that are tried of the best sets of up to three tubes."""
_FINE_OF_FOUR = (_TOUCH, 1, 2, 3, 4, 6)
"""Parts that are tried of sets of four: all of `_FINE` would take too long."""
_SETS_REFINED = 24
_SETS_EXTENDED = 8
"""Sets of three tubes to which a fourth one is added."""
_TUBE_WORTH = 0.25
"""CIEDE2000 by which one more tube must improve a recipe (assumed)."""
_PART_WORTH = 0.02
"""CIEDE2000 by which one more part must improve a recipe (assumed)."""
_JUDGED = 400
"""Candidates nearest to the colour whose uncertainty is worked out."""


@dataclass(frozen=True, eq=False)
class Proposal:
    """A recipe for a colour.

    Attributes
    ----------
    recipe : Recipe
    lab : ndarray, shape (3,)
        What it is predicted to be.
    de00 : float
        CIEDE2000 of that from the colour wanted.
    uncertainty_de00 : float
        One-sigma CIEDE2000 of the prediction, the painter's dosing included.
    """

    recipe: Recipe
    lab: Floats
    de00: float
    uncertainty_de00: float

    @property
    def expected_de00(self) -> float:
        """Difference to be expected on the palette: both together, as the root of the sum of squares."""
        return float(np.hypot(self.de00, self.uncertainty_de00))


@dataclass(frozen=True, eq=False)
class _Candidates:
    """Mixtures of the model's tubes; parts are -1 for tubes not used, and `tube_set` says which tubes are meant."""

    amounts: Floats
    parts: Floats
    tube_set: npt.NDArray[np.intp]

    def take(self, which: npt.NDArray[np.intp]) -> _Candidates:
        return _Candidates(self.amounts[which], self.parts[which], self.tube_set[which])


def search_recipes(
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
        The most recipes, of different sets of tubes.
    most_tubes : int
        1 to 4.

    Returns
    -------
    list of Proposal
        Ordered by the difference to be expected.
    """
    columns = [model.tubes.index(name) for name in tubes]
    sizes = range(1, min(3, most_tubes, len(columns)) + 1)
    sets = [chosen for size in sizes for chosen in combinations(columns, size)]
    coarse = _candidates(model, sets, _COARSE)
    best = _best_sets(model, coarse, target, len(sets))
    tried = [_candidates(model, [sets[i] for i in best[:_SETS_REFINED]], _FINE)]
    if most_tubes >= MOST_TUBES:
        triples = [sets[i] for i in best if len(sets[i]) == MOST_TUBES - 1][:_SETS_EXTENDED]
        fours = sorted({tuple(sorted((*t, c))) for t in triples for c in columns if c not in t})
        tried.append(_candidates(model, fours, _FINE_OF_FOUR))
    found = [p for candidates in tried if len(candidates.amounts) for p in _judge(model, candidates, target)]
    return _without_needless_tubes(found)[:count]


def _candidates(model: MixModel, sets: list[tuple[int, ...]], levels: tuple[int, ...]) -> _Candidates:
    rows, owner = [np.zeros((0, len(model.tubes)))], []
    for number, chosen in enumerate(sets):
        grid = _proportions(len(chosen), levels)
        parts = np.full((len(grid), len(model.tubes)), -1.0)
        parts[:, list(chosen)] = grid
        rows.append(parts)
        owner += [number] * len(grid)
    parts = np.concatenate(rows)
    amounts = shares_of(np.maximum(parts, 0.0), parts == _TOUCH, model.paints.touch)
    return _Candidates(amounts, parts, np.array(owner, dtype=np.intp))


@cache
def _proportions(size: int, levels: tuple[int, ...]) -> Floats:
    """Return all proportions of so many tubes in lowest terms, with at most one of them a touch."""
    rows = [row for row in product(levels, repeat=size) if row.count(_TOUCH) <= min(1, size - 1) and gcd(*row) == 1]
    return np.array(rows, dtype=np.float64)


def _best_sets(model: MixModel, candidates: _Candidates, target: Floats, count: int) -> list[int]:
    """Return the numbers of the sets of tubes, the one that comes nearest to the colour first."""
    least = np.full(count, np.inf)
    np.minimum.at(least, candidates.tube_set, delta_e_2000(model.paints.lab(candidates.amounts), target))
    return [int(i) for i in np.argsort(least, kind="stable")]


def _judge(model: MixModel, candidates: _Candidates, target: Floats) -> list[Proposal]:
    """Return the best recipe of each set of tubes."""
    used = (candidates.parts >= 0).sum(axis=1)
    cost = delta_e_2000(model.paints.lab(candidates.amounts), target)
    cost = cost + _TUBE_WORTH * used + _PART_WORTH * np.maximum(candidates.parts, 0.0).sum(axis=1)
    near = candidates.take(np.argsort(cost, kind="stable")[:_JUDGED])
    predicted = model.predict(near.amounts, near.parts == _TOUCH)
    off = delta_e_2000(predicted.lab, target)
    total = np.hypot(off, predicted.de00) + _PART_WORTH * np.maximum(near.parts, 0.0).sum(axis=1)
    order = np.argsort(total, kind="stable")
    _, first = np.unique(near.tube_set[order], return_index=True)
    return [
        Proposal(_recipe(model.tubes, near.parts[i]), predicted.lab[i], float(off[i]), float(predicted.de00[i]))
        for i in order[np.sort(first)]
    ]


def _without_needless_tubes(found: list[Proposal]) -> list[Proposal]:
    """Leave out recipes whose additional tubes bring hardly anything over a simpler recipe."""
    kept: list[Proposal] = []
    for proposal in sorted(found, key=lambda p: p.expected_de00):
        tubes = set(proposal.recipe.tubes)
        simpler = [p.expected_de00 for p in found if set(p.recipe.tubes) < tubes]
        if proposal.expected_de00 + _TUBE_WORTH < min(simpler, default=np.inf):
            kept.append(proposal)
    return kept


def _recipe(names: tuple[str, ...], parts: Floats) -> Recipe:
    """Write a row of parts as a recipe, the largest first."""
    order = [i for i in np.argsort(-parts, kind="stable") if parts[i] >= 0]
    return Recipe(
        tuple(Ingredient(names[i], names[i], Fraction(int(parts[i])) if parts[i] > 0 else Amount.TOUCH) for i in order)
    )
