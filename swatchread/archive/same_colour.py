"""How likely it is that two measured colours are one colour to the eye."""

from __future__ import annotations

from math import hypot
from typing import Final

VISIBLE_DE00: Final = 0.8
"""CIEDE2000 difference that half of the observers see: Paravina et al. 2015 (found on dental ceramics)."""

SIGMAS_PER_UNCERTAINTY: Final = 1.87796
"""Radius, in standard deviations of one axis, that holds 68.27 % of a normal error in three dimensions."""

_EXACT_SIGMA: Final = 1e-3
"""CIEDE2000 below which an error is none; no photo measures so well, and the squares below stay finite."""


def same_probability(de00: float, uncertainties: tuple[float, float], visible: float = VISIBLE_DE00) -> float:
    """Return the probability that two colours are truly closer than an eye can see.

    The model: close together, CIEDE2000 is a plain distance in a space of three axes. Each reading is off by a normal
    error. It is alike along the three axes, independent of the other reading's, and as large as the stated uncertainty
    says: its length stays below that uncertainty 68.27 % of the time (this is what `uncertainty.de00` of a note means).
    Nothing is assumed about where the true colours lie (flat prior). Then the true difference is normal round the
    measured one with σ² = (u1² + u2²)/1.87796² on each axis. The square of its length over σ follows a non-central
    chi-square distribution with 3 degrees of freedom. The result is the distribution function at `visible`.

    Large uncertainties therefore make the probability small even for equal readings: such readings cannot tell.

    Parameters
    ----------
    de00 : float
        Measured CIEDE2000 difference, >= 0.
    uncertainties : (float, float)
        One-sigma CIEDE2000 uncertainty of each colour, >= 0; 0 for a colour given exactly.
    visible : float
        Differences up to this count as one colour, > 0.

    Returns
    -------
    float
        0 to 1.
    """
    from scipy.special import chndtr

    sigma = hypot(*uncertainties) / SIGMAS_PER_UNCERTAINTY
    if sigma < _EXACT_SIGMA:
        return 1.0 if de00 <= visible else 0.0
    return float(chndtr((visible / sigma) ** 2, 3, (de00 / sigma) ** 2))
