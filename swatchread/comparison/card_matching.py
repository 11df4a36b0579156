"""Which swatch of one reading is which of another: told by the card's own geometry, and by colour where it repeats.

Rows and columns are counted anew in every photo, so ids say little when a card lies turned or a cell was missed. Every
pair of swatches of one reading is tried on every pair of the other; the turn, shift and size that bring most swatches
onto a partner of like colour win, and are then refined (after Fischler & Bolles 1981, Communications of the ACM 24(6),
381-395, with all pairs instead of random ones).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from swatchread.colour.cielab import Floats
from swatchread.comparison.table_coordinates import CardPlaces, card_places, fit_places
from swatchread.errors import DifferentCardsError
from swatchread.note.model import Note

_SIZE = (0.8, 1.25)
"""Ratio of lengths that a bent card, a raised chart and a lens may feign."""

_NEAR = 0.22
"""Share of the pitch within which two places may be one swatch."""

_ALIKE = 18.0
"""CIELAB difference at which colour stops speaking for a pair; paint that dries moves less."""

_BASES = 5
_TOP = 16
_CHUNK = 400
_LEAST_SHARE = 0.6
_OFF, _COLOUR, _MOST_STRANGE = 0.08, 7.0, 1.35
"""Places (shares of the pitch) and colours (CIELAB) apart that count alike, and how much of both one card may show.

Cards painted by hand on one layout differ by 0.05 and 12, one card that dried unevenly by 0.005 and 6 (simulated); a
reading that shows some swatches only in part can bring 0.06 of places with the colours right.
"""

_OTHER_GROUND, _SAME_PLACES = 15.0, 0.02
"""CIELAB apart from which two grounds speak for two cards, and places (shares of the pitch) that speak louder.

