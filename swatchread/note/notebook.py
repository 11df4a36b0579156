"""A note as a notebook shows it: one chip for each swatch, with its numbers and its recipe."""

from __future__ import annotations

from typing import TYPE_CHECKING
from xml.etree import ElementTree as ET

from swatchread.colour.screen import hex_colours
from swatchread.note.phrases import CARE, has_recipe, heading, minus, plain

if TYPE_CHECKING:
    from swatchread.note.model import Note

_GROUND = "background:#8a8a8a;color:#111;padding:8px;display:inline-block"
"""A neutral ground a little lighter than mid-grey, on which a painter judges colour."""
_CHIP = "background:{colour};width:32px;height:32px"
_CELL = "padding:2px 8px;text-align:left;background:#8a8a8a;color:#111"


def note_html(note: Note) -> str:
    """Return a note as a piece of HTML that needs nothing else.

    Parameters
    ----------
    note : Note

    Returns
    -------
    str
        A ``div``; text from the note is escaped.
    """
    top = ET.Element("div", style=_GROUND)
    ET.SubElement(top, "strong").text = heading(note)
    table = ET.SubElement(top, "table", style="border-collapse:collapse")
    _add_row(table, "th", "", "id", "value", "L*", "a*", "b*", "ΔE00", "recipe")
    codes, inside = hex_colours([swatch.lab for swatch in note.swatches])
    for swatch, colour, shown in zip(note.swatches, codes, inside, strict=True):
        u = swatch.uncertainty
        lab = [f"{minus(x)} ± {sd:.1f}" for x, sd in zip(swatch.lab, (u.L, u.a, u.b), strict=True)]
        cells = (swatch.id, f"{swatch.value:.1f}", *lab, f"± {u.de00:.1f}", plain(swatch.recipe))
        chip = _add_row(table, "td", "", *cells)
        ET.SubElement(chip, "div", style=_CHIP.format(colour=colour)).text = "" if shown else "†"
    if not all(inside):
        ET.SubElement(top, "p").text = "† more saturated than this screen can show"
    if has_recipe(note):
        ET.SubElement(top, "p").text = CARE
    return ET.tostring(top, encoding="unicode", method="html")


def _add_row(table: ET.Element, tag: str, *cells: str) -> ET.Element:
    """Add a row to a table and return its first cell."""
    row = ET.SubElement(table, "tr")
    made = [ET.SubElement(row, tag, style=_CELL) for _ in cells]
    for cell, text in zip(made, cells, strict=True):
        cell.text = text
    return made[0]
