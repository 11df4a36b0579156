"""How likely it is that two measured colours are one colour to the eye."""

from __future__ import annotations

from math import erf, exp, pi, sqrt

VISIBLE_DE00 = 0.8
"""CIEDE2000 that half of the observers see: Paravina et al. 2015 (found on dental ceramics)."""

SIGMAS_PER_UNCERTAINTY = 1.87796
"""Radius, in standard deviations of one axis, that holds 68.27 % of a normal error in three dimensions."""


def same_probability(de00: float, uncertainties: tuple[float, float], visible: float = VISIBLE_DE00) -> float:
    """Return the probability that two colours are truly closer than an eye can see.

    The model: close together, CIEDE2000 is a plain distance in a space of three axes. Each reading is off by a normal
    error, alike along the three axes and independent of the other reading's, of such size that its length stays below
    the stated uncertainty 68.27 % of the time (that is what `uncertainty.de00` of a note means). Nothing is assumed
    about where the true colours lie (flat prior). Then the true difference is normal round the measured one with
    σ² = (u1² + u2²)/1.87796² on each axis, and its length over σ follows a non-central chi distribution with 3 degrees
    of freedom; the result is its distribution function at `visible`.

    So large uncertainties make the probability small even for equal readings: such readings cannot tell.

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
    sigma = sqrt(uncertainties[0] ** 2 + uncertainties[1] ** 2) / SIGMAS_PER_UNCERTAINTY
    if sigma == 0.0:
        return 1.0 if de00 <= visible else 0.0
    d, t = de00 / sigma, visible / sigma
    if d < 1e-4:
        return erf(t / sqrt(2.0)) - sqrt(2.0 / pi) * t * exp(-t * t / 2.0)
    inside = _phi(t - d) - _phi(-t - d)
    edge = (exp(-((t - d) ** 2) / 2.0) - exp(-((t + d) ** 2) / 2.0)) / (d * sqrt(2.0 * pi))
    return min(1.0, max(0.0, inside - edge))


def _phi(x: float) -> float:
    return 0.5 * (1.0 + erf(x / sqrt(2.0)))
