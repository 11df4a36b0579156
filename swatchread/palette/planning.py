"""Makes the plan: its values, its places, the exact choice, what is only predicted, and what is missing."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import partial

import numpy as np

from swatchread.colour.cielab import Floats, delta_e_2000, luminance_of_value
from swatchread.colour.painter_terms import steps as judge_steps
from swatchread.errors import NoRecipesError, UsageError
from swatchread.note.flags_and_warnings import SPOILT
from swatchread.note.phrases import first_of, swatches
from swatchread.palette.fitted_palette import FittedPalette
from swatchread.palette.mixture_model import MixModel
from swatchread.palette.plan_options import Option, Pool, predicted_option
from swatchread.palette.recipe_search import search_recipes
from swatchread.palette.run_curve import fit_run_curve
from swatchread.palette.step_choice import COLOUR_UNIT, ROLES, TOLERANCE, Chosen, Place, Step, choose_steps
from swatchread.palette.wording import VISIBLE

LEAST_POOL = 3
"""Recorded mixtures that a plan needs: fewer show no run."""
_FEWEST_STEPS, _MOST_STEPS = 2, 12
_TAIL = 0.05
"""Share of the recorded mixtures that lie beyond each end of the run, unless the ends are given (assumed)."""
SHIFT = 7.0
"""CIELAB units from the run at which the warmer and the cooler mixture are looked for (assumed)."""
_WARM = np.array([np.cos(np.radians(50.0)), np.sin(np.radians(50.0))])
"""Direction of the warmest hue in the a*, b* plane, 50 degrees (Ou, Luo, Woodcock & Wright 2004)."""
_FARTHER = 0.7
"""Share of that distance by which a second, farther mixture is tried (assumed)."""
_STRAY = 3.0 * COLOUR_UNIT
"""CIELAB units in a*, b* from the colour aimed at, beyond which no mixture is considered (assumed)."""
_MOST_OPTIONS = 14
"""Options for one place, the nearest ones: more would not be better, only slower."""
_SEARCHED = 4
"""Predicted mixtures that are tried for each colour."""
_WIDENED = 1.0
"""Munsell value within which the nearest recorded mixture may fill a place that nothing nearer can (assumed)."""
_WIDENED_OPTIONS = 3
_TWINS_NAMED = 3
_CHALKY_NAMED = 6
_TOLD_STEPS = {"chalky": "the run goes chalky here", "close_valued": "nearly the same value as the step before"}
"""Verdicts on two steps of a run -> the remark."""


@dataclass(frozen=True, eq=False)
class PlanStep:
    """One step of the run.

    Attributes
    ----------
    number : int
        From 1, the darkest: the order of mixing.
    value : float
        Munsell value wanted.
    run, warmer, cooler : Option or None
        The mixture of the run, and its warmer and cooler alternatives; None if there is none.
    remarks : tuple of str
    """

    number: int
    value: float
    run: Option | None
    warmer: Option | None
    cooler: Option | None
    remarks: tuple[str, ...]

    @property
    def options(self) -> Chosen:
        """The mixtures in the order of `ROLES`: run, warmer, cooler."""
        return self.run, self.warmer, self.cooler


@dataclass(frozen=True, eq=False)
class Plan:
    """The palette for a sitting.

    Attributes
    ----------
    steps : tuple of PlanStep
    spacing : float
        Munsell value between steps.
    remarks : tuple of str
        About the recorded swatches as a whole.
    """

    steps: tuple[PlanStep, ...]
    spacing: float
    remarks: tuple[str, ...]


def make_plan(
    pool: Pool,
    palette: FittedPalette | None,
    steps: int = 6,
    low: float | None = None,
    high: float | None = None,
    tubes: tuple[str, ...] = (),
) -> Plan:
    """Plan a run of mixtures even in value, each with a warmer and a cooler one.

    Parameters
    ----------
    pool : Pool
        Recorded mixtures to choose from.
    palette : FittedPalette or None
        If it has a model, predicted mixtures fill what is not recorded.
    steps : int
        Mixtures in the run, 2 to 12.
    low, high : float, optional
        Munsell value of the darkest and of the lightest step; by default what the cards span.
    tubes : tuple of str
        Tubes for predicted mixtures; empty for all.

    Returns
    -------
    Plan

    Raises
    ------
    NoRecipesError
        If fewer than three recorded mixtures can be used.
    UsageError
        If the steps or the values make no sense.
    """
    if len(pool.options) < LEAST_POOL:
        *flags, last = sorted(SPOILT)
        doubtful = f", {pool.doubtful} are flagged {', '.join(flags)} or {last}" if pool.doubtful else ""
        why = f"{len(pool.options)} can be used, {pool.without_recipe} have no clear recipe{doubtful}"
        raise NoRecipesError(f"A plan needs {LEAST_POOL} recorded mixtures or more", why)
    wanted = _values(pool, steps, low, high)
    spacing = float(wanted[1] - wanted[0])
    tolerance = min(TOLERANCE, 0.45 * spacing)  # steps do not overlap
    value, ab = np.array([o.value for o in pool.options]), np.array([o.lab[1:] for o in pool.options])
    aims = fit_run_curve(value, ab, wanted)
    places = [_places(pool.options, float(v), aim, tolerance) for v, aim in zip(wanted, aims, strict=True)]
    chosen = choose_steps(places)
    if palette is not None and palette.model is not None:
        search = partial(
            _predicted, palette.model, tuple(t for t in palette.usable if not tubes or t in tubes), tolerance
        )
        chosen = choose_steps([_filled(step, pick, search) for step, pick in zip(places, chosen, strict=True)])
    elif any(pick[0] is None for pick in chosen):
        chosen = choose_steps([_widened(step, pick, pool.options) for step, pick in zip(places, chosen, strict=True)])
    made = _judged([_step(i, places[i][0].value, chosen[i], tolerance) for i in range(len(places))])
    return Plan(tuple(made), spacing, _remarks(pool, made))


def _values(pool: Pool, steps: int, low: float | None, high: float | None) -> Floats:
    if not _FEWEST_STEPS <= steps <= _MOST_STEPS:
        raise UsageError(f"{steps} steps cannot be planned", f"{_FEWEST_STEPS} to {_MOST_STEPS} can")
    every = np.array([o.value for o in pool.options])
    low = float(np.quantile(every, _TAIL)) if low is None else low
    high = float(np.quantile(every, 1.0 - _TAIL)) if high is None else high
    if not 0.0 <= low < high <= 10.0:
        raise UsageError(f"A run from value {low:.1f} to {high:.1f} cannot be planned", "values go from 0 up to 10")
    return np.linspace(low, high, steps)


def _places(options: tuple[Option, ...], value: float, aim: Floats, tolerance: float) -> Step:
    within = [o for o in options if abs(o.value - value) <= tolerance]
    aims = (aim, aim + SHIFT * _WARM, aim - SHIFT * _WARM)
    return tuple(Place(value, target, _nearest(within, value, target)) for target in aims)


def _nearest(options: list[Option], value: float, aim: Floats) -> tuple[Option, ...]:
    def far(option: Option) -> float:
        off = float(np.hypot(*(option.lab[1:] - aim)))
        return (off / COLOUR_UNIT) ** 2 + ((option.value - value) / TOLERANCE) ** 2

    fitting = [o for o in options if np.hypot(*(o.lab[1:] - aim)) <= _STRAY]
    return tuple(sorted(fitting, key=far)[:_MOST_OPTIONS])


def _filled(step: Step, pick: Chosen, search: Callable[[Place, Floats], tuple[Option, ...]]) -> Step:
    """Add predicted mixtures to the places for which nothing is recorded, or nothing near the colour aimed at."""
    centre = step[0].aim if pick[0] is None else pick[0].lab[1:]
    aims = (step[0].aim, centre + SHIFT * _WARM, centre - SHIFT * _WARM)
    filled = []
    for place, taken, aim in zip(step, pick, aims, strict=True):
        found: tuple[Option, ...] = ()
        if taken is None:
            # The farther colour is tried because the nearer one may not be clearly warmer or cooler than the run.
            found = search(place, aim) + search(place, aim + _FARTHER * (aim - centre))
        elif np.hypot(*(taken.lab[1:] - place.aim)) > COLOUR_UNIT:
            found = search(place, aim)
        filled.append(replace(place, options=place.options + found))
    return tuple(filled)


def _predicted(
    model: MixModel, tubes: tuple[str, ...], tolerance: float, place: Place, ab: Floats
) -> tuple[Option, ...]:
    """Return predicted mixtures of a place's value and of a colour."""
    found = search_recipes(model, np.array([_lightness(place.value), *ab]), tubes, count=_SEARCHED)
    return tuple(option for option in map(predicted_option, found) if abs(option.value - place.value) <= tolerance)


