"""From a mixture that is not right to what must go into it, in at most two additions."""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np

from swatchread.colour.cielab import Floats, de00_metric, delta_e_2000
from swatchread.palette.fitted_palette import FittedPalette
from swatchread.palette.mixture_model import MixModel, dose_spread
from swatchread.palette.query import Mixture, as_mixture
from swatchread.palette.recipe_search import match

DOSES = ((2, 1), (1, 1), (1, 2), (1, 3), (1, 4), (1, 5), (1, 6), (1, 8), (1, 12), (1, 16), (1, 24), (0, 1))
"""Parts of a tube to parts of the mixture; (0, 1) is a dot."""
_SECOND_WORTH = 0.5
"""CIEDE2000; a second addition must bring at least so much, and a sixth of what the first leaves."""
_JUDGED = 300
_MAY_BE = 5
"""Mixtures of other tubes that look like one whose recipe is not known: how far they part once something is added."""
_PREFER_LITTLE = 0.3
"""CIEDE2000 a mixture's own volume of new paint must bring: a smaller addition wastes less."""


@dataclass(frozen=True, eq=False)
class Addition:
    """One thing to put into the mixture.

    Attributes
    ----------
    tube : str
    parts, of_mixture : int
        Parts of the tube to parts of the mixture as it stood at the start; 0 parts is a dot.
    lab : ndarray, shape (3,)
        What the mixture is predicted to be then.
    de00 : float
        CIEDE2000 from the colour wanted.
    """

    tube: str
    parts: int
    of_mixture: int
    lab: Floats
    de00: float


@dataclass(frozen=True, eq=False)
class Nudge:
    """How to bring a mixture nearer to a colour.

    Attributes
    ----------
    start, target : ndarray, shape (3,)
    de00 : float
        The difference before.
    additions : tuple of Addition
        None if nothing helps.
    uncertainty_de00 : float
        One-sigma CIEDE2000 of the last predicted colour: from dosing, from what is not known of the tubes, from the
        reading of the start, and from what the mixture is made of where that is not known.
    """

    start: Floats
    target: Floats
    de00: float
    additions: tuple[Addition, ...]
    uncertainty_de00: float


@dataclass(frozen=True, eq=False)
class _Base:
    """The mixture as it stands: its shares, what the model is off by on it, and what else it may be made of."""

    shares: Floats
    off: Floats
    others: tuple[_Base, ...] = ()


def nudge(
    studio: FittedPalette,
    start: Floats,
    target: Floats,
    tubes: tuple[str, ...],
    known: Mixture | None = None,
    start_de00: float = 0.0,
) -> Nudge:
    """Find what to add to a mixture.

    Where its recipe is not known, the mixture is taken for the nearest one that the tubes can make.

    Parameters
    ----------
    studio : FittedPalette
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
        If the studio has no model.
    """
    model = studio.model
    if model is None:
        raise ValueError("a nudge needs a model")
    base = _base(studio, model, start, known)
    tried = _additions(model, tubes)
    singles: list[tuple[int, ...]] = [(i,) for i in range(len(tried.owner))]
    pairs: list[tuple[int, ...]] = [
        p for p in combinations(range(len(tried.owner)), 2) if tried.owner[p[0]] != tried.owner[p[1]]
    ]
    before = float(delta_e_2000(start, target))
    one = _best(model, base, target, tried.amounts, singles)
    halves = one is not None and one.left <= before / 2.0
    if one is not None and halves:  # a first addition that does most of it stays, and the second mends the rest
        pairs = [p for p in pairs if one.which[0] in p]
    two = _best(model, base, target, tried.amounts, pairs)
    chosen = one
    if two is not None and one is not None and one.expected - two.expected > max(_SECOND_WORTH, one.expected / 6.0):
        chosen = two
    if chosen is None or chosen.expected >= before:
        return Nudge(start, target, before, (), 0.0)
    order = _strong_first(model, base, target, tried, chosen.which)
    if halves and one is not None:
        order = (*one.which, *(i for i in order if i not in one.which))
    uncertainty = _uncertainty(model, base, tried.amounts[list(order)].sum(axis=0), start_de00)
    return Nudge(start, target, before, _told(model, base, target, tried, order), uncertainty)


@dataclass(frozen=True, eq=False)
class _Tried:
    """Single additions: which tube, which dose, and as amounts beside one volume of the mixture."""

    owner: list[int]
    dose: list[tuple[int, int]]
    amounts: Floats


@dataclass(frozen=True, eq=False)
class _Choice:
    which: tuple[int, ...]
    left: float
    expected: float


