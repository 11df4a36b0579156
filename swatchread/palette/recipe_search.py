"""From a colour to recipes: small whole parts of few tubes.

Every set of up to three tubes is tried at coarse proportions. The exact proportions of the best sets, and of the best
sets of three with one tube more, are found by least squares, and then all small whole parts close to them are tried.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from functools import cache
from itertools import combinations, product

import numpy as np
import numpy.typing as npt

from swatchread.colour.cielab import Floats, de00_metric, delta_e_2000
from swatchread.palette.mixture_model import MixModel
from swatchread.palette.training_data import shares_of
from swatchread.palette.whole_parts import LARGEST_RATIO, effort, whole_parts
from swatchread.recipes.amounts import Amount
from swatchread.recipes.recipe import Ingredient, Recipe

MOST_TUBES = 4
"""Tubes in one recipe; a painter at work mixes no more (common practice)."""
_TOUCH = 0
"""Stands for a touch in a row of parts."""
_COARSE = (1, 3, 9, 27, 81)
"""Amounts that are tried of every set of up to three tubes."""
_COARSE_OF_FOUR = (1, 6, 36)
"""The same of sets of four: all of `_COARSE` would take too long."""
_SETS_REFINED = 24
_SETS_EXTENDED = 8
"""Sets of three tubes to which a fourth one is added."""
_SETS_WRITTEN = 32
"""Sets whose exact proportions come nearest: these are written in whole parts."""
_STEPS = 12
"""Steps of least squares; most sets need half as many."""
_LONGEST_STEP = 1.0
"""Logarithm of the amount by which one step may change a tube."""
_RIDGE = 1e-3
"""Square of CIEDE2000 for an e-fold change of an amount: decides between proportions of the same colour."""
_TOUCH_WITHIN = 2.5
"""Factor of a touch within which the smallest amount may be written as a touch."""
_TUBE_WORTH = 0.25
"""CIEDE2000 by which one more tube must improve a recipe (assumed)."""
_EFFORT_WORTH = 0.04
"""CIEDE2000 by which one more doubling of parts must improve a recipe (assumed)."""
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
    swatch : str
        The recorded swatch that was painted by it; empty if none was.
    """

    recipe: Recipe
    lab: Floats
    de00: float
    uncertainty_de00: float
    swatch: str = ""

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
    sizes = range(1, min(MOST_TUBES - 1, most_tubes, len(columns)) + 1)
    sets = [chosen for size in sizes for chosen in combinations(columns, size)]
    best = _best_starts(model, sets, _COARSE, target)
    starts = [best[:_SETS_REFINED]]
    if most_tubes >= MOST_TUBES:
        triples = [row for row in best if np.count_nonzero(row) == MOST_TUBES - 1][:_SETS_EXTENDED]
        used = [set(np.flatnonzero(row).tolist()) for row in triples]
        fours = sorted({tuple(sorted(known | {c})) for known in used for c in columns if c not in known})
        starts.append(_best_starts(model, fours, _COARSE_OF_FOUR, target))
    exact = _refined(model, np.concatenate(starts), target)
    return _without_needless_tubes(_judge(model, _written(model, exact), target))[:count]


def _best_starts(model: MixModel, sets: list[tuple[int, ...]], levels: tuple[int, ...], target: Floats) -> Floats:
    """Return the best coarse proportions of each set of tubes, shape (sets, t), the nearest to the colour first."""
    rows, owner = [np.zeros((0, len(model.tubes)))], []
    for number, chosen in enumerate(sets):
        grid = _proportions(len(chosen), levels)
        amounts = np.zeros((len(grid), len(model.tubes)))
        amounts[:, list(chosen)] = grid
        rows.append(amounts)
        owner += [number] * len(grid)
    amounts = np.concatenate(rows)
    off = delta_e_2000(model.paints.lab(amounts), target)
    order = np.argsort(off, kind="stable")
    _, first = np.unique(np.array(owner, dtype=np.intp)[order], return_index=True)
    starts: Floats = amounts[order[np.sort(first)]]
    return starts


