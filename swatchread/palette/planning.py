"""Makes the plan: its values, its places, the exact choice, what is only predicted, and what is missing."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import partial

import numpy as np

from swatchread.colour.cielab import Floats, luminance_of_value
from swatchread.errors import NoRecipesError, UsageError
from swatchread.palette.fitted_palette import FittedPalette
from swatchread.palette.hue_family import HueFamily, find_family
from swatchread.palette.mixture_model import MixModel
from swatchread.palette.plan_options import IN_DOUBT, Option, Pool, predicted_option, with_likely_values
from swatchread.palette.plan_records import Plan
from swatchread.palette.plan_remarks import describe_step, judge_run, plan_remarks
from swatchread.palette.recipe_search import search_recipes
from swatchread.palette.run_curve import fit_run_curve
from swatchread.palette.step_choice import COLOUR_UNIT, EVEN, TOLERANCE, Chosen, Place, Step, choose_steps

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
    (family, run), every = _run_options(pool), pool.options
    wanted = _values(run, steps, low, high)
    spacing = float(wanted[1] - wanted[0])
    tolerance = min(TOLERANCE, 0.45 * spacing)  # steps do not overlap
    aims = fit_run_curve(np.array([o.value for o in run]), np.array([o.lab[1:] for o in run]), wanted)
    if palette is not None:
        run, every = with_likely_values(run, palette), with_likely_values(pool.options, palette)
    places = [_places(run, every, float(v), aim, tolerance) for v, aim in zip(wanted, aims, strict=True)]
    chosen = choose_steps(places)
    if palette is not None and palette.model is not None:
        usable = tuple(t for t in palette.usable if not tubes or t in tubes)
        search = partial(_predicted, palette.model, usable, tolerance)
        chosen = choose_steps([_filled(step, pick, search, family) for step, pick in zip(places, chosen, strict=True)])
    if any(pick[0] is None for pick in chosen):
        chosen = choose_steps([_widened(step, pick, run) for step, pick in zip(places, chosen, strict=True)])
    made = judge_run([describe_step(i, places[i][0].value, chosen[i], tolerance) for i in range(len(places))])
    return Plan(tuple(made), spacing, plan_remarks(pool, made), family)


def _run_options(pool: Pool) -> tuple[HueFamily | None, tuple[Option, ...]]:
    """Return the family of hue that the run keeps to, and the recorded mixtures of it."""
    if len(pool.options) < LEAST_POOL:
        doubtful = f", {pool.doubtful} with a colour in doubt: {IN_DOUBT}" if pool.doubtful else ""
        why = f"there are {len(pool.options)}, and {pool.without_recipe} without a clear recipe{doubtful}"
        raise NoRecipesError(f"A plan needs {LEAST_POOL} recorded mixtures or more", why)
    labs = np.array([o.lab for o in pool.options])
    family = find_family(labs, pool.hue)
    if family is None:
        return None, pool.options
    shown = int(np.count_nonzero(family.shows(labs)))
    if shown >= LEAST_POOL:
        return family, tuple(o for o, inside in zip(pool.options, family.holds(labs), strict=True) if inside)
    if not pool.hue:  # no family is large enough, so none can be kept to
        return None, pool.options
    raise NoRecipesError(
        f"A run of {pool.hue} needs {LEAST_POOL} recorded mixtures or more",
        f"{shown} of {len(labs)} have a hue of that family",
        "Ask for another family, or for any",
    )


def _values(run: tuple[Option, ...], steps: int, low: float | None, high: float | None) -> Floats:
    if not _FEWEST_STEPS <= steps <= _MOST_STEPS:
        raise UsageError(f"{steps} steps cannot be planned", f"{_FEWEST_STEPS} to {_MOST_STEPS} can")
    every = np.array([o.value for o in run])
    low = float(np.quantile(every, _TAIL)) if low is None else low
    high = float(np.quantile(every, 1.0 - _TAIL)) if high is None else high
    if not 0.0 <= low < high <= 10.0:
        raise UsageError(f"A run from value {low:.1f} to {high:.1f} cannot be planned", "values go from 0 up to 10")
    return np.linspace(low, high, steps)


def _places(run: tuple[Option, ...], every: tuple[Option, ...], value: float, aim: Floats, tolerance: float) -> Step:
    places = []
    for shift, options in ((0.0, run), (SHIFT, every), (-SHIFT, every)):
        within = [o for o in options if abs(o.value - value) <= tolerance]
        place = Place(value, aim + shift * _WARM, ())
        places.append(replace(place, options=_nearest(within, place)))
    return tuple(places)


def _nearest(options: list[Option], place: Place) -> tuple[Option, ...]:
    """Return those options that suit a place best, and stray not too far in colour."""
    fitting = [o for o in options if np.hypot(*(o.lab[1:] - place.aim)) <= _STRAY]
    far = (replace(place, options=tuple(fitting)).departures ** 2).sum(axis=1)
    return tuple(fitting[i] for i in np.argsort(far, kind="stable")[:_MOST_OPTIONS])


def _filled(
    step: Step, pick: Chosen, search: Callable[[Place, Floats], tuple[Option, ...]], family: HueFamily | None
) -> Step:
    """Add predicted mixtures to the places for which nothing is recorded, or nothing near the colour aimed at."""
    centre = step[0].aim if pick[0] is None else pick[0].lab[1:]
    aims = (step[0].aim, centre + SHIFT * _WARM, centre - SHIFT * _WARM)
    filled = []
    for place, taken, aim in zip(step, pick, aims, strict=True):
        found: tuple[Option, ...] = ()
        if taken is None:
            # The farther colour is tried because the nearer one may not be clearly warmer or cooler than the run.
            found = search(place, aim) + search(place, aim + _FARTHER * (aim - centre))
        elif np.hypot(*(taken.lab[1:] - place.aim)) > COLOUR_UNIT or (place is step[0] and _uneven(taken, place)):
            found = search(place, aim)
        if place is step[0] and family is not None:
            found = tuple(option for option in found if family.holds(option.lab))
        filled.append(replace(place, options=place.options + found))
    return tuple(filled)


def _uneven(option: Option, place: Place) -> bool:
    """Tell whether an option is farther from the value wanted than evenness allows without extra cost."""
    return max(abs(value - place.value) for value in (option.value, option.likely_value or option.value)) > EVEN


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
    nearest = _nearest([o for o in options if abs(o.value - step[0].value) <= _WIDENED], step[0])
    return replace(step[0], options=nearest[:_WIDENED_OPTIONS]), *step[1:]


def _lightness(value: float) -> float:
    """Return L* of a Munsell value (ASTM D1535, CIELAB 1976)."""
    return float(116.0 * np.cbrt(luminance_of_value(value)) - 16.0)
