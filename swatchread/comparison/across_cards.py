"""Across cards: which tubes, grounds and media shift most, where enough cards support an answer.

One physical card gives one comparison, its first reading against its last. A tube's effect is by how much swatches with
it shifted more than the other swatches of the same card, so that the error shared by the two photos cancels. The effect
of a ground or a medium is the common shift of its cards. Cards are combined by a random-effects mean: the spread of
cards by DerSimonian & Laird (1986), Controlled Clinical Trials 7(3), 177-188, and the interval by Hartung & Knapp
(2001), Statistics in Medicine 20(24), 3875-3889, never narrower than the readings' own uncertainty allows.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from swatchread.colour.cielab import Floats
from swatchread.comparison.comparison_result import Comparison
from swatchread.comparison.swatch_changes import LEVEL, holm
from swatchread.note.phrases import plain
from swatchread.recipes.recipe import parse_recipe
from swatchread.recipes.tubes import TubeList, load_tubes

LEAST_CARDS = 3
"""Cards without which no effect is stated: of two, the spread between cards is hardly known."""
_SECONDS_A_DAY = 86400.0

QUANTITIES = ("L*", "a*", "b*")


@dataclass(frozen=True, slots=True)
class Effect:
    """The shift that goes with one tube, ground or medium.

    Attributes
    ----------
    kind : {"tube", "ground", "medium"}
    name : str
    quantity : {"L*", "a*", "b*"}
    by : float
        Mean shift; for a tube, relative to the other swatches of its cards.
    low, high : float
        95 % interval.
    cards, swatches : int
        What it rests on.
    p : float
        Corrected for all effects of this kind (Holm).
    days : float or None
        Median time between the readings.
    """

    kind: str
    name: str
    quantity: str
    by: float
    low: float
    high: float
    cards: int
    swatches: int
    p: float
    days: float | None

    @property
    def clear(self) -> bool:
        """Whether the shift is larger than noise explains, after correction."""
        return self.p < LEVEL


@dataclass(frozen=True)
class Across:
    """The summary over cards.

    Attributes
    ----------
    effects : tuple of Effect
        Largest first within a kind and a quantity.
    too_few : tuple of (str, str, int)
        Kind, name and number of cards of what too few cards hold.
    cards : int
        Cards with at least two readings.
    """

    effects: tuple[Effect, ...]
    too_few: tuple[tuple[str, str, int], ...]
    cards: int


@dataclass(frozen=True, eq=False)
class _Piece:
    """What one card says of one tube, ground or medium: shift and variance, shape (3,) each."""

    shift: Floats
    variance: Floats
    swatches: int
    seconds: float | None


def summarise(comparisons: Sequence[Comparison]) -> Across:
    """Summarise comparisons, one a physical card.

    Parameters
    ----------
    comparisons : sequence of Comparison

    Returns
    -------
    Across
    """
    tubes = load_tubes()
    pieces: dict[tuple[str, str], list[_Piece]] = defaultdict(list)
    for comparison in comparisons:
        for key, piece in _pieces(comparison, tubes):
            pieces[key].append(piece)
    effects: list[Effect] = []
    for kind in ("tube", "ground", "medium"):
        effects += _corrected(
            [
                _effect(key, own, q)
                for key, own in pieces.items()
                if key[0] == kind and len(own) >= LEAST_CARDS
                for q in range(3)
            ]
        )
    few = tuple((key[0], key[1], len(own)) for key, own in pieces.items() if len(own) < LEAST_CARDS)
    return Across(tuple(effects), few, len(comparisons))


def _pieces(comparison: Comparison, tubes: TubeList) -> Iterable[tuple[tuple[str, str], _Piece]]:
    free = np.array([not change.anchor for change in comparison.changes])
    if not free.any():
        return
    info, earlier = comparison.after.card_info, comparison.before.card_info
    words = {"ground": info.support or earlier.support, "medium": info.medium or earlier.medium}
    for kind, text in words.items():
        name = " ".join(plain(text).casefold().split())
        if name:
            yield (kind, name), _piece(comparison, free / free.sum())
    contents = [set(parse_recipe(change.recipe, tubes).tubes) for change in comparison.changes]
    known = np.array([bool(c) for c in contents]) & free
    for name in sorted(set().union(*contents)):
        with_it = np.array([name in c for c in contents]) & known
        without = known & ~with_it
        if with_it.any() and without.any():
            yield ("tube", name), _piece(comparison, with_it / with_it.sum() - without / without.sum())


def _piece(comparison: Comparison, weight: Floats) -> _Piece:
    conditioned = comparison.conditioned
    variance = np.array([weight @ cov[:-1, :-1] @ weight for cov in conditioned.covariance])
    return _Piece(weight @ conditioned.difference[:-1], variance, int((weight > 0).sum()), comparison.seconds)


def _effect(key: tuple[str, str], pieces: list[_Piece], quantity: int) -> Effect:
    from scipy.stats import t as student

    y = np.array([p.shift[quantity] for p in pieces])
    mean, u = random_effects(y, np.array([p.variance[quantity] for p in pieces]))
    freedom = len(y) - 1
    half_width = float(student.ppf(1.0 - LEVEL / 2.0, freedom)) * u
    times = [p.seconds for p in pieces if p.seconds is not None]
    return Effect(
        kind=key[0],
        name=key[1],
        quantity=QUANTITIES[quantity],
        by=mean,
        low=mean - half_width,
        high=mean + half_width,
        cards=len(pieces),
        swatches=sum(p.swatches for p in pieces),
        p=float(2.0 * student.sf(abs(mean) / u, freedom)),
        days=float(np.median(times)) / _SECONDS_A_DAY if times else None,
    )


def random_effects(y: Floats, variance: Floats) -> tuple[float, float]:
    """Return the random-effects mean of several estimates and its standard error.

    Parameters
    ----------
    y : ndarray, shape (k,), k >= 2
    variance : ndarray, shape (k,)
        Of each estimate.

    Returns
    -------
    mean, standard_error : float
        To be used with Student's t of k - 1 degrees of freedom.

    References
    ----------
    DerSimonian & Laird (1986); Hartung & Knapp (2001).
    """
    fixed = 1.0 / variance
    centre = float((fixed * y).sum() / fixed.sum())
    q = float((fixed * (y - centre) ** 2).sum())
    between = max(0.0, (q - (len(y) - 1)) / float(fixed.sum() - (fixed**2).sum() / fixed.sum()))
    weight = 1.0 / (variance + between)
    mean = float((weight * y).sum() / weight.sum())
    scale = float((weight * (y - mean) ** 2).sum()) / (len(y) - 1)
    return mean, float(np.sqrt(max(scale, 1.0) / weight.sum()))


def _corrected(effects: list[Effect]) -> list[Effect]:
    p = holm(np.array([e.p for e in effects]))
    done = [replace(e, p=float(value)) for e, value in zip(effects, p, strict=True)]
    return sorted(done, key=lambda e: (QUANTITIES.index(e.quantity), -abs(e.by)))
