"""A sheet for the studio wall: chips to hold paint against, recipes in parts, a value scale."""

from __future__ import annotations

from typing import Any, Final

import numpy as np

from swatchread.colour.cielab import luminance_of_value
from swatchread.colour.painter_terms import VALUE_NAMES
from swatchread.colour.screen import hex_colours
from swatchread.note.phrases import plain
from swatchread.report.pages import render

Facts = dict[str, Any]

ROLES: Final = ("cooler", "run", "warmer")
"""The mixtures of a step, in the order in which they are shown."""


def render_sheet(facts: Facts, title: str, subtitle: str = "") -> str:
    """Write a plan as a self-contained HTML page, to be printed from the browser on A4 or letter.

    Parameters
    ----------
    facts : dict
        What the plan's JSON says.
    title, subtitle : str
        Not trusted.

    Returns
    -------
    str
        HTML, to be written as UTF-8.
    """
    options = [step[role] for step in facts["steps"] for role in ROLES if step[role]]
    return render(
        "report/templates/plan_sheet.html",
        plan=facts,
        title=plain(title) or "Palette for the sitting",
        subtitle=plain(subtitle),
        scale=_value_scale(),
        remarks=[remarks_on(step) for step in facts["steps"]],
        beyond_screen=any(not option["screen_shows_it"] for option in options),
        beyond_ink=any(option["screen_shows_it"] and not option["ink_shows_it"] for option in options),
        care=" ".join(plain(line).rstrip(".") + "." for line in facts["care"]),
    )


def remarks_on(step: Facts) -> str:
    """Return a step's remarks in one line, without that on interpolations: the sheet says it beside the recipe."""
    return "; ".join(plain(remark) for remark in step["remarks"] if "interpolation" not in remark)


def _value_scale() -> list[tuple[int, str, str]]:
    """Return value, name and sRGB code of the nine greys that a mixture is judged against."""
    values = np.arange(1.0, 10.0)
    lightness = 116.0 * np.cbrt(luminance_of_value(values)) - 16.0
    codes, _ = hex_colours(np.stack([lightness, 0 * values, 0 * values], axis=-1))
    return [(int(value), name, code) for value, name, code in zip(values, VALUE_NAMES, codes, strict=True)]
