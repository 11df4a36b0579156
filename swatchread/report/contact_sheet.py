"""A contact sheet: found swatches side by side with their recipes, to print and pin beside the easel."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Final

from swatchread.archive.results import Found
from swatchread.colour.screen import hex_colours
from swatchread.note.phrases import plain, swatches
from swatchread.report.pages import crop_address, render

NO_RECIPE: Final = "no recipe"


def contact_sheet(found: Sequence[Found], question: str) -> str:
    """Lay found swatches out as one self-contained HTML page.

    Parameters
    ----------
    found : sequence of Found
        In the order to show.
    question : str
        What was asked, in words; stands under the title.

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
            "picture": crop_address(Path(one.writing).parent, Path(one.writing).name),
            "card": _card_name(one),
        }
        for one, colour, inside in zip(found, colours, on_screen, strict=True)
    ]
    return render(
        "report/templates/contact_sheet.html",
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
