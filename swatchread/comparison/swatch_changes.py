"""From differences without their shared error to what became of each swatch and of the card."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import numpy.typing as npt

from swatchread.colour.cielab import Floats, de00_metric, delta_e_2000, lab_to_lch, value_of_lab
from swatchread.colour.painter_terms import warmth
from swatchread.comparison.anchoring import Conditioned
from swatchread.comparison.card_matching import CardMatch
from swatchread.comparison.comparison_result import Amount, Change, Common, as_triple
from swatchread.comparison.verdict import (
    LEVEL,
    SWATCH_LEVEL,
    Judged,
    colour_words,
    holm,
    judge,
    lightness_word,
    two_sided,
)
from swatchread.note.model import Note

_STEP = 0.1
"""CIELAB units over which derivatives are taken."""
_MOST_HUE = 180.0
"""Degrees; an uncertainty of hue is never larger."""


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
    sigma = sigmas(conditioned)[:-1]
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


def sigmas(conditioned: Conditioned) -> Floats:
    """Return the standard uncertainties of the differences, shape (n + 1, 3)."""
    sigma: Floats = np.sqrt(np.maximum(np.einsum("knn->nk", conditioned.covariance), 1e-6))
    return sigma


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
    words: list[str] = []
    if p[0] < LEVEL:
        words.append(lightness_word(mean[0]))
    if p[1] < LEVEL:
        words.append("redder" if mean[1] > 0 else "greener")
    if p[2] < LEVEL:
        words.append("yellower" if mean[2] > 0 else "bluer")
    L, a, b = (Amount(float(m), float(s)) for m, s in zip(mean, u, strict=True))
    return Common(L, a, b, as_triple(p), tuple(words), len(members))


def _words(difference: Floats, sigma: Floats, amounts: dict[str, Amount], judged: Judged, k: int) -> tuple[str, ...]:
    words: tuple[str, ...] = ()
    if judged.lightness[k] < SWATCH_LEVEL / 2:
        words = (lightness_word(float(difference[0])),)
    if judged.colour[k] < SWATCH_LEVEL / 2:
        z = {name: amounts[name].by / max(amounts[name].u, 1e-9) for name in ("C", "warmth", "b")}
        words += colour_words({**z, "a": float(difference[1] / sigma[1])})
    return words


def _amounts(before: Floats, after: Floats, sigma: Floats) -> dict[str, tuple[Floats, Floats]]:
    """Return each quantity's change and its standard uncertainty, (n,) each."""
    lch_before, lch_after = lab_to_lch(before), lab_to_lch(after)
    middle = (before + after) / 2.0
    chroma = np.hypot(middle[:, 1], middle[:, 2])
    along, across = (
        middle[:, 1:] / np.maximum(chroma, 1e-9)[:, None],
        middle[:, :0:-1] / np.maximum(chroma, 1e-9)[:, None],
    )
    metric = de00_metric(middle)
    turn = (lch_after[:, 2] - lch_before[:, 2] + 180.0) % 360.0 - 180.0
    u_hue = np.degrees(np.linalg.norm(across * sigma[:, 1:], axis=1) / np.maximum(chroma, 1e-9))
    u_de00 = np.sqrt(np.einsum("nii,ni->n", metric, sigma**2))
    return {
        "L": (after[:, 0] - before[:, 0], sigma[:, 0]),
        "C": (lch_after[:, 1] - lch_before[:, 1], np.maximum(np.linalg.norm(along * sigma[:, 1:], axis=1), 1e-6)),
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
