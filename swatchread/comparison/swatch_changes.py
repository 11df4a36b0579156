"""From differences without their shared error to what became of each swatch and of the card, in the painter's words.

A swatch is tested twice, for lightness and for colour (a* and b* together), each at half of `SWATCH_LEVEL`
(Bonferroni), so that an unchanged swatch is called changed in at most 5 of 100 cases. Over a whole card the smallest
p-values are corrected by the method of Holm (1979), Scandinavian Journal of Statistics 6(2), 65-70, which holds for any
correlation of the swatches' errors.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from swatchread.colour.cielab import Floats, de00_metric, delta_e_2000, lab_to_lch, value_of_lab
from swatchread.colour.painter_terms import warmth
from swatchread.comparison.anchoring import Conditioned
from swatchread.comparison.card_matching import CardMatch
from swatchread.comparison.comparison_result import Amount, Change, Common, as_triple
from swatchread.note.model import Note

LEVEL = 0.05
"""Probability of a false claim about a card as a whole."""
SWATCH_LEVEL = 0.04
"""Of one swatch's two tests together: below the 5 in 100 promised, because no card's errors are quite as modelled."""
TAIL = 7.0
"""Degrees of freedom of a swatch's errors: single ones are further off than normal ones would be (found in the same
way as the constants of `pair_covariance`)."""
_CLEAR = 1.96
"""Standard deviations beyond which 5 % of a normal distribution lie."""
_DIRECTIONS = (("lighter", "darker"), ("redder", "greener"), ("yellower", "bluer"))
"""Words for more and for less of L*, a* and b*."""
_STEP = 0.1
"""CIELAB units over which derivatives are taken."""
_MOST_HUE = 180.0
"""Degrees; an uncertainty of hue is never larger."""


@dataclass(frozen=True, eq=False)
class Judged:
    """p-values of a card's swatches, each shape (n,)."""

    lightness: Floats
    colour: Floats

    @property
    def swatch(self) -> Floats:
        """Of either change, corrected for the two tests."""
        return np.minimum(1.0, 2.0 * np.minimum(self.lightness, self.colour))


def changes_of(
    notes: tuple[Note, Note], match: CardMatch, conditioned: Conditioned, anchors: tuple[str, ...]
) -> tuple[Change, ...]:
    """Say what became of each matched swatch.

    Parameters
    ----------
    notes : (Note, Note)
        The first and the second reading.
    match : CardMatch
    conditioned : Conditioned
        Its rows are the match's pairs, then the ground.
    anchors : tuple of str
        Ids of the first reading that are not judged.

    Returns
    -------
    tuple of Change
    """
    before = np.array([notes[0].swatch(one).lab for one, _ in match.pairs])
    after = before + conditioned.difference[:-1]
    sigma = np.sqrt(np.maximum(np.einsum("knn->nk", conditioned.covariance), 1e-6))[:-1]
    sizes = conditioned.of_sizes
    judged = judge(sizes.difference[:, :-1], sizes.sigma[:, :-1], sizes.weight)
    free = np.array([one not in anchors for one, _ in match.pairs])
    corrected = np.ones(len(free))
    corrected[free] = holm(judged.swatch[free])
    amounts = _amounts(before, after, sigma)
    changes = []
    for k, (one, other) in enumerate(match.pairs):
        own = {name: Amount(float(by[k]), float(u[k])) for name, (by, u) in amounts.items()}
        words = _words(conditioned.difference[k], sigma[k], own, judged, k) if free[k] else ()
        changes.append(
            Change(
                id=one,
                id_after=other,
                recipe=notes[1].swatch(other).recipe or notes[0].swatch(one).recipe,
                before=as_triple(before[k]),
                after=as_triple(after[k]),
                p=float(judged.swatch[k]) if free[k] else 1.0,
                p_card=float(corrected[k]),
                words=words,
                anchor=not free[k],
                **own,
            )
        )
    return tuple(changes)


def common_of(conditioned: Conditioned, members: npt.NDArray[np.intp]) -> Common:
    """Say how the card's swatches moved together.

    It is the plain mean over the swatches, with the variance of that mean under the whole covariance. The error that
    all swatches share does not average out, so many swatches do not make it seem more certain than it is.

    Parameters
    ----------
    conditioned : Conditioned
    members : ndarray of int
        Rows of the swatches that are no anchors.

    Returns
    -------
    Common
    """
    mean = conditioned.difference[members].mean(axis=0)
    u = np.sqrt([cov[np.ix_(members, members)].mean() for cov in conditioned.covariance])
    z = mean / u
    p = holm(two_sided(z))
    words = tuple(_direction(k, mean[k]) for k in range(3) if p[k] < LEVEL)
    L, a, b = (Amount(float(m), float(s)) for m, s in zip(mean, u, strict=True))
    return Common(L, a, b, as_triple(p), words, len(members))


def _words(difference: Floats, sigma: Floats, amounts: dict[str, Amount], judged: Judged, k: int) -> tuple[str, ...]:
    words: tuple[str, ...] = ()
    if judged.lightness[k] < SWATCH_LEVEL / 2:
        words = (_direction(0, difference[0]),)
    if judged.colour[k] < SWATCH_LEVEL / 2:
        z = {name: amounts[name].by / max(amounts[name].u, 1e-9) for name in ("C", "warmth", "b")}
        words += colour_words({**z, "a": float(difference[1] / sigma[1])})
    return words


