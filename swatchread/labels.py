"""The painter's words for a measured colour: value names, warmth, lean, and how the steps of a run stand.

Temperature is relative: a swatch is compared with the card's own run at its value, and a claim is made only where it
stands clear of the uncertainty.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt

from swatchread.colour import Floats, lab_to_lch

VALUE_NAMES = ("black", "low dark", "dark", "high dark", "middle", "low light", "light", "high light", "white")
"""Denman W. Ross (1907), A Theory of Pure Design, section 128. Even steps of Munsell value are our convention."""

CLOSE_VALUE = 0.35
_CHROMA_BLUR, _WARMTH_BLUR = 10.0, 0.25
"""Chroma and warmth that go with one step of value in the uncertainty: ten L* are a step, and a* and b* err alike."""
GAP_FACTOR = 1.5

Warmth = Literal["warm", "neutral", "cool"]
Relative = Literal["warmer", "even", "cooler"]
Lean = Literal["none", "red", "yellow", "green", "blue"]


def value_name(value: float) -> str:
    """Return the name of a Munsell value on the nine-step scale.

    Parameters
    ----------
    value : float
        0 to 10; rounded to 1 ... 9.
    """
    return VALUE_NAMES[int(np.clip(np.floor(value + 0.5), 1, 9)) - 1]


def warmth(lab: npt.ArrayLike) -> Floats:
    """Return the warm-cool score of CIELAB colours, shifted so that a grey scores 0.

    Parameters
    ----------
    lab : array_like, shape (..., 3)

    Returns
    -------
    ndarray, shape (...)
        Warm is positive.

    References
    ----------
    Ou, Luo, Woodcock & Wright (2004), Color Research & Application 29(3), 232-240:
    WC = -0.5 + 0.02 C*^1.07 cos(h - 50 degrees).
    """
    _, C, h = np.moveaxis(lab_to_lch(lab), -1, 0)
    return np.asarray(0.02 * C**1.07 * np.cos(np.radians(h - 50.0)))


def warmth_uncertainty(lab: Floats, covariance: Floats) -> Floats:
    """Return the standard uncertainty of `warmth` from that of CIELAB.

    Parameters
    ----------
    lab : ndarray, shape (n, 3)
    covariance : ndarray, shape (n, 3, 3)

    Returns
    -------
    ndarray, shape (n,)
    """
    step = 0.1
    slope = np.stack(
        [(warmth(lab + np.eye(3)[k] * step) - warmth(lab - np.eye(3)[k] * step)) / (2 * step) for k in (1, 2)], axis=-1
    )
    return np.asarray(np.sqrt(np.einsum("ni,nij,nj->n", slope, covariance[:, 1:, 1:], slope)))


def warmth_name(score: float, uncertainty: float) -> Warmth:
    """Return warm or cool where the score stands clear of its uncertainty, else neutral."""
    if abs(score) <= uncertainty:
        return "neutral"
    return "warm" if score > 0 else "cool"


def run_at(value: Floats, score: Floats) -> Floats:
    """Return the card's own run of some score over value, at each swatch, without that swatch.

    A locally weighted line through the other swatches, the odd ones down-weighted (after Cleveland 1979, LOWESS).

    Parameters
    ----------
    value, score : ndarray, shape (n,)

    Returns
    -------
    ndarray, shape (n,)
        NaN where fewer than three others lie near enough in value to speak for the run.
    """
    count = len(value)
    run = np.full(count, np.nan)
    for k in range(count):
        others = np.arange(count) != k
        distance = np.abs(value - value[k])
        near = others & (distance < 2.5)
        if near.sum() < 3:
            continue
        x, y = value[near] - value[k], score[near]
        weight = np.exp(-((x / 1.2) ** 2)) + 1e-6
        for _ in range(3):
            line = _line(x, y, weight)
            off = np.abs(y - line[0] - line[1] * x)
            weight = (np.exp(-((x / 1.2) ** 2)) + 1e-6) / (1.0 + (off / (2.0 * np.median(off) + 0.02)) ** 2)
        run[k] = _line(x, y, weight)[0]
    return run


def _line(x: Floats, y: Floats, weight: Floats) -> tuple[float, float]:
    """Return intercept and slope; the slope is held near 0 where the values hardly differ."""
    w = weight / weight.sum()
    mx, my = float(w @ x), float(w @ y)
    slope = float(w @ ((x - mx) * (y - my))) / (float(w @ (x - mx) ** 2) + 0.1)
    return my - slope * mx, slope


def relative_to(difference: float, uncertainty: float) -> Relative:
    """Return which way a difference of warmth points, if it stands clear of its uncertainty."""
    if not abs(difference) > uncertainty:
        return "even"
    return "warmer" if difference > 0 else "cooler"


def lean(lab: Floats, run: Floats, uncertainty: float) -> Lean:
    """Return which way a colour leans from another: the painter's "too pink", "a bit green".

    Parameters
    ----------
    lab, run : ndarray, shape (3,)
        The colour and what it is compared with, CIELAB.
    uncertainty : float
        Standard uncertainty of the chromatic difference, CIELAB units.
    """
    da, db = float(lab[1] - run[1]), float(lab[2] - run[2])
    if np.hypot(da, db) <= max(uncertainty, 1.0):
        return "none"
    directions: tuple[tuple[Lean, float], ...] = (("red", da), ("green", -da), ("yellow", db), ("blue", -db))
    return max(directions, key=lambda item: item[1])[0]


@dataclass(frozen=True)
class Step:
    """One step of a run, from a swatch to the next lighter one.

    Attributes
    ----------
    lower, upper : int
        Indices of the two swatches.
    flag : str
        ``"close_valued"``, ``"gap"``, ``"chalky"`` or ``""``.
    """

    lower: int
    upper: int
    flag: str


def steps(lab: Floats, value: Floats, uncertainty: Floats) -> list[Step]:
    """Judge the steps of one run of swatches, dark to light.

    Parameters
    ----------
    lab : ndarray, shape (n, 3)
    value : ndarray, shape (n,)
        Munsell value.
    uncertainty : ndarray, shape (n,)
        Standard uncertainty of the value.

    Returns
    -------
    list of Step
        One for each pair of neighbours in value.
    """
    order = np.argsort(value, kind="stable")
    rise = np.diff(value[order])
    usual = float(np.median(rise)) if len(rise) else 0.0
    C, warm = lab_to_lch(lab)[:, 1], warmth(lab)
    slope_C, slope_w = _usual_fall(value[order], C[order]), _usual_fall(value[order], warm[order])
    judged = []
    for k, (lower, upper) in enumerate(zip(order[:-1].tolist(), order[1:].tolist(), strict=True)):
        blur = float(np.hypot(uncertainty[lower], uncertainty[upper]))
        fall_C = (C[upper] - C[lower]) - slope_C * rise[k]
        fall_w = (warm[upper] - warm[lower]) - slope_w * rise[k]
        if rise[k] < max(CLOSE_VALUE, blur):
            flag = "close_valued"
        elif len(rise) >= 3 and rise[k] > GAP_FACTOR * usual + blur:
            flag = "gap"
        elif (
            len(rise) >= 3
            and C[lower] - C[upper] > _CHROMA_BLUR * blur
            and warm[lower] - warm[upper] > _WARMTH_BLUR * blur
            and fall_C < -4.0
            and fall_w < -0.1
        ):
            flag = "chalky"
        else:
            flag = ""
        judged.append(Step(lower, upper, flag))
    return judged


def _usual_fall(value: Floats, y: Floats) -> float:
    """Return the median change of y per step of value over all pairs (Theil-Sen)."""
    i, j = np.triu_indices(len(value), 1)
    rise = value[j] - value[i]
    clear = rise > 0.3
    return float(np.median((y[j] - y[i])[clear] / rise[clear])) if clear.any() else 0.0
