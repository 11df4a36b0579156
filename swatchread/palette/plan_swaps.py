"""A plan changed by hand: what else could take a place, and the plan with other mixtures in some of its places."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Final

import numpy as np

from swatchread.palette.plan_options import Option, Pool
from swatchread.palette.plan_records import Plan, PlanStep
from swatchread.palette.step_choice import COLOUR_UNIT, LEAST_WARMTH, ROLES, TOLERANCE

REACH: Final = 0.6
"""Munsell value within which a mixture may stand in for another (assumed: three times what the eye notices)."""
_SIGNS: Final = {"run": 0.0, "warmer": 1.0, "cooler": -1.0}

Places = Mapping[tuple[int, str], str]
"""Number of a step and its role -> the name of the recorded mixture that the painter wants there."""


def alternatives(pool: Pool, step: PlanStep, role: str, count: int = 12) -> tuple[Option, ...]:
    """Return the recorded mixtures that could take a place, those most like it first.

    Parameters
    ----------
    pool : Pool
        What the plan was made from.
    step : PlanStep
    role : str
        One of `ROLES`. A warmer or cooler mixture must be warmer or cooler than the step's run.
    count : int
        The most mixtures.
    """
    taken = dict(zip(ROLES, step.options, strict=True))[role]
    aim = taken or step.run
    here = {option.name for option in step.options if option is not None}
    fitting = [o for o in pool.options if abs(o.value - step.value) <= REACH and o.name not in here]
    if step.run is not None and role != "run":
        fitting = [o for o in fitting if _SIGNS[role] * (o.warmth - step.run.warmth) > LEAST_WARMTH]

    def far(option: Option) -> float:
        off = 0.0 if aim is None else float(np.hypot(*(option.lab[1:] - aim.lab[1:])))
        return (off / COLOUR_UNIT) ** 2 + ((option.value - step.value) / TOLERANCE) ** 2

    return tuple(sorted(fitting, key=far)[:count])


def swapped(plan: Plan, pool: Pool, places: Places) -> Plan:
    """Return the plan with the painter's choices in it; names that the pool does not hold change nothing."""
    named = {option.name: option for option in pool.options}
    steps = []
    for step in plan.steps:
        wanted = {role: name for (number, role), name in places.items() if number == step.number}
        chosen = {role: named[name] for role, name in wanted.items() if name in named}
        run, warmer, cooler = (chosen.get(role, now) for role, now in zip(ROLES, step.options, strict=True))
        steps.append(replace(step, run=run, warmer=warmer, cooler=cooler, remarks=_remarks(step, chosen)))
    return replace(plan, steps=tuple(steps))


def _remarks(step: PlanStep, chosen: Mapping[str, Option]) -> tuple[str, ...]:
    """Keep the remarks on what stays, and say where a choice is off the step's value."""
    words = ["mixture for the run" if role == "run" else f"{role} mixture" for role in chosen]
    kept = [remark for remark in step.remarks if not any(word in remark for word in words)]
    off = [
        f"your {role} mixture lies at value {option.value:.1f}, not {step.value:.1f}"
        for role, option in chosen.items()
        if abs(option.value - step.value) > TOLERANCE
    ]
    return (*kept, *off)
