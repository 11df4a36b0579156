"""What to do about a failure, in the words of the page: here nobody types options."""

from __future__ import annotations

from typing import Final

from swatchread.errors import SwatchreadError

_REMEDIES: Final = {
    "no_chart": "Lay the whole chart flat beside the card, in focus and without glare or fingers on it, and go closer",
    "chart_not_there": "Drag the corners to the outer corners of the chart's patches",
    "grid_mismatch": "Count rows and columns as the card's writing reads, or drag the lines between them",
    "too_poor": "Shoot again in even daylight, or take the reading as it is",
    "archive_damaged": "Remove the card, and drop its photo again",
    "no_recipes": "Type the recipes in parts beside the swatches",
    "broken_off": "Try again; if it happens again, save the photo as a new JPEG",
}
"""Code -> remedy, where the usual one names an option or a command."""


def page_remedy(error: SwatchreadError) -> str:
    """Return what the painter should do, on the page."""
    if "--" in error.remedy or "`" in error.remedy:
        return _REMEDIES.get(error.code, "")
    return error.remedy
