"""Which swatch of one reading is which of another: found by the card's own geometry, and by colour where it repeats.

Rows and columns are counted anew in every photo, so ids say little when a card lies turned or a cell was missed. A few
pairs of far-apart swatches of one reading are tried on every pair of the other. The turn, shift and size that bring
most swatches onto a partner of like colour are kept and refined (after Fischler & Bolles 1981, Communications of the
ACM 24(6), 381-395, but with all pairs in place of random ones: at equal time, random ones missed one card in 120 that
these find, and they give no second best way, which a warning of a doubtful match needs).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from swatchread.colour.cielab import Floats
from swatchread.comparison.table_coordinates import CardPlaces, card_places, fit_places
from swatchread.errors import DifferentCardsError
from swatchread.note.model import Note

_SIZE_RATIO = (0.8, 1.25)
"""Ratio of lengths that a bent card, a raised chart and a lens may feign (assumed)."""
_NEAR = 0.22
"""Share of the pitch within which two places may be one swatch (assumed)."""
_ALIKE = 18.0
"""CIELAB units apart at which colour no longer speaks for a pair; paint that dries moves less."""
_COLOUR_BLIND = 0.2
"""Weight of a pair whose places agree and whose colours do not, against one where both do (assumed)."""
_BASES = 5
"""Pairs of far-apart swatches that are tried: if some were missed, another pair is there."""
_REFINED = 16
"""Different ways to lay the card that are refined."""
_RANKED = 40 * _REFINED
"""Best ways among which the different ones are looked for."""
_CHUNK = 400
"""Ways that are scored at once, to bound memory."""
_LEAST_SHARE = 0.6
"""Share of the swatches, of the reading with fewer, that must find a partner."""
_PLACE_UNIT, _COLOUR_UNIT, _MOST_STRANGE = 0.08, 7.0, 1.35
"""Places (shares of the pitch) and colours (CIELAB units) apart that count alike, and how much of both one card shows.

Cards painted by hand on one layout differ by 0.05 and 12, one card that dried unevenly by 0.005 and 6 (simulated). A
reading that shows some swatches only in part can differ by 0.06 in places, with the colours right.
"""
_OTHER_GROUND = 15.0
"""CIELAB units apart from which two grounds speak for two cards; paper yellows by less."""
_SAME_PLACES = 0.02
"""Share of the pitch below which places prove one card in spite of its ground.