def _base(studio: FittedPalette, model: MixModel, start: Floats, known: Mixture | None) -> _Base:
    if known is not None:
        return _base_of(model, start, known)
    nearest = match(model, start, studio.usable, count=_MAY_BE)
    first, *others = (_base_of(model, start, as_mixture(p.recipe, studio)) for p in nearest)
    return replace(first, others=tuple(others))


def _base_of(model: MixModel, start: Floats, mixture: Mixture) -> _Base:
    return _Base(mixture.amounts[0], start - model.paints.lab(mixture.amounts)[0])


def _additions(model: MixModel, tubes: tuple[str, ...]) -> _Tried:
    owner, dose, rows = [], [], []
    for name in tubes:
        place = model.tubes.index(name)
        for parts, of in DOSES:
            row = np.zeros(len(model.tubes))
            row[place] = parts / of if parts else model.paints.touch
            owner.append(place)
            dose.append((parts, of))
            rows.append(row)
    return _Tried(owner, dose, np.array(rows).reshape(-1, len(model.tubes)))


def _after(model: MixModel, base: _Base, added: Floats) -> Floats:
    """Return the colour after additions; what the model was off by thins out with the mixture."""
    volume = added.sum(axis=-1, keepdims=True)
    return np.asarray(model.paints.lab(base.shares + added) + base.off / (1.0 + volume))


def _best(
    model: MixModel, base: _Base, target: Floats, amounts: Floats, choices: list[tuple[int, ...]]
) -> _Choice | None:
    if not choices:
        return None
    added = amounts[np.array(choices)].sum(axis=1)
    off = delta_e_2000(_after(model, base, added), target)
    near = np.argsort(off + _PREFER_LITTLE * added.sum(axis=1), kind="stable")[:_JUDGED]
    uncertainty = _dosing(model, base, added[near])
    expected = np.hypot(off[near], uncertainty) + _PREFER_LITTLE * added[near].sum(axis=1)
    i = int(np.argmin(expected))
    return _Choice(choices[near[i]], float(off[near[i]]), float(expected[i]))


def _dosing(model: MixModel, base: _Base, added: Floats) -> Floats:
    """Return the one-sigma CIEDE2000 that uneven dosing of the additions brings."""
    whole = base.shares + added
    slopes = model.paints.slopes(whole)
    dots = (added > 0) & (added <= model.paints.touch * 1.0001)
    spread = dose_spread(dots, added.shape) * added / np.maximum(whole, 1e-12)
    moved = slopes.by_amount * spread[:, None, :]
    metric = de00_metric(slopes.lab)
    return np.asarray(model.scale * np.sqrt(np.einsum("nit,nij,njt->n", moved, metric, moved, optimize=True)))


def _uncertainty(model: MixModel, base: _Base, added: Floats, start_de00: float) -> float:
    """Return the one-sigma CIEDE2000 of the colour after additions."""
    volume = float(added.sum())
    after = model.paints.slopes((base.shares + added)[None])
    # What the tubes are off by in the mixture as it stands is known and taken off: only the rest of it counts.
    tubes = after.by_theta[0] - model.paints.slopes(base.shares[None]).by_theta[0] / (1.0 + volume)
    metric = de00_metric(after.lab[0])
    unknown = model.scale**2 * float(np.einsum("ip,pq,jq,ij->", tubes, model.covariance, tubes, metric))
    here = _after(model, base, added)
    apart = [float(delta_e_2000(_after(model, other, added), here)) for other in base.others]
    made_of = float(np.mean(np.square(apart))) if apart else 0.0
    read = (start_de00 / (1.0 + volume)) ** 2
    return float(np.sqrt(_dosing(model, base, added[None])[0] ** 2 + unknown + read + made_of))


def _strong_first(
    model: MixModel, base: _Base, target: Floats, tried: _Tried, which: tuple[int, ...]
) -> tuple[int, ...]:
    """Order additions so that the one which does more by itself comes first."""
    alone = delta_e_2000(_after(model, base, tried.amounts[list(which)]), target)
    return tuple(which[i] for i in np.argsort(alone, kind="stable"))


def _told(model: MixModel, base: _Base, target: Floats, tried: _Tried, order: tuple[int, ...]) -> tuple[Addition, ...]:
    added = np.cumsum(tried.amounts[list(order)], axis=0)
    lab = _after(model, base, added)
    off = delta_e_2000(lab, target)
    return tuple(
        Addition(model.tubes[tried.owner[i]], *tried.dose[i], lab[k], float(off[k])) for k, i in enumerate(order)
    )