def _amounts(before: Floats, after: Floats, sigma: Floats) -> dict[str, tuple[Floats, Floats]]:
    """Return each quantity's change and its standard uncertainty, (n,) each."""
    lch_before, lch_after = lab_to_lch(before), lab_to_lch(after)
    middle = (before + after) / 2.0
    chroma = np.maximum(np.hypot(middle[:, 1], middle[:, 2]), 1e-9)[:, None]
    along = np.where(chroma > 1e-9, middle[:, 1:] / chroma, [1.0, 0.0])  # a grey may move in any direction
    metric = de00_metric(middle)
    turn = (lch_after[:, 2] - lch_before[:, 2] + 180.0) % 360.0 - 180.0
    u_hue = np.degrees(np.linalg.norm(along[:, ::-1] * sigma[:, 1:] / chroma, axis=1))
    u_de00 = np.sqrt(np.einsum("nii,ni->n", metric, sigma**2))
    return {
        "L": (after[:, 0] - before[:, 0], sigma[:, 0]),
        "C": (lch_after[:, 1] - lch_before[:, 1], np.linalg.norm(along * sigma[:, 1:], axis=1)),
        "h": (turn, np.minimum(u_hue, _MOST_HUE)),
        "b": (after[:, 2] - before[:, 2], sigma[:, 2]),
        "value": (value_of_lab(after) - value_of_lab(before), _carried(value_of_lab, middle, sigma)),
        "warmth": (warmth(after) - warmth(before), _carried(warmth, middle, sigma)),
        "de00": (delta_e_2000(before, after), u_de00),
    }


def _carried(quantity: Callable[[Floats], Floats], lab: Floats, sigma: Floats) -> Floats:
    """Return the standard uncertainty of a quantity of CIELAB, carried over from that of L*, a* and b*."""
    steps = np.eye(3) * _STEP
    slope = np.stack([(quantity(lab + s) - quantity(lab - s)) / (2.0 * _STEP) for s in steps], axis=-1)
    carried: Floats = np.linalg.norm(slope * sigma, axis=1)
    return carried


def judge(difference: Floats, sigma: Floats, weight: Floats) -> Judged:
    """Test swatches for a change of lightness and of colour.

    Parameters
    ----------
    difference : ndarray, shape (m, n, 3)
        CIELAB, for each of m sizes that the errors may have.
    sigma : ndarray, shape (m, n, 3)
        Standard uncertainties if nothing changed.
    weight : ndarray, shape (m, 3)
        Probability of each size for L*, a*, b*. The p-values are averaged with it, because a mixture has longer tails
        than the normal distribution of its mean variance.

    Returns
    -------
    Judged
    """
    from scipy.special import stdtr

    spread = TAIL / (TAIL - 2.0)  # the variance of Student's t
    square = spread * (difference / sigma) ** 2
    lightness = weight[:, 0] @ (2.0 * stdtr(TAIL, -np.sqrt(square[..., 0])))
    colour = weight[:, 1:].mean(axis=1) @ (1.0 + square[..., 1:].sum(axis=-1) / TAIL) ** (-TAIL / 2.0)
    return Judged(lightness, colour)


def two_sided(z: npt.ArrayLike) -> Floats:
    """Return two-sided p-values of standard normal deviates."""
    from scipy.special import ndtr

    p: Floats = 2.0 * ndtr(-np.abs(z))
    return p


def holm(p: npt.ArrayLike) -> Floats:
    """Return p-values corrected for their number by Holm's step-down method.

    Parameters
    ----------
    p : array_like, shape (n,)

    Returns
    -------
    ndarray, shape (n,)

    References
    ----------
    Holm (1979), Scandinavian Journal of Statistics 6(2), 65-70.
    """
    p = np.array(p, dtype=np.float64)
    order = np.argsort(p, kind="stable")
    stepped = np.maximum.accumulate(p[order] * np.arange(len(p), 0, -1)) if len(p) else p
    corrected = np.empty_like(p)
    corrected[order] = np.minimum(stepped, 1.0)
    return corrected


def _direction(channel: int, change: float) -> str:
    """Return the word for a change of L*, a* or b*."""
    more, less = _DIRECTIONS[channel]
    return more if change > 0 else less


def colour_words(z: dict[str, float]) -> tuple[str, ...]:
    """Return the words for a change of colour that is already known to be clear of the noise.

    Parameters
    ----------
    z : dict
        Standardised changes: ``C`` (chroma), ``warmth``, ``a`` and ``b``.

    Returns
    -------
    tuple of str
        At least one.
    """
    words = []
    if abs(z["C"]) > _CLEAR:
        words.append("richer" if z["C"] > 0 else "duller")
    if abs(z["warmth"]) > _CLEAR:
        words.append("warmer" if z["warmth"] > 0 else "cooler")
    if z["b"] > _CLEAR and z["b"] > abs(z["a"]):
        words.append("yellower")
    if not words:  # a move that is neither of chroma nor of warmth alone
        words.append(_direction(1, z["a"]) if abs(z["a"]) >= abs(z["b"]) else _direction(2, z["b"]))
    return tuple(words)
