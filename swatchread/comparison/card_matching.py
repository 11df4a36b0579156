"""Which swatch of one reading is which of another: found by the card's own geometry, and by colour where it repeats.

Rows and columns are counted anew in every photo, so ids say little when a card lies turned or a cell was missed. The
chart says how the camera was tilted and no more: the next photo may lie beside a larger or a smaller print of it, so
lengths are counted in the card's own pitch. A few
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
from swatchread.comparison.table_coordinates import CardPlaces, card_places, fit_places, fitted_points, in_own_pitch
from swatchread.errors import DifferentCardsError
from swatchread.note.model import Note

_SIZE_RATIO = (0.6, 1.7)
"""Ratio of two readings' lengths, each in its own pitch: every second row may be missing from one (assumed)."""
_NEAR = 0.22
"""Share of the pitch within which two places may be one swatch (assumed)."""
_ALIKE = 18.0
"""CIELAB units apart at which colour no longer speaks for a pair; paint that dries moves less."""
_UNLIKE = 40.0
"""CIELAB units apart at which two swatches are no longer tried as one: twice that and a common shift (assumed)."""
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
_LEAST_SHARE, _LEAST_OF_MORE = 0.6, 1.0 / 3.0
"""Share of the swatches, of the reading with fewer and of that with more, that must find a partner (assumed)."""
_PLACE_UNIT, _COLOUR_UNIT, _MOST_STRANGE = 0.1, 8.0, 0.85
"""Places (shares of the pitch) and colours (CIELAB units) apart that count alike, and how much of both one card shows.

Cards painted by hand on one layout differ by 0.02 to 0.06 and 5 to 7 even where they fit best, one card by at most 0.02
and 3 (simulated). One that dried unevenly shows 0.005 and 6, and one that some swatches are seen of only in part 0.06,
with the colours right. So one card is strange in one way only, and the two are added.
"""
_ONE_PRINT, _OTHER_PRINT = 1.25, 0.15
"""Ratio of lengths by the chart above which the chart must be of another size, and how strange that is (assumed)."""
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

    `pairs` are indices of swatches. `size` is the ratio of lengths, each in its card's own pitch. `off` is the median
    distance between matched places after the best fit, in shares of the pitch; `colour` is the median CIELAB difference
    of matched swatches once the common shift is taken out. Both are as if nothing had been fitted to so few.
    """

    score: float
    pairs: tuple[tuple[int, int], ...]
    turn: float
    size: float
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
    places = card_places(before), card_places(after)
    first, second = (in_own_pitch(one) for one in places)
    layings = _layings(first, second)
    if not layings:
        alone = min(len(first.ids), len(second.ids)) < 2
        raise DifferentCardsError(
            f"{before.photo.file} and {after.photo.file} are not of one card, as far as can be told",
            "it takes two swatches in each to tell how a card lies"
            if alone
            else "however one card is turned, no two of its swatches lie where swatches of the other lie",
        )
    best = _preferred(layings, first, second)
    rival = any(other.score > _RIVAL * best.score and other.pairs != best.pairs for other in layings)
    _require_one_card(best, places, (before, after))
    pairs = tuple((first.ids[i], second.ids[j]) for i, j in best.pairs)
    if rival and 2 * sum(one == other for one, other in pairs) < len(pairs):
        raise DifferentCardsError(
            f"It is not certain which swatch of {before.photo.file} is which of {after.photo.file}",
            "the swatches fit about as well in two ways, and their rows and columns do not tell which is right",
            "Photograph the card the same way up both times, with all its swatches in the photo",
        )
    return CardMatch(
        pairs=pairs,
        only_before=tuple(i for i in first.ids if i not in {p[0] for p in pairs}),
        only_after=tuple(i for i in second.ids if i not in {p[1] for p in pairs}),
        turn=best.turn,
        rival=rival,
    )


def _preferred(layings: list[_Laying], first: CardPlaces, second: CardPlaces) -> _Laying:
    """Return the best way; among those that fit about as well the one that keeps the ids: a card is seldom turned."""
    best = max(laying.score for laying in layings)
    return max(
        (laying for laying in layings if laying.score > _RIVAL * best),
        key=lambda laying: (sum(first.ids[i] == second.ids[j] for i, j in laying.pairs), laying.score),
    )


def _require_one_card(best: _Laying, places: tuple[CardPlaces, CardPlaces], notes: tuple[Note, Note]) -> None:
    fewer, more = sorted((len(places[0].ids), len(places[1].ids)))
    count = len(best.pairs)
    grounds = float(np.linalg.norm(np.subtract(notes[0].card.ground.lab, notes[1].card.ground.lab)))
    strangeness = best.off / _PLACE_UNIT + best.colour / _COLOUR_UNIT
    if not 1.0 / _ONE_PRINT < best.size * places[1].pitch / places[0].pitch < _ONE_PRINT:
        strangeness += _OTHER_PRINT
    why = ""
    if count < max(_LEAST_SHARE * fewer, _LEAST_OF_MORE * more):
        why = f"only {count} of {fewer} and {more} swatches come to lie on one another"
    elif best.off > _SAME_PLACES and grounds > _OTHER_GROUND:
        why = (
            "neither the bare ground nor the places of the swatches are the same "
            f"(the grounds are {grounds:.0f} CIELAB units apart, the places {100 * best.off:.1f} % of the swatches' "
            "spacing)"
        )
    elif strangeness > _MOST_STRANGE:
        why = (
            "the places and colours of the swatches differ by more than drying or ageing explains "
            f"(places by {100 * best.off:.1f} % of the swatches' spacing, colours by {best.colour:.0f} CIELAB units "
            "beyond what all have in common)"
        )
    if why:
        raise DifferentCardsError(f"{notes[0].photo.file} and {notes[1].photo.file} are not of one card", why)


def _layings(first: CardPlaces, second: CardPlaces) -> list[_Laying]:
    """Return the best few ways to lay the first card on the second, each refined."""
    p, q = (places.centres @ np.array([1.0, 1.0j]) for places in (first, second))
    bases, likeness = _bases(p), _distances(first.lab, second.lab)
    moves = np.concatenate([np.zeros((0, 2), dtype=complex), *(_moves(p, q, likeness, base) for base in bases)])
    if not len(moves):
        return []
    scores = [_scores(moves[start : start + _CHUNK], p, q, likeness) for start in range(0, len(moves), _CHUNK)]
    ranked = moves[np.argsort(-np.concatenate(scores))[:_RANKED]]
    layings: list[_Laying] = []
    for turn, shift in _different(ranked, p[np.ravel(bases[:2])], _NEAR):
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


def _moves(p: Complexes, q: Complexes, likeness: Floats, base: tuple[int, int]) -> Complexes:
    """Return the turns (with their size) and shifts, shape (k, 2), that take two points onto two of like colour."""
    one, two = base
    turn = (q[None, :] - q[:, None]) / (p[two] - p[one])
    sizes, alike = np.abs(turn), likeness < _UNLIKE
    fits = (sizes > _SIZE_RATIO[0]) & (sizes < _SIZE_RATIO[1]) & alike[one][:, None] & alike[two][None, :]
    return np.stack([turn[fits], q[np.nonzero(fits)[0]] - turn[fits] * p[one]], axis=-1)


def _scores(moves: Complexes, p: Complexes, q: Complexes, colour: Floats) -> Floats:
    """Return how well each way lays the swatches on partners of like colour."""
    moved = moves[:, :1] * p + moves[:, 1:]
    worth = _worth(np.abs(moved[:, :, None] - q), colour)
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
        apart = _distances(moved, second.centres)
        one, other = linear_sum_assignment(-_worth(apart, _distances(first.lab + shift, second.lab)))
        near = apart[one, other] < 2.0 * _NEAR
        one, other = one[near], other[near]
        if len(one) < 2:
            return None
        map_ = fit_places(first.centres[one], second.centres[other])
        moved = first.centres @ map_[:2] + map_[2]
        shift = np.clip(np.median(second.lab[other] - first.lab[one], axis=0), -_ALIKE, _ALIKE)
    off = np.linalg.norm(moved[one] - second.centres[other], axis=-1)
    colour = np.linalg.norm(first.lab[one] + shift - second.lab[other], axis=-1)
    return _Laying(
        score=float(_worth(off, colour).sum()),
        pairs=tuple(zip(one.tolist(), other.tolist(), strict=True)),
        turn=float(np.degrees(np.arctan2(map_[0, 1] - map_[1, 0], map_[0, 0] + map_[1, 1]))),
        size=float(np.sqrt(abs(np.linalg.det(map_[:2])))),
        off=_unfitted(off, fitted_points(first.centres[one])),
        colour=_unfitted(colour, 1.0),
    )


def _unfitted(distance: Floats, fitted: float) -> float:
    """Return the median distance as it would be without a fit that took the freedom of so many points."""
    count = len(distance)
    return float(np.median(distance) * np.sqrt(count / max(count - fitted, 0.5)))
