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
"""Munsell value by which an interval of the run, or an alternative beside it, may be off (what the eye notices)."""
EVEN = 0.1
"""Munsell value by which a step or an interval of the run may be off before unevenness costs extra (assumed)."""
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
_UNEVEN_COST = 6.0
"""Extra cost of an interval that is off by `TOLERANCE`: as much as two predicted mixtures."""
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

    @property
    def departures(self) -> Floats:
        """How far each option is off in value, likely value, a* and b*, each in the unit that costs 1; shape (n, 4)."""
        off = [
            (o.value - self.value, (o.likely_value or o.value) - self.value, *(o.lab[1:] - self.aim))
            for o in self.options
        ]
        half = TOLERANCE * np.sqrt(2.0)  # the two values count for half each
        departures: Floats = np.array(off).reshape(-1, 4) / (half, half, COLOUR_UNIT, COLOUR_UNIT)
        return departures


Step = tuple[Place, ...]
"""The places of one step, in the order of `ROLES`."""
Chosen = tuple[Option | None, ...]
"""What fills them; None where nothing serves."""


def choose_steps(steps: list[Step]) -> list[Chosen]:
    """Fill every place at the least total cost.

    Parameters
    ----------
    steps : list of Step
        Dark to light.

    Returns
    -------
    list of Chosen
        One for each step.
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
    return [tuple(map(_option_at, step, pick)) for step, pick in zip(steps, reversed(picks), strict=True)]


def _option_at(place: Place, index: int) -> Option | None:
    return place.options[index] if index < len(place.options) else None


def _costs_within(step: Step) -> Floats:
    """Return the cost of each triple of a step; the last index of each axis is an empty place."""
    alone = [np.append(_costs_alone(place), NONE_COST) for place in step]
    cost = alone[0][:, None, None] + alone[1][None, :, None] + alone[2][None, None, :]
    warmer, cooler = _costs_beside(step[0], step[1], 1.0), _costs_beside(step[0], step[2], -1.0)
    total: Floats = cost + warmer[:, :, None] + cooler[:, None, :]
    return total


def _costs_alone(place: Place) -> Floats:
    """Return what each option costs by itself, shape (n,)."""
    doubts = [
        (o.de00 / _DE00_UNIT) ** 2 + PREDICTED_COST * (o.kind == "predicted") + CHALKY_COST * o.chalky
        for o in place.options
    ]
    costs: Floats = (place.departures**2).sum(axis=1) + np.array(doubts)
    return costs


def _costs_beside(run: Place, beside: Place, sign: float) -> Floats:
    """Return what it costs to set an alternative beside a mixture of the run: same value, clearly warmer or cooler."""
    (value, warmth, sd), (value_beside, warmth_beside, sd_beside) = (
        np.array([(o.value, o.warmth, o.warmth_sd) for o in place.options]).reshape(-1, 3).T for place in (run, beside)
    )
    clear = np.maximum(LEAST_WARMTH, np.hypot(sd[:, None], sd_beside))
    stands = sign * (warmth_beside - warmth[:, None]) > clear
    table = np.pad(np.where(stands, ((value_beside - value[:, None]) / TOLERANCE) ** 2, _FORBIDDEN), (0, 1))
    table[-1, :-1] = _FORBIDDEN  # an alternative to nothing
    return table


def _costs_between(now: Place, following: Place) -> Floats:
    """Return what it costs to go from each option to each of the next step: even in value, steady in hue."""
    apart = following.departures[None] - now.departures[:, None]
    off = np.abs(apart[..., :2]).max(axis=-1) * TOLERANCE * np.sqrt(2.0)
    uneven = (np.maximum(off - EVEN, 0.0) / (TOLERANCE - EVEN)) ** 2
    return np.pad(_STEP_WEIGHT * (apart**2).sum(axis=-1) + _UNEVEN_COST * uneven, (0, 1))