@cache
def _proportions(size: int, levels: tuple[int, ...]) -> Floats:
    """Return all proportions of so many tubes; one of them has the least amount."""
    return np.array([row for row in product(levels, repeat=size) if min(row) == levels[0]], dtype=np.float64)


def _refined(model: MixModel, amounts: Floats, target: Floats) -> Floats:
    """Return the proportions nearest to the colour for the tubes of each row, by Levenberg's damped least squares."""
    used = amounts > 0
    start = np.log(np.where(used, amounts, 1.0))
    root = np.linalg.cholesky(de00_metric(target[None])[0])
    damping = np.full(len(amounts), 0.01)
    logs = start.copy()

    def cost(at: Floats) -> tuple[Floats, Floats]:
        off = (model.paints.lab(np.where(used, np.exp(at), 0.0)) - target) @ root
        return off, (off**2).sum(axis=1) + _RIDGE * ((at - start) ** 2).sum(axis=1)

    off, now = cost(logs)
    for _ in range(_STEPS):
        slopes = model.paints.slopes(np.where(used, np.exp(logs), 0.0)).by_amount
        J = np.einsum("ji,njt->nit", root, slopes)
        normal = np.einsum("nit,niu->ntu", J, J) + (damping[:, None, None] + _RIDGE) * np.eye(J.shape[2])
        pull = np.einsum("nit,ni->nt", J, off) + _RIDGE * (logs - start)
        step = np.linalg.solve(normal, pull[..., None])[..., 0]
        trial = logs - np.clip(step, -_LONGEST_STEP, _LONGEST_STEP)
        largest = np.where(used, trial, -np.inf).max(axis=1, keepdims=True)
        trial = np.where(used, np.maximum(trial, largest - np.log(LARGEST_RATIO)), 0.0)
        trial_off, then = cost(trial)
        better = then < now
        logs, off, now = (
            np.where(better[:, None], trial, logs),
            np.where(better[:, None], trial_off, off),
            np.minimum(now, then),
        )
        damping = np.where(better, damping / 4.0, damping * 8.0)
    exact: Floats = np.where(used, np.exp(logs), 0.0)
    return exact[np.argsort(now + _TUBE_WORTH * used.sum(axis=1), kind="stable")][:_SETS_WRITTEN]


def _written(model: MixModel, exact: Floats) -> _Candidates:
    """Return all small whole parts close to exact proportions, with or without a touch."""
    rows, owner = [], []
    for number, amounts in enumerate(exact):
        chosen = np.flatnonzero(amounts)
        ways = [(chosen, whole_parts(amounts[chosen]))]
        least = chosen[amounts[chosen].argmin()]
        rest = chosen[chosen != least]
        if len(rest) and amounts[least] < _TOUCH_WITHIN * model.paints.touch * amounts[rest].sum():
            ways.append((rest, whole_parts(amounts[rest])))
        for tubes, ways_of in ways:
            parts = np.full((len(ways_of), len(model.tubes)), -1.0)
            parts[:, chosen] = _TOUCH
            parts[:, tubes] = ways_of
            rows.append(parts)
            owner += [number] * len(parts)
    parts = np.concatenate(rows)
    amounts = shares_of(np.maximum(parts, 0.0), parts == _TOUCH, model.paints.touch)
    return _Candidates(amounts, parts, np.array(owner, dtype=np.intp))


def _judge(model: MixModel, candidates: _Candidates, target: Floats) -> list[Proposal]:
    """Return the best recipe of each set of tubes."""
    used = (candidates.parts >= 0).sum(axis=1)
    cost = delta_e_2000(model.paints.lab(candidates.amounts), target)
    cost = cost + _TUBE_WORTH * used + _EFFORT_WORTH * effort(candidates.parts)
    near = candidates.take(np.argsort(cost, kind="stable")[:_JUDGED])
    predicted = model.predict(near.amounts, near.parts == _TOUCH)
    off = delta_e_2000(predicted.lab, target)
    total = np.hypot(off, predicted.de00) + _EFFORT_WORTH * effort(near.parts)
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
