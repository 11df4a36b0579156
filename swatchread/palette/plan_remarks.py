"""What a plan says beside its mixtures: gaps, trials to make, steps that are too close, swatches that are doubled."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from swatchread.colour.cielab import delta_e_2000
from swatchread.colour.painter_terms import steps as judge_steps
from swatchread.note.phrases import NEVER_PAINTED, first_of, swatches
from swatchread.palette.plan_options import IN_DOUBT, Option, Pool
from swatchread.palette.plan_records import PlanStep
from swatchread.palette.step_choice import ROLES, Chosen
from swatchread.palette.wording import VISIBLE

_TWINS_NAMED = 3
_CHALKY_NAMED = 6
_TOLD_STEPS = {"chalky": "the run goes chalky here", "close_valued": "nearly the same value as the step before"}
"""Verdicts on two steps of a run -> the remark."""


def describe_step(index: int, value: float, pick: Chosen, tolerance: float) -> PlanStep:
    """Return a step with the remarks on each of its mixtures.

    Parameters
    ----------
    index : int
        From 0, the darkest.
    value : float
        Munsell value wanted.
    pick : Chosen
    tolerance : float
        Munsell value by which a mixture may be off before it counts as a gap.
    """
    remarks = []
    for role, option in zip(ROLES, pick, strict=True):
        which = "mixture for the run" if role == "run" else f"{role} mixture"
        if option is None:
            remarks.append(f"gap: no {which} is recorded near value {value:.1f}, and none can be calculated")
        elif option.kind == "predicted":
            remarks.append(f"the {which} was {NEVER_PAINTED}: make a trial of it")
        elif abs(option.value - value) > tolerance:
            remarks.append(f"gap: the nearest recorded {which} lies at value {option.value:.1f}, not {value:.1f}")
        if option is not None and option.chalky:
            remarks.append(f"{option.name} is chalky on its card")
    run, warmer, cooler = pick
    return PlanStep(index + 1, value, run, warmer, cooler, tuple(remarks))


def judge_run(steps: list[PlanStep]) -> list[PlanStep]:
    """Add what the run itself shows: steps that went chalky or are too close to the one before."""
    run = [(i, s.run) for i, s in enumerate(steps) if s.run is not None]
    if not run:
        return steps
    lab = np.array([o.lab for _, o in run])
    verdicts = judge_steps(lab, np.array([o.value for _, o in run]), np.array([o.value_sd for _, o in run]))
    judged = list(steps)
    for verdict in verdicts:
        if verdict.flag in _TOLD_STEPS:
            at = run[verdict.upper][0]
            judged[at] = replace(judged[at], remarks=(*judged[at].remarks, _TOLD_STEPS[verdict.flag]))
    return judged


def plan_remarks(pool: Pool, steps: list[PlanStep]) -> tuple[str, ...]:
    """Return the remarks on the recorded swatches as a whole."""
    remarks = []
    taken = [o for s in steps for o in s.options if o is not None and o.kind == "recorded"]
    named: set[tuple[str, str]] = set()
    for option in {o.name: o for o in taken}.values():  # one swatch may serve in several places
        twins = [name for name in _twins(option, pool) if (name, option.name) not in named]
        named |= {(option.name, name) for name in twins}
        if twins:
            remarks.append(f"doubled: {option.name} is the same to the eye as {first_of(twins, _TWINS_NAMED)}")
    of_steps = {o.name for o in taken}  # their steps' remarks say it of these
    chalky = [o.name for o in pool.options if o.chalky and o.name not in of_steps]
    if chalky:
        remarks.append(f"chalky on their cards: {first_of(chalky, _CHALKY_NAMED)}")
    if pool.without_recipe:
        count = f"{swatches(pool.without_recipe)} {'was' if pool.without_recipe == 1 else 'were'}"
        remarks.append(f"{count} left out for want of a clear recipe; `swatchread tubes` asks about unclear words")
    if pool.earlier:
        count = f"{swatches(pool.earlier)} {'was' if pool.earlier == 1 else 'were'}"
        remarks.append(f"{count} read again later, and the later reading counts")
    if pool.doubtful:
        count = f"{swatches(pool.doubtful)} {'was' if pool.doubtful == 1 else 'were'}"
        remarks.append(f"{count} left out because the colour is in doubt: {IN_DOUBT}")
    return tuple(remarks)


def _twins(option: Option, pool: Pool) -> list[str]:
    lab = np.array([o.lab for o in pool.options])
    same = delta_e_2000(lab, option.lab) <= VISIBLE
    return [o.name for o, twin in zip(pool.options, same, strict=True) if twin and o.name != option.name]
