"""The exact choice: of all ways to fill the places of a plan, the one of least cost.

A plan has a place for the run, for a warmer and for a cooler mixture at each step. Costs couple the three places of a
step, and each place with the same place of the next step, so dynamic programming over the steps finds the optimum.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from swatchread.colour.cielab import Floats
from swatchread.palette.plan_options import Option

ROLES = ("run", "warmer", "cooler")
TOLERANCE = 0.2
"""Munsell value by which a step may be off at a cost of 1 (assumed: about what the eye notices between steps)."""
COLOUR_UNIT = 8.0
"""CIELAB units in a*, b* by which a mixture may be off at a cost of 1 (assumed)."""
NONE_COST = 40.0
"""Cost of an empty place: more than that of any mixture that serves."""
PREDICTED_COST = 3.0
"""Cost of a mixture that is only predicted, against a recorded one (assumed)."""
CHALKY_COST = 2.0
"""Cost of a mixture that was flagged chalky on its card (assumed)."""
_DE00_UNIT = 4.0
"""CIEDE2000 of uncertainty that costs 1 (assumed)."""
_STEP_WEIGHT = 0.5
"""Weight of the evenness between steps, against each step's own place (assumed)."""
LEAST_WARMTH = 0.06
"""Warmth by which an alternative must differ from the run (assumed), or by its uncertainty if that is larger."""
_FORBIDDEN = 1e6
"""Cost of what must not be chosen."""


@dataclass(frozen=True, eq=False)
class Place:
    """One place of the plan.

    Attributes
    ----------
    value : float
        Munsell value wanted.
    aim : ndarray, shape (2,)
        a*, b* wanted.
    options : tuple of Option
        What may take it.
    """

    value: float
    aim: Floats
    options: tuple[Option, ...]


Chosen = tuple[Option | None, Option | None, Option | None]


def choose_steps(steps: list[tuple[Place, Place, Place]]) -> tuple[list[Chosen], float]:
    """Fill every place at the least total cost.

    Parameters
    ----------
    steps : list of (Place, Place, Place)
        Dark to light; the places of the run, the warmer and the cooler mixture.

    Returns
    -------
    list of (Option or None, …)
        One for each step and place; None where nothing serves.
    float
        The cost.
    """
    best = _costs_within(steps[0])
    back: list[list[npt.NDArray[np.intp]]] = []
    for before, after in pairwise(steps):
        trace = []
        # The places of a step move on independently of one another. Each turn takes the first axis off and puts the
        # next step's choice for the same place behind the others: after three turns all axes are the next step's.
        for now, following in zip(before, after, strict=True):
            moved = best[..., None] + _costs_between(now, following)[:, None, None, :]
            trace.append(moved.argmin(axis=0))
            best = moved.min(axis=0)
        back.append(trace)
        best = best + _costs_within(after)
    run, warmer, cooler = (int(i) for i in np.unravel_index(int(best.argmin()), best.shape))
    picks = [(run, warmer, cooler)]
    for trace in reversed(back):
        cooler_before = int(trace[2][run, warmer, cooler])
        warmer_before = int(trace[1][cooler_before, run, warmer])
        run_before = int(trace[0][warmer_before, cooler_before, run])
        run, warmer, cooler = run_before, warmer_before, cooler_before
        picks.append((run, warmer, cooler))
    chosen = [
        (_option_at(step[0], pick[0]), _option_at(step[1], pick[1]), _option_at(step[2], pick[2]))
        for step, pick in zip(steps, reversed(picks), strict=True)
    ]
    return chosen, float(best.min())


def _option_at(place: Place, index: int) -> Option | None:
    return place.options[index] if index < len(place.options) else None


def _costs_within(step: tuple[Place, Place, Place]) -> Floats:
    """Return the cost of each triple of a step; the last index of each axis is an empty place."""
    alone = [np.append([_cost_alone(place, o) for o in place.options], NONE_COST) for place in step]
    cost = alone[0][:, None, None] + alone[1][None, :, None] + alone[2][None, None, :]
    warmer, cooler = _costs_beside(step[0], step[1], 1.0), _costs_beside(step[0], step[2], -1.0)
    total: Floats = cost + warmer[:, :, None] + cooler[:, None, :]
    return total


def _cost_alone(place: Place, option: Option) -> float:
    cost = ((option.value - place.value) / TOLERANCE) ** 2
    cost += float(((option.lab[1:] - place.aim) ** 2).sum()) / COLOUR_UNIT**2
    cost += (option.de00 / _DE00_UNIT) ** 2
    return cost + PREDICTED_COST * (option.kind == "predicted") + CHALKY_COST * option.chalky


def _costs_beside(run: Place, beside: Place, sign: float) -> Floats:
    """Return what it costs to set an alternative beside a mixture of the run: same value, clearly warmer or cooler."""
    table = np.zeros((len(run.options) + 1, len(beside.options) + 1))
    table[-1, :-1] = _FORBIDDEN  # an alternative to nothing
    for i, a in enumerate(run.options):
        for j, b in enumerate(beside.options):
            clear = max(LEAST_WARMTH, float(np.hypot(a.warmth_sd, b.warmth_sd)))
            stands = sign * (b.warmth - a.warmth) > clear
            table[i, j] = ((b.value - a.value) / TOLERANCE) ** 2 if stands else _FORBIDDEN
    return table


def _costs_between(now: Place, following: Place) -> Floats:
    """Return what it costs to go from each option to each of the next step: even in value, steady in hue."""
    table = np.zeros((len(now.options) + 1, len(following.options) + 1))
    for i, a in enumerate(now.options):
        for j, b in enumerate(following.options):
            uneven = (b.value - a.value) - (following.value - now.value)
            strayed = (b.lab[1:] - following.aim) - (a.lab[1:] - now.aim)
            table[i, j] = (
                _STEP_WEIGHT * (uneven / TOLERANCE) ** 2 + _STEP_WEIGHT * float((strayed**2).sum()) / COLOUR_UNIT**2
            )
    return table