A painter who paints the same run in the same few paints on the same layout lays one card so well on another that
colours tell little; but only one card keeps its places to some thousandths.
"""
_RIVAL = 0.97
"""Share of the best score above which another way to lay the card fits about as well."""

Complexes = npt.NDArray[np.complex128]
"""Points of the plane, or the turns and shifts that move them, as complex numbers."""


@dataclass(frozen=True)
class CardMatch:
    """Which swatches of two readings are the same paint.

    Attributes
    ----------
    pairs : tuple of (str, str)
        Ids in the first and in the second reading, in the order of the first.
    only_before, only_after : tuple of str
        Ids without a partner.
    turn : float
        By how much the card lies turned against the chart since, degrees clockwise as seen, -180 to 180.
    rival : bool
        Whether another way to lay the card fits about as well.
    """

    pairs: tuple[tuple[str, str], ...]
    only_before: tuple[str, ...]
    only_after: tuple[str, ...]
    turn: float
    rival: bool


@dataclass(frozen=True)
class _Laying:
    """One way to lay the first card on the second.

    `pairs` are indices of swatches. `off` is the median distance between matched places after the best fit, in shares
    of the pitch; `colour` is the median CIELAB difference of matched swatches once the common shift is taken out.
    """

    score: float
    pairs: tuple[tuple[int, int], ...]
    turn: float
    off: float
    colour: float


def match_cards(before: Note, after: Note) -> CardMatch:
    """Find which swatches of two readings are the same paint on the same card.

    Parameters
    ----------
    before, after : Note

    Returns
    -------
    CardMatch

    Raises
    ------
    DifferentCardsError
        If the readings are not of one card, as far as their geometry and colours can tell.
    """
    first, second = card_places(before), card_places(after)
    layings = _layings(first, second)
    if not layings:
        alone = min(len(first.ids), len(second.ids)) < 2
        raise DifferentCardsError(
            f"{before.photo.file} and {after.photo.file} are not of one card, as far as can be told",
            "it takes two swatches in each to tell how a card lies"
            if alone
            else "no way to lay one card on the other brings two swatches together",
        )
    best = _preferred(layings, first, second)
    _require_one_card(best, (first, second), (before, after))
    pairs = tuple((first.ids[i], second.ids[j]) for i, j in best.pairs)
    return CardMatch(
        pairs=pairs,
        only_before=tuple(i for i in first.ids if i not in {p[0] for p in pairs}),
        only_after=tuple(i for i in second.ids if i not in {p[1] for p in pairs}),
        turn=best.turn,
        rival=any(other.score > _RIVAL * best.score and other.pairs != best.pairs for other in layings),
    )


def _preferred(layings: list[_Laying], first: CardPlaces, second: CardPlaces) -> _Laying:
    """Return the best way; among those that fit about as well the one that keeps the ids: a card is seldom turned."""
    best = max(laying.score for laying in layings)
    return max(
        (laying for laying in layings if laying.score > _RIVAL * best),
        key=lambda laying: (sum(first.ids[i] == second.ids[j] for i, j in laying.pairs), laying.score),
    )


def _require_one_card(best: _Laying, places: tuple[CardPlaces, CardPlaces], notes: tuple[Note, Note]) -> None:
    fewer, count = min(len(places[0].ids), len(places[1].ids)), len(best.pairs)
    grounds = float(np.linalg.norm(np.subtract(notes[0].card.ground.lab, notes[1].card.ground.lab)))
    strangeness = (best.off / _PLACE_UNIT) ** 2 + (best.colour / _COLOUR_UNIT) ** 2 * count / (count - 1)
    why = ""
    if count < _LEAST_SHARE * fewer:
        why = f"only {count} of {fewer} swatches come to lie on one another"
    elif strangeness > _MOST_STRANGE:
        why = (
            f"laid on one another their swatches lie {100 * best.off:.1f} % of the pitch apart and differ by "
            f"{best.colour:.0f} CIELAB units, each in its own way: more than one card that dried or aged"
        )
    elif best.off > _SAME_PLACES and grounds > _OTHER_GROUND:
        why = (
            f"their bare grounds are {grounds:.0f} CIELAB units apart, and laid on one another their swatches lie "
            f"{100 * best.off:.1f} % of the pitch apart"
        )
    if why:
        raise DifferentCardsError(f"{notes[0].photo.file} and {notes[1].photo.file} are not of one card", why)


def _layings(first: CardPlaces, second: CardPlaces) -> list[_Laying]:
    """Return the best few ways to lay the first card on the second, each refined."""
    p, q = (places.centres @ np.array([1.0, 1.0j]) for places in (first, second))
    bases = _bases(p)
    moves = np.concatenate([np.zeros((0, 2), dtype=complex), *(_moves(p[one], p[two], q) for one, two in bases)])
    if not len(moves):
        return []
    likeness = _distances(first.lab, second.lab)
    scores = [
        _scores(moves[start : start + _CHUNK], p, q, (likeness, second.pitch)) for start in range(0, len(moves), _CHUNK)
    ]
    ranked = moves[np.argsort(-np.concatenate(scores))[:_RANKED]]
    layings: list[_Laying] = []
    for turn, shift in _different(ranked, p[np.ravel(bases[:2])], _NEAR * second.pitch):
        moved = turn * p + shift
        laying = _refined(first, second, np.stack([moved.real, moved.imag], axis=-1))
        if laying is not None and all(laying.pairs != other.pairs for other in layings):
            layings.append(laying)
    return layings


def _bases(p: Complexes) -> list[tuple[int, int]]:
    """Return pairs of far-apart swatches, no swatch in two of them as long as there are enough."""
    apart = np.abs(p[:, None] - p[None])
    bases: list[tuple[int, int]] = []
    free = np.ones(len(p), dtype=bool)
    while len(bases) < _BASES and free.sum() >= 2:
        masked = np.where(free[:, None] & free[None], apart, -1.0)
        one, two = divmod(int(np.argmax(masked)), len(p))
        bases.append((one, two))
        free[[one, two]] = False
    return bases


def _moves(one: np.complex128, two: np.complex128, q: Complexes) -> Complexes:
    """Return the turns (with their size) and shifts, shape (k, 2), that take two points onto two of the others."""
    ratio = (q[None, :] - q[:, None]) / (two - one)
    fits = (np.abs(ratio) > _SIZE_RATIO[0]) & (np.abs(ratio) < _SIZE_RATIO[1])
    turn = ratio[fits]
    return np.stack([turn, q[np.nonzero(fits)[0]] - turn * one], axis=-1)


def _scores(moves: Complexes, p: Complexes, q: Complexes, of: tuple[Floats, float]) -> Floats:
    """Return how well each way lays the swatches on partners of like colour."""
    colour, pitch = of
    moved = moves[:, :1] * p + moves[:, 1:]
    worth = _worth(np.abs(moved[:, :, None] - q) / pitch, colour)
    # One swatch cannot be two: credit is given where partners choose each other.
    scores: Floats = np.minimum(worth.max(axis=2).sum(axis=1), worth.max(axis=1).sum(axis=1))
    return scores


def _different(ranked: Complexes, ends: Complexes, near: float) -> Complexes:
    """Return the best few ways of which no two bring the ends of the card to nearly the same places."""
    laid = ranked[:, :1] * ends + ranked[:, 1:]
    kept: list[int] = []
    for k in range(len(ranked)):
        if not kept or np.abs(laid[kept] - laid[k]).max(axis=1).min() > near:
            kept.append(k)
        if len(kept) == _REFINED:
            break
    return ranked[kept]


def _worth(apart: Floats, colour: Floats) -> Floats:
    """Return how much pairs of swatches speak for a way: by places (shares of the pitch) and colours apart."""
    return np.exp(-((apart / _NEAR) ** 2)) * (_COLOUR_BLIND + (1.0 - _COLOUR_BLIND) * np.exp(-((colour / _ALIKE) ** 2)))


def _distances(one: Floats, other: Floats) -> Floats:
    """Return the distance of each of some points from each of others, shape (n, m)."""
    from scipy.spatial.distance import cdist

    distances: Floats = cdist(one, other)
    return distances


def _refined(first: CardPlaces, second: CardPlaces, moved: Floats) -> _Laying | None:
    """Pair swatches one to one, fit the places anew on the pairs, and judge the result."""
    from scipy.optimize import linear_sum_assignment

    shift = np.zeros(3)
    for _ in range(3):
        apart = _distances(moved, second.centres) / second.pitch
        one, other = linear_sum_assignment(-_worth(apart, _distances(first.lab + shift, second.lab)))
        near = apart[one, other] < 2.0 * _NEAR
        one, other = one[near], other[near]
        if len(one) < 2:
            return None
        map_ = fit_places(first.centres[one], second.centres[other])
        moved = first.centres @ map_[:2] + map_[2]
        shift = np.clip(np.median(second.lab[other] - first.lab[one], axis=0), -_ALIKE, _ALIKE)
    off = np.linalg.norm(moved[one] - second.centres[other], axis=-1) / second.pitch
    colour = np.linalg.norm(first.lab[one] + shift - second.lab[other], axis=-1)
    return _Laying(
        score=float(_worth(off, colour).sum()),
        pairs=tuple(zip(one.tolist(), other.tolist(), strict=True)),
        turn=float(np.degrees(np.arctan2(map_[0, 1] - map_[1, 0], map_[0, 0] + map_[1, 1]))),
        off=float(np.median(off)),
        colour=float(np.median(colour)),
    )
