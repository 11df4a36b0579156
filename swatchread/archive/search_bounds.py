"""How far a CIEDE2000 radius reaches in CIELAB.

Write u = ΔC'/S_C and v = ΔH'/S_H, so that ΔE00² = (ΔL'/S_L)² + u² + v² + R_T·u·v, and let r be the radius.

Lightness. As |R_T| < 2 the chromatic part is never negative, so |ΔL'| <= r·S_L. With x = mean L' - 50,
S_L = 1 + 0.015·x²/√(20 + x²) <= 1 + 0.015·|x|, and |x| <= |L1 - 50| + |ΔL'|/2; solved for |ΔL'|:

    |ΔL'| <= r·(1 + 0.015·|L1 - 50|) / (1 - 0.0075·r).

Chroma and hue. Let D be the distance of the two colours in the (a', b') plane; D² = ΔC'² + ΔH'² (law of cosines).
T <= 1.93 < 3 makes S_H <= S_C, so D² <= S_C²·(u² + v²). As u² + v² + R_T·u·v >= (1 - |R_T|/2)·(u² + v²),

    D <= k·r·S_C   with   k = 1/√(1 - |R_T|/2),   S_C = 1 + 0.045·mean C' <= 1 + 0.045·(C1' + D/2),

hence D <= k·r·(1 + 0.045·C1') / (1 - 0.0225·k·r). Always |R_T| <= 2·sin(2Δθ), and the mean hue lies on the shorter
arc, so within 90° of h1': far from 275° that alone makes Δθ nearly nothing. Once some bound on D is known it bounds
the mean chroma and the mean hue, therefore G, R_C and Δθ, therefore k and C1', and gives a closer bound on D: each
turn of that wheel keeps the proof. At last b' = b and a' = (1 + G)·a with one G for both colours, so |Δb| <= D and
|Δa| <= D/(1 + G).

Read the other way round, with D >= the distance in the (a, b) plane and both parts of ΔE00² bounded by themselves:

    ΔE00² >= (|ΔL|/(1 + 0.015·(|L1 - 50| + |ΔL|/2)))² + (D/(k·(1 + 0.045·(C1' + D/2))))².

Formula: ISO/CIE 11664-6; notation of Sharma, Wu & Dalal (2005). The bound is our own.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import asin, atan2, degrees, exp, hypot, inf, radians, sin, sqrt
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import numpy.typing as npt

_TURNS = 6
_SLACK = 1e-9
"""Relative widening that swallows the rounding of the formulas in double precision."""


@dataclass(frozen=True, slots=True)
class Box:
    """A box in CIELAB (D50, 2 degree): lowest and highest L*, a*, b*; an open side is infinite."""

    low: tuple[float, float, float]
    high: tuple[float, float, float]


def reach(lab: tuple[float, float, float], radius: float) -> Box:
    """Return a box that holds every colour within a CIEDE2000 radius of one colour.

    Parameters
    ----------
    lab : (L, a, b)
        CIELAB, D50, 2 degree.
    radius : float
        CIEDE2000, >= 0.

    Returns
    -------
    Box
    """
    L, a, b = lab
    half_l = _solve(radius * (1.0 + 0.015 * abs(L - 50.0)), 0.0075 * radius)
    half_a, half_b = _chromatic(a, b, radius)
    half = tuple(
        h * (1.0 + _SLACK) + _SLACK * (1.0 + abs(x)) for h, x in zip((half_l, half_a, half_b), lab, strict=True)
    )
    return Box(
        (L - half[0], a - half[1], b - half[2]),
        (L + half[0], a + half[1], b + half[2]),
    )


def least_de00(lab: tuple[float, float, float], labs: npt.NDArray[Any]) -> npt.NDArray[Any]:
    """Return what the CIEDE2000 differences from one colour are at least: cheaper than the differences.

    Parameters
    ----------
    lab : (L, a, b)
        CIELAB, D50, 2 degree.
    labs : ndarray, shape (n, 3), float64

    Returns
    -------
    ndarray, shape (n,), float64
    """
    import numpy as np

    L, a, b = lab
    largest = hypot(1.5 * a, b)
    k = 1.0 / sqrt(1.0 - sin(2.0 * radians(_d_theta(a, b, (0.0, 0.5), inf))))
    lightness = np.abs(labs[:, 0] - L)
    distance = np.hypot(labs[:, 1] - a, labs[:, 2] - b)
    lightness /= 1.0 + 0.015 * (abs(L - 50.0) + lightness / 2.0)
    distance /= k * (1.0 + 0.045 * (largest + distance / 2.0))
    return np.asarray(np.maximum(0.0, np.hypot(lightness, distance) * (1.0 - _SLACK) - _SLACK))


def _chromatic(a: float, b: float, radius: float) -> tuple[float, float]:
    """Return bounds of |Δa| and |Δb|."""
    chroma = hypot(a, b)
    g = (0.0, 0.5)
    distance = inf
    for _ in range(_TURNS):
        largest = hypot((1.0 + g[1]) * a, b)
        rotation = _r_c(largest + distance / 2.0) * sin(2.0 * radians(_d_theta(a, b, g, distance)))
        k = 1.0 / sqrt(1.0 - rotation / 2.0)
        distance = min(distance, _solve(k * radius * (1.0 + 0.045 * largest), 0.0225 * k * radius))
        g = (_g(chroma + distance / 2.0), _g(max(0.0, chroma - distance / 2.0)))
    return distance / (1.0 + g[0]), distance


def _d_theta(a: float, b: float, g: tuple[float, float], distance: float) -> float:
    """Return the largest Δθ in degrees that a pair this close can have; `g` are the least and the largest G."""
    smallest = hypot((1.0 + g[0]) * a, b)
    if smallest == 0.0:
        return 30.0
    # Closer than C1', the other hue lies within asin(D/C1') of this one; the mean hue within half of that.
    room = degrees(asin(distance / smallest)) / 2.0 if distance < smallest else 90.0
    ends = sorted(degrees(atan2(b, (1.0 + part) * a)) for part in g)
    nearest = 0.0 if ends[0] <= -85.0 <= ends[1] else min(_to_275(h, room) for h in ends)
    return 30.0 * exp(-((nearest / 25.0) ** 2))


def _to_275(hue: float, room: float) -> float:
    # Round the circle: never farther than the standard's plain |h - 275°|, so the bound stays a bound.
    apart = abs((hue - 275.0 + 180.0) % 360.0 - 180.0)
    return max(0.0, apart - room)


def _solve(constant: float, slope: float) -> float:
    """Return the largest x with x <= constant + slope·x."""
    return constant / (1.0 - slope) if slope < 1.0 else inf


def _g(chroma: float) -> float:
    return 0.5 * (1.0 - sqrt(_seventh(chroma)))


def _r_c(chroma: float) -> float:
    return 2.0 * sqrt(_seventh(chroma))


def _seventh(chroma: float) -> float:
    return 1.0 / (1.0 + (25.0 / chroma) ** 7) if chroma > 1e-3 else 0.0
