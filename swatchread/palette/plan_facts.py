"""A plan as plain facts: for the table, for JSON and for the sheet alike."""

from __future__ import annotations

from typing import Any

from swatchread.colour.munsell import munsell_notation
from swatchread.colour.painter_terms import value_name
from swatchread.colour.screen import hex_colours
from swatchread.note.phrases import CARE
from swatchread.palette.fitted_palette import FittedPalette
from swatchread.palette.plan_options import Option
from swatchread.palette.planning import Plan
from swatchread.palette.step_choice import ROLES
from swatchread.palette.wording import trust_words
from swatchread.recipes.tubes import TubeList

Facts = dict[str, Any]

DARKEST_INK = 25.0
"""L* that ink on plain paper hardly goes below (from memory, common practice)."""


def plan_facts(plan: Plan, studio: FittedPalette | None, tubes: TubeList) -> Facts:
    """Return everything that a plan says.

    Parameters
    ----------
    plan : Plan
    studio : FittedPalette or None
        Whose model made the interpolations.
    tubes : TubeList
        For the cautions.
    """
    steps = []
    used: dict[str, None] = {}
    predicted = False
    for step in plan.steps:
        told: Facts = {"number": step.number, "value": round(step.value, 2), "value_name": value_name(step.value)}
        for role in ROLES:
            option: Option | None = getattr(step, role)
            told[role] = _option(option) if option is not None else None
            if option is not None:
                used |= dict.fromkeys(option.tubes)
                predicted |= option.kind == "predicted"
        steps.append(told | {"remarks": list(step.remarks)})
    return {
        "steps": steps,
        "spacing": round(plan.spacing, 2),
        "remarks": list(plan.remarks),
        "left_out_cards": trust_words(studio) if studio is not None and predicted else "",
        "conditions": {"illuminant": "D50", "observer": "2 degree"},
        "care": [CARE, *tubes.cautions(tuple(used))],
    }


def _option(option: Option) -> Facts:
    codes, inside = hex_colours([option.lab])
    return {
        "kind": option.kind,
        "where": option.name,
        "recipe": option.recipe,
        "lab": [round(float(x), 2) + 0.0 for x in option.lab],
        "uncertainty_de00": round(option.de00, 2),
        "munsell": munsell_notation(option.lab)[0],
        "value": round(option.value, 2),
        "warmth": round(option.warmth, 3) + 0.0,
        "chip": codes[0],
        "screen_shows_it": inside[0],
        "ink_shows_it": inside[0] and float(option.lab[0]) >= DARKEST_INK,
    }
