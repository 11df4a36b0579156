"""Swatches found in the archive, as JSON, as CSV and as CGATS.17 text."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import asdict
from typing import Any, Final

from swatchread import __version__
from swatchread.archive.results import Found
from swatchread.report.cgats import RECIPE_COMMENT, cgats_text, head_lines, quoted
from swatchread.report.note_csv import csv_text

COLUMNS: Final = (
    *("card", "swatch", "L", "a", "b", "u_de00", "de00", "same", "munsell", "value", "value_name"),
    *("temperature", "relative", "lean", "recipe", "title", "sitter", "date", "medium", "photo", "reading", "doubtful"),
)
"""Columns of the CSV file, in their order. Most hold what they hold in a note's own CSV (`note_csv.COLUMNS`), and:

- ``card``: number of the card in the archive
- ``swatch``: row and column on the card, e.g. r2c1
- ``de00``: CIEDE2000 from the colour in the question; empty without one
- ``same``: probability that it is that colour to the eye; empty without one
- ``reading``: version of the tool that read the photo
- ``doubtful``: True where the photo was read with warnings
"""

_OWN_FIELDS = ("CARD", "SWATCH", "SAME_PROBABILITY", "MUNSELL", "MUNSELL_VALUE", "PHOTO")
_FIELDS = (
    *("SAMPLE_ID", "CARD", "SWATCH", "STRING", "LAB_L", "LAB_A", "LAB_B", "STDEV_DE"),
    *("LAB_DE_2000", "SAME_PROBABILITY", "MUNSELL", "MUNSELL_VALUE", "PHOTO"),
)


def found_to_json(found: Sequence[Found]) -> str:
    """Write found swatches as a JSON array, one object a swatch, ending in a line feed."""
    return json.dumps([_object(one) for one in found], ensure_ascii=False, indent=1) + "\n"


def found_to_csv(found: Sequence[Found]) -> str:
    """Write found swatches as CSV (RFC 4180): a header with the names in `COLUMNS`, then one row a swatch.

    Text that a spreadsheet would take for a formula is guarded.
    """
    return csv_text(COLUMNS, (_object(one) | dict(zip("Lab", one.lab, strict=True)) for one in found))


def found_to_cgats(found: Sequence[Found]) -> str:
    """Write found swatches as CGATS.17 text (ISO 28178), ASCII; fields beyond the standard are declared.

    If the question names no colour, the fields of the difference are left out.
    """
    absent = set() if any(one.de00 is not None for one in found) else {"LAB_DE_2000", "SAME_PROBABILITY"}
    fields = [name for name in _FIELDS if name not in absent]
    header = {"ORIGINATOR": f"swatchread {__version__}", "FILE_DESCRIPTOR": "swatches found in an archive"}
    head = head_lines(header, [RECIPE_COMMENT], [name for name in _OWN_FIELDS if name in fields])
    rows = [_cgats_row(number, one) for number, one in enumerate(found, start=1)]
    return cgats_text(head, fields, [[row[name] for name in fields] for row in rows])


def _object(one: Found) -> dict[str, Any]:
    facts = asdict(one)
    return {
        "card": facts.pop("card"),
        "reading": facts.pop("tool_version"),
        "swatch": facts.pop("swatch"),
        "lab": list(facts.pop("lab")),
        "u_de00": facts.pop("uncertainty_de00"),
        **facts,
    }


def _cgats_row(number: int, one: Found) -> dict[str, str]:
    return {
        "SAMPLE_ID": str(number),
        "CARD": str(one.card),
        "SWATCH": one.swatch,
        "STRING": quoted(one.recipe),
        **{f"LAB_{axis}": f"{x:.4f}" for axis, x in zip("LAB", one.lab, strict=True)},
        "STDEV_DE": f"{one.uncertainty_de00:.4f}",
        "LAB_DE_2000": f"{one.de00 or 0.0:.4f}",
        "SAME_PROBABILITY": f"{one.same or 0.0:.4f}",
        "MUNSELL": quoted(one.munsell),
        "MUNSELL_VALUE": f"{one.value:.3f}",
        "PHOTO": quoted(one.photo),
    }
