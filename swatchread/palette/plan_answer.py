"""A question for a plan, and the plan as plain facts: for the table, for JSON and for the sheet alike."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

from swatchread.colour.munsell import munsell_notation
from swatchread.colour.painter_terms import value_name
from swatchread.colour.screen import hex_colours
from swatchread.note.model import Note
from swatchread.note.phrases import CARE
from swatchread.palette.answer_records import Facts
from swatchread.palette.card_sources import as_palette
from swatchread.palette.fitted_palette import FittedPalette
from swatchread.palette.hue_family import HueFamily
from swatchread.palette.plan_options import Option, gather_options
from swatchread.palette.plan_records import Plan
from swatchread.palette.planning import make_plan
from swatchread.palette.recipe_amounts import tubes_named
from swatchread.palette.step_choice import ROLES
from swatchread.palette.wording import trust_words

if TYPE_CHECKING:
    from swatchread.archive.store import Archive

DARKEST_INK = 25.0
"""L* below which ink on plain paper hardly goes (from memory, common practice)."""


def plan(
    cards: Archive | Iterable[Note] | FittedPalette,
    *,
    steps: int = 6,
    low: float | None = None,
    high: float | None = None,
    tubes: Sequence[str] = (),
    hue: str = "",
) -> Plan:
    """Plan a run of mixtures even in value, each with a warmer and a cooler one, from recorded mixtures.

    Parameters
    ----------
    cards : Archive, iterable of Note, or FittedPalette
        Recorded cards with their recipes; or what `swatchread.learn` learnt from them.
    steps : int
        Mixtures in the run, 2 to 12.
    low, high : float, optional
        Munsell value of the darkest and of the lightest step; by default what the cards span.
    tubes : sequence of str
        Tubes that may be used; by default all.
    hue : str
        The family of hue that the run keeps to: red, orange, yellow, green, blue or violet; ``"any"`` lets it mix them.
        By default the family of which the cards show most of the scale of values.

    Returns
    -------
    Plan
        Its `steps` run from dark to light. What no card holds is predicted, and says so, or left empty. Each mixture
        says its small whole parts; `Plan.for_amount` says what they come to for an amount.

    Raises
    ------
    NoRecipesError
        If fewer than three recorded mixtures can be used.
    UsageError
        If the steps, the values or the hue make no sense, or one of the tubes is on no card.

    Examples
    --------
    >>> for step in swatchread.plan(notes, steps=5, low=3, high=8).for_amount("15 ml").steps:
    ...     print(step.value, step.run and step.run.portions)
    """
    palette = as_palette(cards)
    allowed = tubes_named(palette, tuple(tubes)) if tubes else ()
    pool = gather_options(palette.cards, palette.vocabulary, allowed, hue)
    return make_plan(pool, palette, steps, low, high, allowed)


def plan_facts(made: Plan, palette: FittedPalette) -> Facts:
    """Return everything that a plan says.

    Parameters
    ----------
    made : Plan
    palette : FittedPalette
        What it was made with.
    """
    options = [option for step in made.steps for option in step.options if option is not None]
    predicted = any(option.kind == "predicted" for option in options)
    used = tuple(dict.fromkeys(tube for option in options for tube in option.tubes))
    steps = [
        {
            "number": step.number,
            "value": round(step.value, 2),
            "value_name": value_name(step.value),
            **{role: _option_facts(option) for role, option in zip(ROLES, step.options, strict=True)},
            "remarks": list(step.remarks),
        }
        for step in made.steps
    ]
    return {
        "steps": steps,
        "spacing": round(made.spacing, 2),
        "hue": _hue_facts(made.family),
        "in_all": str(made.in_all or ""),
        "remarks": list(made.remarks),
        "left_out_cards": trust_words(palette) if predicted else "",
        "conditions": {"illuminant": "D50", "observer": "2 degree"},
        "care": [CARE, *palette.vocabulary.cautions(used)],
    }


def _hue_facts(family: HueFamily | None) -> Facts | None:
    if family is None:
        return None
    return {"name": family.name, "degrees": round(family.hue), "half_width": round(family.half_width)}


def _option_facts(option: Option | None) -> Facts | None:
    if option is None:
        return None
    codes, inside = hex_colours([option.lab])
    return {
        "kind": option.kind,
        "where": option.name,
        "doubtful": option.doubtful,
        "recipe": option.recipe,
        "parts": option.parts,
        "portions": dict(option.portions),
        "to_mix": option.to_mix,
        "lab": [round(float(x), 2) + 0.0 for x in option.lab],
        "uncertainty_de00": round(option.de00, 2),
        "munsell": munsell_notation(option.lab)[0],
        "value": round(option.value, 2),
        "warmth": round(option.warmth, 3) + 0.0,
        "chip": codes[0],
        "screen_shows_it": inside[0],
        "ink_shows_it": inside[0] and float(option.lab[0]) >= DARKEST_INK,
    }
