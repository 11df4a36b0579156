"""From a mixture that is not right to what must be added to it, in at most two additions.

The promising additions are tried out on what may truly be (see `trials`). An addition is only told if it brings the
mixture nearer nearly every time, the first of two by itself as well.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import permutations

import numpy as np

from swatchread.colour.cielab import Floats, delta_e_2000
from swatchread.palette.answer_records import AddedTube, colour_of
from swatchread.palette.fitted_palette import COVERAGE, FittedPalette
from swatchread.palette.mixture_model import Mask, MixModel
from swatchread.palette.recipe_amounts import Mixture, as_mixture
from swatchread.palette.recipe_search import search_recipes
from swatchread.palette.trials import BaseMixture, Trial, draw_trials

DOSES = (
    *((2, 1), (3, 2), (1, 1), (2, 3), (1, 2), (1, 3), (1, 4), (1, 5), (1, 6), (1, 8), (1, 10), (1, 12)),
    *((1, 16), (1, 24), (1, 40), (1, 60), (1, 100), (0, 1)),
)
"""Parts of a tube to parts of the mixture; (0, 1) is a dot."""
_SHORTLIST = 80
"""Single additions, and pairs in either order, that are tried out."""
_SURE = 0.97
"""Share of the trials in which each addition must bring the mixture nearer."""
_SECOND_WORTH = 0.5
"""CIEDE2000 by which a second addition must improve the mixture (assumed)."""
_SECOND_SHARE = 1.0 / 6.0
"""Share of what the first addition leaves that a second one must take off as well (assumed)."""
_FIRST_WEIGHT = 0.15
"""Weight of what the first addition leaves, against what both leave: it had better do most of the work (assumed)."""
_LOOKALIKES = 5
"""Mixtures of other tubes that look like one whose recipe is not known: added paint makes them differ."""
_VOLUME_COST = 0.3
"""CIEDE2000 that new paint of the mixture's own volume must bring: a smaller addition wastes less (assumed)."""


@dataclass(frozen=True, eq=False)
class Nudge:
    """How to bring a mixture nearer to a colour.

    Attributes
    ----------
    additions : tuple of AddedTube
        Empty if nothing helps.
    uncertainty_de00 : float
        One-sigma CIEDE2000 of the last predicted colour: from dosing, from what is not known of the tubes, from the
        reading of the start, and from what the mixture is made of where that is not known.
    expected_de00 : float
        CIEDE2000 from the colour wanted that is to be expected in the end.
    """

    additions: tuple[AddedTube, ...]
    uncertainty_de00: float
    expected_de00: float


@dataclass(frozen=True, eq=False)
class _Doses:
    """Single additions: the tube and the dose of each, and its amounts beside one volume of the mixture, (m, t)."""

    tube: list[int]
    dose: list[tuple[int, int]]
    amounts: Floats

    def dots(self, chosen: tuple[int, ...]) -> Mask:
        """Tell which tubes are added as a dot, shape (t,)."""
        dots = np.zeros(self.amounts.shape[1], dtype=bool)
        dots[[self.tube[i] for i in chosen if not self.dose[i][0]]] = True
        return dots

    def path(self, chosen: tuple[int, ...]) -> Floats:
        """Return what has been added before the first, after it, and after the last of some additions, shape (3, t)."""
        added = np.cumsum(self.amounts[list(chosen)], axis=0)
        path: Floats = np.stack([0.0 * added[0], added[0] * (len(chosen) > 1), added[-1]])
        return path


@dataclass(frozen=True, eq=False)
class _Outcome:
    """What additions come to: the difference to be expected in the end with and without what they cost."""

    chosen: tuple[int, ...]
    cost: float
    expected: float
    unsure: float
    surely: float


def find_nudge(
    palette: FittedPalette,
    start: Floats,
    target: Floats,
    tubes: tuple[str, ...],
    known: Mixture | None = None,
    start_de00: float = 0.0,
) -> Nudge:
    """Find what to add to a mixture.

    If its recipe is not known, the mixture is taken for one of the nearest that the tubes can make.

    Parameters
    ----------
    palette : FittedPalette
        With a model.
    start, target : ndarray, shape (3,)
        CIELAB, D50, 2 degree, of the mixture and of the colour wanted.
    tubes : tuple of str
        Tubes that may be added.
    known : Mixture, optional
        What the mixture is made of.
    start_de00 : float
        One-sigma CIEDE2000 of `start`.

    Returns
    -------
    Nudge

    Raises
    ------
    ValueError
        If the palette has no model.
    """
    if palette.model is None:
        raise ValueError("a nudge needs a model")
    bases = _bases(palette, palette.model, start, known)
    doses = _doses(palette.model, tubes)
    before = float(delta_e_2000(start, target))
    trials = draw_trials(bases, start, start_de00)
    choices = _shortlist(bases[0], target, doses)
    every = _outcomes(choices, trials, bases[0], target, doses) if choices else []
    best = _choose([o for o in every if o.surely >= _SURE and o.expected < before])
    if best is None:
        return Nudge((), 0.0, before)
    return Nudge(_told(bases[0], target, doses, best.chosen), best.unsure, best.expected)


