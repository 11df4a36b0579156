"""From a difference and its uncertainty to the painter's words, with an error rate that is kept.

A swatch is tested twice, for lightness and for colour (a* and b* together), each at half of `SWATCH_LEVEL`
(Bonferroni), so that an unchanged swatch is called changed in at most 5 of 100 cases. Over a whole card the smallest
p-values are corrected by the method of Holm (1979), Scandinavian Journal of Statistics 6(2), 65-70, which holds for any
correlation of the swatches' errors.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from swatchread.colour.cielab import Floats

LEVEL = 0.05
"""Probability of a false claim about a card as a whole."""
SWATCH_LEVEL = 0.04
"""Of one swatch's two tests together: below the 5 in 100 promised, because no card's errors are quite as modelled."""
_CLEAR = 1.96
"""Standard deviations beyond which 5 % of a normal distribution lie."""


@dataclass(frozen=True, eq=False)
class Judged:
    """p-values of a card's swatches, each shape (n,)."""

    lightness: Floats
    colour: Floats

    @property
    def swatch(self) -> Floats:
        """Of either change, corrected for the two tests."""
        return np.minimum(1.0, 2.0 * np.minimum(self.lightness, self.colour))


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
    z = difference / sigma
    lightness = weight[:, 0] @ two_sided(z[..., 0])
    colour = weight[:, 1:].mean(axis=1) @ np.exp(-0.5 * (z[..., 1] ** 2 + z[..., 2] ** 2))
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


def lightness_word(change: float) -> str:
    """Return lighter or darker."""
    return "lighter" if change > 0 else "darker"


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
    if not words:
        words.append(_toward(z["a"], z["b"]))
    return tuple(words)


def _toward(a: float, b: float) -> str:
    """Return the direction of a move that is neither of chroma nor of warmth alone."""
    if abs(a) >= abs(b):
        return "redder" if a > 0 else "greener"
    return "yellower" if b > 0 else "bluer"
