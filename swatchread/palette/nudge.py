"""From a mixture that is not right to what must be added to it, in at most two additions."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np

from swatchread.colour.cielab import Floats, de00_metric, delta_e_2000
from swatchread.palette.answer_records import AddedTube, colour_of
from swatchread.palette.fitted_palette import FittedPalette
from swatchread.palette.mixture_model import MixModel, dose_spread
from swatchread.palette.recipe_amounts import Mixture, as_mixture
from swatchread.palette.recipe_search import search_recipes

DOSES = ((2, 1), (1, 1), (1, 2), (1, 3), (1, 4), (1, 5), (1, 6), (1, 8), (1, 12), (1, 16), (1, 24), (0, 1))
"""Parts of a tube to parts of the mixture; (0, 1) is a dot."""
_SECOND_WORTH = 0.5
"""CIEDE2000 by which a second addition must improve the mixture (assumed)."""
_SECOND_SHARE = 1.0 / 6.0
"""Share of what the first addition leaves that a second one must take off as well (assumed)."""
_JUDGED = 300
"""Additions nearest to the colour whose uncertainty is worked out."""
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
    """

    additions: tuple[AddedTube, ...]
    uncertainty_de00: float


@dataclass(frozen=True, eq=False)
class _Base:
    """The mixture as it is: its shares, how far the model is off on it, and what else it may be made of."""

    model: MixModel
    shares: Floats
    off: Floats
    others: tuple[_Base, ...] = ()

    def after(self, added: Floats) -> Floats:
        """Return the colour after additions; what the model was off by thins out with the mixture."""
        volume = added.sum(axis=-1, keepdims=True)
        lab: Floats = self.model.paints.lab(self.shares + added) + self.off / (1.0 + volume)
        return lab


@dataclass(frozen=True, eq=False)
class _Single:
    """Single additions: tube and dose of each, and its amounts beside one volume of the mixture."""

    tube: list[int]
    dose: list[tuple[int, int]]
    amounts: Floats


@dataclass(frozen=True, eq=False)
class _Choice:
    """Which single additions are made together, what difference is left, and what is to be expected with dosing."""

    which: tuple[int, ...]
    left: float
    expected: float