Paper yellows by less. The painter whose cards all run from dark to light in the same few paints lays one so well on
another that colours tell little; but only one card keeps its places to some thousandths.
"""

_RIVAL = 0.97

Indices = npt.NDArray[np.intp]


@dataclass(frozen=True)
class Match:
    """Which swatches of two readings are the same paint.

    Attributes
    ----------
    pairs : tuple of (str, str)
        Ids in the first and in the second reading, in the order of the first.
    only_before, only_after : tuple of str
        Ids without a partner.
    turn : float
        By how much the card lies turned against the chart since, degrees clockwise as seen, -180 to 180.
    off : float
        Median distance between matched places after the best fit, shares of the pitch.
    colour : float
        Median CIELAB difference of matched swatches once the common shift is taken out.
    rival : bool
        Whether another way to lay the card fits about as well.
    """

    pairs: tuple[tuple[str, str], ...]
    only_before: tuple[str, ...]
    only_after: tuple[str, ...]
    turn: float
    off: float
    colour: float
    rival: bool


@dataclass(frozen=True, eq=False)
class _Laid:
    """One way to lay the first card on the second."""

    score: float
    one: Indices
    other: Indices
    turn: float
    off: float
    colour: float


def match_cards(before: Note, after: Note) -> Match:
    """Find which swatches of two readings are the same paint on the same card.

    Parameters
    ----------
    before, after : Note

    Returns
    -------
    Match

    Raises
    ------
    DifferentCardsError
        If the readings are not of one card, as far as their geometry and colours can tell.
    """
    first, second = card_places(before), card_places(after)
    ways = _ways(first, second)
    if not ways:
        alone = min(len(first.ids), len(second.ids)) < 2
        raise DifferentCardsError(
            f"{before.photo.file} and {after.photo.file} are not of one card, as far as can be told",
            "it takes two swatches in each to tell how a card lies"
            if alone
            else "no way to lay one card on the other brings two swatches together",
        )
    best = _preferred(ways, first, second)
    _require_one_card(best, (first, second), (before, after))
    rival = any(w.score > _RIVAL * best.score and not _agree(w, best) for w in ways)
    order = np.argsort(best.one)
    pairs = tuple((first.ids[i], second.ids[j]) for i, j in zip(best.one[order], best.other[order], strict=True))
    return Match(
        pairs=pairs,
        only_before=tuple(i for i in first.ids if i not in {p[0] for p in pairs}),
        only_after=tuple(i for i in second.ids if i not in {p[1] for p in pairs}),
        turn=best.turn,
        off=best.off,
        colour=best.colour,
        rival=rival,
    )


def _preferred(ways: list[_Laid], first: CardPlaces, second: CardPlaces) -> _Laid:
    """Return the best way; among equals the one that keeps the ids, for a card is seldom turned."""
    best = max(ways, key=lambda w: w.score)
    equals = [w for w in ways if w.score > _RIVAL * best.score]
    return max(
        equals, key=lambda w: (sum(first.ids[i] == second.ids[j] for i, j in zip(w.one, w.other, strict=True)), w.score)
    )


def _agree(one: _Laid, other: _Laid) -> bool:
    return set(zip(one.one.tolist(), one.other.tolist(), strict=True)) == set(
        zip(other.one.tolist(), other.other.tolist(), strict=True)
    )


def _require_one_card(best: _Laid, places: tuple[CardPlaces, CardPlaces], notes: tuple[Note, Note]) -> None:
    fewer = min(len(places[0].ids), len(places[1].ids))
    share = len(best.one) / fewer
    why = ""
    if share < _LEAST_SHARE:
        why = f"only {len(best.one)} of {fewer} swatches come to lie on one another"
    elif (best.off / _OFF) ** 2 + (best.colour / _COLOUR) ** 2 * len(best.one) / (len(best.one) - 1) > _MOST_STRANGE:
        why = (
            f"laid on one another their swatches lie {100 * best.off:.1f} % of the pitch apart and differ by "
            f"{best.colour:.0f} CIELAB units, each in its own way: more than one card that dried or aged"
        )
    elif best.off > _SAME_PLACES and (apart := _grounds_apart(notes)) > _OTHER_GROUND:
        why = (
            f"their bare grounds are {apart:.0f} CIELAB units apart, and laid on one another their swatches lie "
            f"{100 * best.off:.1f} % of the pitch apart"
        )
    if why:
        raise DifferentCardsError(f"{notes[0].photo.file} and {notes[1].photo.file} are not of one card", why)


def _grounds_apart(notes: tuple[Note, Note]) -> float:
    one, other = (np.array(note.card.ground.lab) for note in notes)
    return float(np.linalg.norm(one - other))


def _ways(first: CardPlaces, second: CardPlaces) -> list[_Laid]:
    """Return the best few ways to lay the first card on the second, each refined."""
    p = first.centres @ np.array([1.0, 1.0j])
    q = second.centres @ np.array([1.0, 1.0j])
    turns, shifts, scores = [], [], []
    for one, two in _bases(p):
        turn, shift = _hypotheses(p[one], p[two], q)
        if len(turn):
            turns.append(turn)
            shifts.append(shift)
            scores.append(_scored(first, second, turn, shift))
    if not turns:
        return []
    turn, shift, score = np.concatenate(turns), np.concatenate(shifts), np.concatenate(scores)
    ways: list[_Laid] = []
    for k in _distinct(turn, shift, score, p, _NEAR * second.pitch):
        moved = turn[k] * p + shift[k]
        laid = _refined(first, second, np.stack([moved.real, moved.imag], axis=-1))
        if laid is not None and not any(_agree(laid, w) for w in ways):
            ways.append(laid)
    return ways


def _distinct(
    turn: npt.NDArray[np.complex128],
    shift: npt.NDArray[np.complex128],
    score: Floats,
    p: npt.NDArray[np.complex128],
    near: float,
) -> list[int]:
    """Return the best few ways of which no two lay the whole card on nearly the same places."""
    ends = p[np.ravel(_bases(p)[:2])]
    kept: list[int] = []
    laid = np.zeros((0, len(ends)), dtype=np.complex128)
    for k in np.argsort(-score)[: 40 * _TOP].tolist():
        here = turn[k] * ends + shift[k]
        if not len(laid) or float(np.abs(laid - here).max(axis=1).min()) > near:
            kept.append(k)
            laid = np.vstack([laid, here])
            if len(kept) == _TOP:
                break
    return kept


def _bases(p: npt.NDArray[np.complex128]) -> list[tuple[int, int]]:
    """Return pairs of far-apart swatches, no swatch in two of them as long as there are enough."""
    if len(p) == 1:
        return []
    apart = np.abs(p[:, None] - p[None])
    bases: list[tuple[int, int]] = []
    free = np.ones(len(p), dtype=bool)
    while len(bases) < _BASES and free.sum() >= 2:
        masked = np.where(free[:, None] & free[None], apart, -1.0)
        one, two = divmod(int(np.argmax(masked)), len(p))
        bases.append((one, two))
        free[[one, two]] = False
    return bases


def _hypotheses(
    one: np.complex128, two: np.complex128, q: npt.NDArray[np.complex128]
) -> tuple[npt.NDArray[np.complex128], npt.NDArray[np.complex128]]:
    """Return turn-and-size factors and shifts that take two points onto two of the others."""
    ratio = (q[None, :] - q[:, None]) / (two - one)
    fits = (np.abs(ratio) > _SIZE[0]) & (np.abs(ratio) < _SIZE[1])
    start, _ = np.nonzero(fits)
    turn = ratio[fits]
    return turn, q[start] - turn * one


def _scored(
    first: CardPlaces, second: CardPlaces, turn: npt.NDArray[np.complex128], shift: npt.NDArray[np.complex128]
) -> Floats:
    """Return how well each way lays the swatches on partners of like colour."""
    p, q = first.centres @ np.array([1.0, 1.0j]), second.centres @ np.array([1.0, 1.0j])
    likeness = np.exp(-((_colour_distance(first.lab, second.lab) / _ALIKE) ** 2))
    scores = np.empty(len(turn))
    for start in range(0, len(turn), _CHUNK):
        part = slice(start, start + _CHUNK)
        moved = turn[part, None] * p + shift[part, None]
        apart = np.abs(moved[:, :, None] - q) / second.pitch
        worth = np.exp(-((apart / _NEAR) ** 2)) * (0.2 + 0.8 * likeness)
        # One swatch cannot be two: credit is given where partners choose each other.
        scores[part] = np.minimum(worth.max(axis=2).sum(axis=1), worth.max(axis=1).sum(axis=1))
    return scores


def _colour_distance(one: Floats, other: Floats) -> Floats:
    return np.asarray(np.linalg.norm(one[:, None] - other[None], axis=-1))


def _refined(first: CardPlaces, second: CardPlaces, moved: Floats) -> _Laid | None:
    """Pair swatches one to one, fit the places anew on the pairs, and judge the result."""
    from scipy.optimize import linear_sum_assignment

    shift = np.zeros(3)
    one = other = np.zeros(0, dtype=np.intp)
    map_ = np.zeros((3, 2))
    for _ in range(3):
        apart = np.linalg.norm(moved[:, None] - second.centres[None], axis=-1) / second.pitch
        likeness = np.exp(-((_colour_distance(first.lab + shift, second.lab) / _ALIKE) ** 2))
        worth = np.exp(-((apart / _NEAR) ** 2)) * (0.2 + 0.8 * likeness)
        one, other = linear_sum_assignment(-worth)
        near = apart[one, other] < 2.0 * _NEAR
        one, other = one[near], other[near]
        if len(one) < 2:
            return None
        map_ = fit_places(first.centres[one], second.centres[other])
        moved = first.centres @ map_[:2] + map_[2]
        shift = np.clip(np.median(second.lab[other] - first.lab[one], axis=0), -_ALIKE, _ALIKE)
    off = np.linalg.norm(moved[one] - second.centres[other], axis=-1) / second.pitch
    colour = np.linalg.norm(first.lab[one] + shift - second.lab[other], axis=-1)
    score = float((np.exp(-((off / _NEAR) ** 2)) * (0.2 + 0.8 * np.exp(-((colour / _ALIKE) ** 2)))).sum())
    turn = float(np.degrees(np.arctan2(map_[0, 1] - map_[1, 0], map_[0, 0] + map_[1, 1])))
    return _Laid(score, one, other, turn, float(np.median(off)), float(np.median(colour)))