def _widened(step: Step, pick: Chosen, options: tuple[Option, ...]) -> Step:
    """Let the nearest recorded mixture fill a place of the run for which none has the right value."""
    if pick[0] is not None:
        return step
    nearest = _nearest([o for o in options if abs(o.value - step[0].value) <= _WIDENED], step[0].value, step[0].aim)
    return replace(step[0], options=nearest[:_WIDENED_OPTIONS]), *step[1:]


def _lightness(value: float) -> float:
    """Return L* of a Munsell value (ASTM D1535, CIELAB 1976)."""
    return float(116.0 * np.cbrt(luminance_of_value(value)) - 16.0)


def _step(index: int, value: float, pick: Chosen, tolerance: float) -> PlanStep:
    remarks = []
    for role, option in zip(ROLES, pick, strict=True):
        which = "mixture for the run" if role == "run" else f"{role} mixture"
        if option is None:
            remarks.append(f"gap: no {which} is recorded near value {value:.1f}, and none can be predicted")
        elif option.kind == "predicted":
            remarks.append(f"the {which} is only an interpolation: make a trial of it")
        elif abs(option.value - value) > tolerance:
            remarks.append(f"gap: the nearest recorded {which} lies at value {option.value:.1f}, not {value:.1f}")
        if option is not None and option.chalky:
            remarks.append(f"{option.name} was flagged chalky on its card")
    run, warmer, cooler = pick
    return PlanStep(index + 1, value, run, warmer, cooler, tuple(remarks))


def _judged(steps: list[PlanStep]) -> list[PlanStep]:
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


def _remarks(pool: Pool, steps: list[PlanStep]) -> tuple[str, ...]:
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
        has = "has" if pool.without_recipe == 1 else "have"
        remarks.append(f"{swatches(pool.without_recipe)} {has} no clear recipe and could not be used")
    if pool.earlier:
        stand = "stands" if pool.earlier == 1 else "stand"
        remarks.append(f"{swatches(pool.earlier)} {stand} in a later reading of the same painted card, which counts")
    if pool.doubtful:
        remarks.append(f"{swatches(pool.doubtful)} with a recipe flagged as too doubtful and not used")
    return tuple(remarks)


def _twins(option: Option, pool: Pool) -> list[str]:
    lab = np.array([o.lab for o in pool.options])
    same = delta_e_2000(lab, option.lab) <= VISIBLE
    return [o.name for o, twin in zip(pool.options, same, strict=True) if twin and o.name != option.name]
