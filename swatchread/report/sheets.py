"""Sheets to print: found swatches side by side for the easel, and a plan with its value scale for the studio wall."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from pathlib import Path
from typing import Any, Final

import numpy as np

from swatchread.archive.results import Found
from swatchread.colour.cielab import luminance_of_value
from swatchread.colour.painter_terms import VALUE_NAMES
from swatchread.colour.screen import hex_colours
from swatchread.note.phrases import plain, swatches
from swatchread.report.pages import crop_address, render

Facts = dict[str, Any]

ROLES: Final = ("cooler", "run", "warmer")
"""The mixtures of a step, in the order in which they are shown."""

NO_RECIPE: Final = "no recipe"

# Measured on prints of the sheet by Chromium; where they are a little off, the browser parts the sheet elsewhere.
_SHEET_MM, _FRAME_MM = 265.0, 68.5
"""Height that a letter sheet leaves, and what title, value scale and foot take."""
_STEP_MM, _RECIPE_MM, _AMOUNT_MM = 14.2, 6.6, 4.7
"""A step without its recipes, a line of a recipe, and a line of amounts or remarks."""
_RECIPE_LETTERS, _AMOUNT_LETTERS = 21, 34
"""Letters on such a line."""


def contact_sheet(found: Sequence[Found], question: str, *, root: str = "") -> str:
    """Lay found swatches out as one self-contained HTML page.

    Parameters
    ----------
    found : sequence of Found
        In the order to show.
    question : str
        What was asked, in words; stands under the title.
    root : str
        Where the local page finds styles; empty for a page that stands alone, which carries them and the handwriting.

    Returns
    -------
    str
        HTML, to be written as UTF-8.
    """
    colours, on_screen = hex_colours([one.lab for one in found]) if found else ([], [])
    items = [
        {
            "found": one,
            "colour": colour,
            "on_screen": inside,
            "alike": percent(one.same),
            "picture": None if root else crop_address(Path(one.writing).parent, Path(one.writing).name),
            "card": _card_name(one),
        }
        for one, colour, inside in zip(found, colours, on_screen, strict=True)
    ]
    return render(
        "report/templates/contact_sheet.html",
        root=root,
        title="Found swatches",
        counted=swatches(len(found)),
        question=question,
        items=items,
        has_recipe=any(plain(one.recipe) for one in found),
        NO_RECIPE=NO_RECIPE,
    )


def percent(probability: float | None) -> str:
    """Write a probability for people: "12 %", "under 1 %", "over 99 %"."""
    if probability is None:
        return ""
    if probability < 0.01:
        return "under 1 %"
    return "over 99 %" if probability > 0.99 else f"{100 * probability:.0f} %"


def _card_name(one: Found) -> str:
    named = " · ".join(plain(part) for part in (one.title, one.sitter, one.date, one.medium) if plain(part))
    return named or plain(one.photo)


def render_sheet(facts: Facts, title: str, subtitle: str = "", *, sparing: bool = False, root: str = "") -> str:
    """Write a plan as a self-contained HTML page, to be printed from the browser on A4 or letter.

    Parameters
    ----------
    facts : dict
        What the plan's JSON says.
    title, subtitle : str
        Not trusted.
    sparing : bool
        On white and with smaller chips, so that it takes little ink.
    root : str
        Where the local page finds styles; empty for a page that stands alone.

    Returns
    -------
    str
        HTML, to be written as UTF-8.
    """
    options = [step[role] for step in facts["steps"] for role in ROLES if step[role]]
    return render(
        "report/templates/plan_sheet.html",
        root=root,
        sparing=sparing,
        half=_parted_at(facts["steps"]),
        bring=facts.get("tubes", ()),
        plan=facts,
        title=plain(title) or "Palette for the sitting",
        subtitle=plain(subtitle),
        scale=_value_scale(),
        remarks=[remarks_on(step) for step in facts["steps"]],
        beyond_screen=any(not option["screen_shows_it"] for option in options),
        beyond_ink=any(option["screen_shows_it"] and not option["ink_shows_it"] for option in options),
        care=care_words(facts["care"]),
    )


def care_words(lines: Sequence[str]) -> str:
    """Return cautions as sentences."""
    sentences = (plain(line).rstrip(".") + "." for line in lines)
    return " ".join(sentence[:1].upper() + sentence[1:] for sentence in sentences)


def remarks_on(step: Facts) -> str:
    """Return a step's remarks in one line, without that on interpolations: the sheet says it beside the recipe."""
    return "; ".join(plain(remark) for remark in step["remarks"] if "interpolation" not in remark)


def _value_scale() -> list[tuple[int, str, str]]:
    """Return value, name and sRGB code of the nine greys that a mixture is judged against."""
    values = np.arange(1.0, 10.0)
    lightness = 116.0 * np.cbrt(luminance_of_value(values)) - 16.0
    codes, _ = hex_colours(np.stack([lightness, 0 * values, 0 * values], axis=-1))
    return [(int(value), name, code) for value, name, code in zip(values, VALUE_NAMES, codes, strict=True)]


def _parted_at(steps: Sequence[Facts]) -> int | None:
    """Return the number of steps on the first sheet, if a plan has to be parted in the middle; else None."""
    height = _FRAME_MM + sum(_step_height(step) for step in steps)
    return (len(steps) + 1) // 2 if height > _SHEET_MM else None


def _step_height(step: Facts) -> float:
    """Return about how high a step is printed, mm: its recipes decide, in the type of `look/sheets.css`."""
    options = [step[role] for role in ROLES if step[role]]
    recipes = [len(textwrap.wrap(plain(o["recipe"]), _RECIPE_LETTERS)) * _RECIPE_MM for o in options]
    amounts = [len(textwrap.wrap(o["to_mix"], _AMOUNT_LETTERS)) * _AMOUNT_MM for o in options]
    beside = _AMOUNT_MM if remarks_on(step) else 0.0
    return _STEP_MM + beside + max((sum(pair) for pair in zip(recipes, amounts, strict=True)), default=0.0)
