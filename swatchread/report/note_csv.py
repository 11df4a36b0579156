"""A note as CSV (RFC 4180, UTF-8): one row a swatch. Each row repeats the card's facts, so that files can be joined.

Text that a spreadsheet would take for a formula gets an apostrophe in front; spreadsheets then show it as text (common
practice against formula injection). Numbers are never quoted or changed.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Mapping
from typing import Any, Final

from swatchread.note.model import Note, Swatch
from swatchread.note.phrases import plain

COLUMNS: Final[dict[str, str]] = {
    "id": "row and column on the card, e.g. r2c1",
    "row": "counted from the top, from 1",
    "column": "counted from the left, from 1",
    "L": "CIELAB L*, D50, 2 degree observer",
    "a": "CIELAB a*",
    "b": "CIELAB b*",
    "C": "chroma C*ab",
    "h": "hue angle hab in degrees, 0 to 360",
    "u_L": "standard uncertainty of L*",
    "u_a": "standard uncertainty of a*",
    "u_b": "standard uncertainty of b*",
    "u_de00": "standard uncertainty of the colour in CIEDE2000",
    "u_own_de00": "the part of it that is the swatch's own; the chart shares the rest",
    "munsell": "Munsell notation (ASTM D1535)",
    "value": "Munsell value, 0 to 10",
    "value_name": "name of the value on the nine-step scale",
    "warmth": "warm-cool score, a grey is 0",
    "temperature": "warm, neutral or cool",
    "relative": "warmer, even or cooler than the reference",
    "against": "the reference: run, ground, or a swatch's id",
    "lean": "none, red, yellow, green or blue",
    "spread_de00": "unevenness of the paint in CIEDE2000",
    "flags": "doubts, separated by spaces",
    "recipe": "the recipe as entered",
    "writing": "file of the cropped handwriting",
    "title": "of the card",
    "sitter": "of the card",
    "date": "of the card",
    "medium": "of the card",
    "support": "of the card",
    "photo": "file name of the photo",
    "sha256": "of the photo",
    "made": "when the note was made, UTC",
}
"""Column -> what it holds, in the order of the file."""

_AS_IN_THE_NOTE = {"id", "row", "column", "munsell", "value", "value_name", "lean", "spread_de00", "recipe"}

# A spreadsheet drops leading blanks before it looks; the wide forms are read as the narrow ones.
FORMULA_STARTS = ("=", "+", "-", "@", "|", "%", "＝", "＋", "－", "＠", "−")


def note_to_csv(note: Note) -> str:
    """Write a note as CSV text.

    Parameters
    ----------
    note : Note

    Returns
    -------
    str
        A header with the names in `COLUMNS`, then one row a swatch; lines end in CR LF.
    """
    shared = {**note.card_info.model_dump(exclude={"note"}), "photo": note.photo.file}
    shared |= {"sha256": note.photo.sha256, "made": note.made}
    return csv_text(COLUMNS, [_cells(swatch) | shared for swatch in note.swatches])


def csv_text(columns: Iterable[str], rows: Iterable[Mapping[str, Any]]) -> str:
    """Write rows as CSV text (RFC 4180) that a spreadsheet can open safely.

    Parameters
    ----------
    columns : iterable of str
        Heads, in order.
    rows : iterable of mapping
        Column -> text, number, or None for an empty cell. Other keys are passed over.

    Returns
    -------
    str
        A header, then the rows; lines end in CR LF. Texts are guarded against formulas, numbers stay as they are.
    """
    buffer = io.StringIO(newline="")
    writer = csv.DictWriter(buffer, list(columns), extrasaction="ignore")
    writer.writeheader()
    for row in rows:
        writer.writerow({name: guarded(cell) if isinstance(cell, str) else cell for name, cell in row.items()})
    return buffer.getvalue()


def guarded(text: str) -> str:
    """Return one line of text that no spreadsheet takes for a formula.

    Parameters
    ----------
    text : str

    Returns
    -------
    str
        The text, with an apostrophe in front where it would have started a formula.
    """
    line = plain(text)
    return f"'{line}" if line.lstrip(" '\"").startswith(FORMULA_STARTS) else line


def _cells(swatch: Swatch) -> dict[str, Any]:
    u, temperature = swatch.uncertainty, swatch.temperature
    return {
        **swatch.model_dump(include=_AS_IN_THE_NOTE),
        **dict(zip("Lab", swatch.lab, strict=True)),
        "C": round(swatch.lch[1], 4),
        "h": round(swatch.lch[2], 3),
        **{f"u_{name}": getattr(u, name) for name in ("L", "a", "b", "de00", "own_de00")},
        "warmth": temperature.warmth,
        "temperature": temperature.name,
        "relative": temperature.relative,
        "against": temperature.against,
        "flags": " ".join(swatch.flags),
        "writing": swatch.writing or "",
    }