def _bases(palette: FittedPalette, model: MixModel, start: Floats, known: Mixture | None) -> list[BaseMixture]:
    """Return what the mixture may be made of, the likeliest first."""
    if known is not None:
        mixtures = [known]
    else:
        lookalikes = search_recipes(model, start, palette.usable, count=_LOOKALIKES)
        mixtures = [as_mixture(proposal.recipe, palette) for proposal in lookalikes]
    return [BaseMixture(model, m.amounts[0], start - model.paints.lab(m.amounts)[0]) for m in mixtures]


def _doses(model: MixModel, tubes: tuple[str, ...]) -> _Doses:
    tube = [model.tubes.index(name) for name in tubes for _ in DOSES]
    dose = list(DOSES) * len(tubes)
    amounts = np.zeros((len(tube), len(model.tubes)))
    amounts[np.arange(len(tube)), tube] = [parts / of if parts else model.paints.touch for parts, of in dose]
    return _Doses(tube, dose, amounts)


def _shortlist(base: BaseMixture, target: Floats, doses: _Doses) -> list[tuple[int, ...]]:
    """Return the single additions and the pairs that come nearest if all goes as it should."""
    numbers = range(len(doses.tube))
    ones: list[tuple[int, ...]] = [(i,) for i in numbers]
    alone = delta_e_2000(base.after(doses.amounts), target)
    pairs: list[tuple[int, ...]] = [p for p in permutations(numbers, 2) if doses.tube[p[0]] != doses.tube[p[1]]]
    kept = []
    for choices in filter(None, (ones, pairs)):
        which = np.array(choices)
        added = doses.amounts[which].sum(axis=1)
        cost = delta_e_2000(base.after(added), target) + _VOLUME_COST * added.sum(axis=1)
        cost = cost + _FIRST_WEIGHT * alone[which[:, 0]] * (which.shape[1] > 1)
        cost = np.where(alone[which[:, 0]] < delta_e_2000(base.after(0.0 * doses.amounts[0]), target), cost, np.inf)
        kept += [choices[i] for i in np.argsort(cost, kind="stable")[: _SHORTLIST // 2] if np.isfinite(cost[i])]
    return kept


def _outcomes(
    choices: list[tuple[int, ...]], trials: list[Trial], base: BaseMixture, target: Floats, doses: _Doses
) -> list[_Outcome]:
    """Try additions out, each choice step by step."""
    paths = np.array([doses.path(chosen) for chosen in choices])
    dots = np.array([doses.dots(chosen) for chosen in choices])[:, None, :]
    labs = np.array([trial.after(paths, dots) for trial in trials])
    off = delta_e_2000(labs, target)
    surely = (off[..., 1:] < off[..., :-1]).mean(axis=0)
    expected = np.sqrt((off**2).mean(axis=0))
    unsure = np.quantile(delta_e_2000(labs[..., -1, :], base.after(paths[:, -1])), COVERAGE, axis=0)
    made = []
    for i, chosen in enumerate(choices):
        cost = expected[i, -1] + _VOLUME_COST * paths[i, -1].sum()
        if len(chosen) > 1:
            cost += _FIRST_WEIGHT * expected[i, 1]
        sure = float(surely[i, -len(chosen) :].min())
        made.append(_Outcome(chosen, float(cost), float(expected[i, -1]), float(unsure[i]), sure))
    return made


def _choose(outcomes: list[_Outcome]) -> _Outcome | None:
    """Return the best outcome; a second addition must be worth the work."""
    one, two = (
        min((o for o in outcomes if len(o.chosen) == size), key=lambda o: o.cost, default=None) for size in (1, 2)
    )
    if one is None or two is None:
        return one or two
    worth = max(_SECOND_WORTH, _SECOND_SHARE * one.expected)
    return two if one.expected - two.expected > worth else one


def _told(base: BaseMixture, target: Floats, doses: _Doses, chosen: tuple[int, ...]) -> tuple[AddedTube, ...]:
    """Return the chosen additions, each with the colour and the difference after it."""
    labs = base.after(doses.path(chosen)[-len(chosen) :])
    made = []
    for i, lab, off in zip(chosen, labs, delta_e_2000(labs, target), strict=True):
        tube, (parts, of_mixture) = base.model.tubes[doses.tube[i]], doses.dose[i]
        made.append(AddedTube(tube, parts or "dot", of_mixture, colour_of(lab), float(off)))
    return tuple(made)