def find_nudge(
    palette: FittedPalette,
    start: Floats,
    target: Floats,
    tubes: tuple[str, ...],
    known: Mixture | None = None,
    start_de00: float = 0.0,
) -> Nudge:
    """Find what to add to a mixture.

    If its recipe is not known, the mixture is taken for the nearest one that the tubes can make.

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
    base = _base(palette, palette.model, start, known)
    singles = _singles(palette.model, tubes)
    before = float(delta_e_2000(start, target))
    chosen = _choose(base, target, singles, before)
    if chosen is None or chosen.expected >= before:
        return Nudge((), 0.0)
    uncertainty = _uncertainty(base, singles.amounts[list(chosen.which)].sum(axis=0), start_de00)
    return Nudge(_told(base, target, singles, chosen.which), uncertainty)


def _base(palette: FittedPalette, model: MixModel, start: Floats, known: Mixture | None) -> _Base:
    def made_of(mixture: Mixture) -> _Base:
        return _Base(model, mixture.amounts[0], start - model.paints.lab(mixture.amounts)[0])

    if known is not None:
        return made_of(known)
    lookalikes = search_recipes(model, start, palette.usable, count=_LOOKALIKES)
    first, *others = (made_of(as_mixture(p.recipe, palette)) for p in lookalikes)
    return replace(first, others=tuple(others))


def _singles(model: MixModel, tubes: tuple[str, ...]) -> _Single:
    tube = [model.tubes.index(name) for name in tubes for _ in DOSES]
    dose = list(DOSES) * len(tubes)
    amounts = np.zeros((len(tube), len(model.tubes)))
    amounts[np.arange(len(tube)), tube] = [parts / of if parts else model.paints.touch for parts, of in dose]
    return _Single(tube, dose, amounts)


def _choose(base: _Base, target: Floats, singles: _Single, before: float) -> _Choice | None:
    """Choose one or two additions, in the order in which they are to be made."""
    numbers = range(len(singles.tube))
    one = _best(base, target, singles.amounts, [(i,) for i in numbers])
    if one is None:
        return None
    pairs = [p for p in combinations(numbers, 2) if singles.tube[p[0]] != singles.tube[p[1]]]
    halves = one.left <= before / 2.0
    if halves:  # a first addition that does most of it stays, and the second mends the rest
        pairs = [p for p in pairs if one.which[0] in p]
    two = _best(base, target, singles.amounts, pairs)
    if two is None or one.expected - two.expected <= max(_SECOND_WORTH, _SECOND_SHARE * one.expected):
        return one
    # The addition that does more by itself comes first.
    alone = delta_e_2000(base.after(singles.amounts[list(two.which)]), target)
    order = sorted(two.which, key=lambda i: (halves and i != one.which[0], alone[two.which.index(i)]))
    return replace(two, which=tuple(order))


def _best(base: _Base, target: Floats, amounts: Floats, choices: Sequence[tuple[int, ...]]) -> _Choice | None:
    if not choices:
        return None
    added = amounts[np.array(choices)].sum(axis=1)
    off = delta_e_2000(base.after(added), target)
    cost = _VOLUME_COST * added.sum(axis=1)
    near = np.argsort(off + cost, kind="stable")[:_JUDGED]
    expected = np.hypot(off[near], _dosing(base, added[near])) + cost[near]
    i = int(np.argmin(expected))
    return _Choice(choices[near[i]], float(off[near[i]]), float(expected[i]))


def _dosing(base: _Base, added: Floats) -> Floats:
    """Return the one-sigma CIEDE2000 that uneven dosing of the additions brings."""
    whole = base.shares + added
    slopes = base.model.paints.slopes(whole)
    dots = (added > 0) & (added <= base.model.paints.touch * 1.0001)
    spread = dose_spread(base.model.habits, dots, added.shape) * added / np.maximum(whole, 1e-12)
    moved = slopes.by_amount * spread[:, None, :]
    variance: Floats = np.einsum("nit,nij,njt->n", moved, de00_metric(slopes.lab), moved, optimize=True)
    return base.model.scale * np.sqrt(variance)


def _uncertainty(base: _Base, added: Floats, start_de00: float) -> float:
    """Return the one-sigma CIEDE2000 of the colour after additions."""
    model, volume = base.model, float(added.sum())
    after = model.paints.slopes((base.shares + added)[None])
    # What the model is off by on the mixture at the start is known and taken off: only the rest of it counts.
    tubes = after.by_theta[0] - model.paints.slopes(base.shares[None]).by_theta[0] / (1.0 + volume)
    metric = de00_metric(after.lab[0])
    unknown = model.scale**2 * float(np.einsum("ip,pq,jq,ij->", tubes, model.covariance, tubes, metric))
    here = base.after(added)
    apart = [float(delta_e_2000(other.after(added), here)) for other in base.others]
    made_of = float(np.mean(np.square(apart))) if apart else 0.0
    read = (start_de00 / (1.0 + volume)) ** 2
    return float(np.sqrt(_dosing(base, added[None])[0] ** 2 + unknown + read + made_of))


def _told(base: _Base, target: Floats, singles: _Single, order: tuple[int, ...]) -> tuple[AddedTube, ...]:
    """Return the chosen additions, each with the colour and the difference after it."""
    labs = base.after(np.cumsum(singles.amounts[list(order)], axis=0))
    made = []
    for i, lab, off in zip(order, labs, delta_e_2000(labs, target), strict=True):
        tube, (parts, of_mixture) = base.model.tubes[singles.tube[i]], singles.dose[i]
        made.append(AddedTube(tube, parts or "dot", of_mixture, colour_of(lab), float(off)))
    return tuple(made)
