"""The painter's words for a measured colour: value names, warmth, lean, and the steps of a run.

Temperature is relative: a swatch is compared with the card's own run at its value. A claim is made only where the
difference exceeds the uncertainty.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt

from swatchread.colour.cielab import Floats, lab_to_lch

VALUE_NAMES = ("black", "low dark", "dark", "high dark", "middle", "low light", "light", "high light", "white")
"""Denman W. Ross (1907), A Theory of Pure Design, section 128. Even steps of Munsell value are our convention."""

CLOSE_VALUE = 0.35
"""Steps of Munsell value below which neighbours are close-valued: about a third of a step."""

GAP_FACTOR = 1.5
"""A step is a gap above this multiple of the run's median step."""

_CHROMA_BLUR, _WARMTH_BLUR = 10.0, 0.25
"""Uncertainty of chroma and of warmth for one step of value: a step is ten L*, and a* and b* are as uncertain as L*."""

_CHALKY_CHROMA, _CHALKY_WARMTH = -4.0, -0.1
"""A chalky step loses more chroma and warmth than the run usually does, by at least this much."""

_FEWEST_STEPS = 3
"""Steps that a run needs before one of them can be a gap or chalky."""

_NEAR_VALUE, _VALUE_WIDTH = 2.5, 1.2
"""Steps of value within which other swatches show the run, and the width of their weights."""

_FEWEST_NEAR = 3
"""Other swatches that are needed to show the run."""

_SURE_LEAN = 1.0
"""CIELAB units below which no lean is named: about what a trained eye sees side by side."""

_CLEAR_OF_RUN = 2.0
"""A lean stands clear of the run beyond this multiple of its scatter. Of swatches that scatter evenly round a run, one
in sixteen does (Rayleigh distribution); of 1936 on 88 simulated cards one in five: without it 94 in 100 leaned."""

_CLEAR_RISE = 0.3
"""Steps of value that two swatches must be apart to show how a score falls with value."""

Warmth = Literal["warm", "neutral", "cool"]
Relative = Literal["warmer", "even", "cooler"]
Lean = Literal["none", "red", "yellow", "green", "blue"]


def span_of_name(name: str) -> tuple[float, float] | None:
    """Return the range of Munsell values that a name of the nine-step scale covers; None for another word."""
    plain = " ".join(name.casefold().split())
    if plain not in VALUE_NAMES:
        return None
    step = VALUE_NAMES.index(plain) + 1
    return (step - 0.5 if step > 1 else 0.0, step + 0.5 if step < len(VALUE_NAMES) else 10.0)


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
    """Return warm or cool if the score exceeds its uncertainty, else neutral."""
    if abs(score) <= uncertainty:
        return "neutral"
    return "warm" if score > 0 else "cool"


def run_at(value: Floats, score: Floats, at: Floats | None = None) -> Floats:
    """Return a score of the card's own run at the value of each swatch, leaving that swatch out.

    It is a locally weighted line through the other swatches, with less weight for outliers (LOWESS, Cleveland 1979).

    Parameters
    ----------
    value, score : ndarray, shape (n,)
    at : ndarray, shape (m,), optional
        Values at which the run of all swatches is wanted instead.

    Returns
    -------
    ndarray, shape (n,) or (m,)
        NaN where fewer than three others are near enough in value to show the run.
    """
    x = value[None] - (value if at is None else at)[:, None]
    near = np.abs(x) < _NEAR_VALUE
    if at is None:
        near &= ~np.eye(len(value), dtype=bool)
    count = near.sum(axis=1)
    shown = count >= _FEWEST_NEAR
    if not shown.any():
        return np.full(len(x), np.nan)
    steady = np.where(near, np.exp(-((x / _VALUE_WIDTH) ** 2)) + 1e-6, 0.0)
    weight, rows = steady, np.arange(len(x))
    for _ in range(3):
        intercept, slope = _lines(x, score, weight)
        off = np.abs(score - intercept[:, None] - slope[:, None] * x)
        ordered = np.sort(np.where(near, off, np.inf), axis=1)
        usual = (ordered[rows, np.maximum(count - 1, 0) // 2] + ordered[rows, count // 2 % len(value)]) / 2.0
        weight = steady / (1.0 + (off / (2.0 * usual[:, None] + 0.02)) ** 2)
    return np.where(shown, _lines(x, score, weight)[0], np.nan)


def _lines(x: Floats, y: Floats, weight: Floats) -> tuple[Floats, Floats]:
    """Return intercepts and slopes of lines, one for each row; slopes stay near 0 where the values hardly differ."""
    w = weight / np.maximum(weight.sum(axis=1, keepdims=True), 1e-12)
    mx, my = (w * x).sum(axis=1), w @ y
    apart = x - mx[:, None]
    slope = (w * apart * (y - my[:, None])).sum(axis=1) / ((w * apart**2).sum(axis=1) + 0.1)
    return my - slope * mx, slope


def relative_to(difference: float, uncertainty: float) -> Relative:
    """Return the direction of a difference in warmth if it exceeds its uncertainty, else even."""
    if not abs(difference) > uncertainty:
        return "even"
    return "warmer" if difference > 0 else "cooler"


def run_scatter(lab: Floats, run: Floats) -> float:
    """Return how far the swatches of a card usually stand from their run in a* and b*: the median, CIELAB units.

    Parameters
    ----------
    lab, run : ndarray, shape (n, 3)
        Each swatch, and the run at its value; NaN where no run shows.
    """
    off = np.hypot(lab[:, 1] - run[:, 1], lab[:, 2] - run[:, 2])
    shown = off[np.isfinite(off)]
    return float(np.median(shown)) if len(shown) else 0.0


def lean(lab: Floats, run: Floats, uncertainty: float, scatter: float = 0.0) -> Lean:
    """Return which way a colour leans from another: the painter's "too pink", "a bit green".

    Parameters
    ----------
    lab, run : ndarray, shape (3,)
        The colour and what it is compared with, CIELAB.
    uncertainty : float
        Standard uncertainty of the chromatic difference, CIELAB units.
    scatter : float
        `run_scatter` of the card: what the run's own swatches do is no lean.
    """
    da, db = float(lab[1] - run[1]), float(lab[2] - run[2])
    if np.hypot(da, db) <= max(uncertainty, _SURE_LEAN, _CLEAR_OF_RUN * scatter):
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
    usual = np.median(rise) if len(rise) else 0.0
    C, warm = lab_to_lch(lab)[:, 1], warmth(lab)
    slope_C, slope_w = _usual_fall(value[order], C[order]), _usual_fall(value[order], warm[order])
    judged = []
    for k, (lower, upper) in enumerate(zip(order[:-1].tolist(), order[1:].tolist(), strict=True)):
        blur = float(np.hypot(uncertainty[lower], uncertainty[upper]))
        fall_C = (C[upper] - C[lower]) - slope_C * rise[k]
        fall_w = (warm[upper] - warm[lower]) - slope_w * rise[k]
        if rise[k] < max(CLOSE_VALUE, blur):
            flag = "close_valued"
        elif len(rise) >= _FEWEST_STEPS and rise[k] > GAP_FACTOR * usual + blur:
            flag = "gap"
        elif (
            len(rise) >= _FEWEST_STEPS
            and C[lower] - C[upper] > _CHROMA_BLUR * blur
            and warm[lower] - warm[upper] > _WARMTH_BLUR * blur
            and fall_C < _CHALKY_CHROMA
            and fall_w < _CHALKY_WARMTH
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
    clear = rise > _CLEAR_RISE
    return float(np.median((y[j] - y[i])[clear] / rise[clear])) if clear.any() else 0.0
