"""Recipes and card information from a CSV file."""

from __future__ import annotations

import csv
import io
from pathlib import Path

from swatchread.errors import UsageError, why_unread
from swatchread.page.note_keeper import CARD_FIELDS, Words
from swatchread.report.note_csv import FORMULA_STARTS

MAX_TABLE_BYTES = 4 * 1024 * 1024
_FIELD_OF_COLUMN = {column: name for name, column in CARD_FIELDS.items()}
"""Column -> field of `CardInfo`."""

_REMEDY = f"Let the first line name the columns: id and recipe, and for the card {', '.join(CARD_FIELDS.values())}"


def read_words(path: Path) -> Words:
    """Read recipes and card information from CSV.

    The first line names the columns: ``id`` and ``recipe`` for swatches, and ``title``, ``sitter``, ``date``,
    ``medium``, ``ground`` and ``remarks`` (in a note's own CSV ``support`` and ``note``) for the card. Other columns
    are ignored, so that a note's own CSV can be read. An empty cell leaves the note's text as it is. The file is
    UTF-8; commas or semicolons separate the cells.

    Parameters
    ----------
    path : pathlib.Path

    Returns
    -------
    Words

    Raises
    ------
    UsageError
        If it is not such a table, or gives two texts for one thing.
    """
    text = _text(path)
    first = text.partition("\n")[0]
    reader = csv.DictReader(io.StringIO(text), delimiter=";" if ";" in first and "," not in first else ",")
    given = [(name or "").strip().casefold() for name in reader.fieldnames or ()]
    # In a table with both names of a field, the note's own name counts.
    reader.fieldnames = names = [name if (own := _FIELD_OF_COLUMN.get(name, name)) in given else own for name in given]
    if "id" not in names or not {"recipe", *CARD_FIELDS} & set(names):
        raise UsageError(f"{path.name} does not name its columns", "", _REMEDY)
    recipes: dict[str, str] = {}
    card: dict[str, str] = {}
    try:
        for row in reader:
            _take(path, row, recipes, card)
    except csv.Error as error:
        raise UsageError(f"{path.name} is not a CSV table", str(error), _REMEDY) from error
    return Words(recipes, card)


def _take(path: Path, row: dict[str, str | None], recipes: dict[str, str], card: dict[str, str]) -> None:
    swatch = (row.get("id") or "").strip()
    recipe = _unguarded(row.get("recipe"))
    if recipe and not swatch:
        raise UsageError(f"{path.name} has a recipe without an id", recipe[:40], _REMEDY)
    if recipe and recipes.setdefault(swatch, recipe) != recipe:
        raise UsageError(f"{path.name} gives two recipes for {swatch}", "", "Keep one of them")
    for name in CARD_FIELDS:
        text = _unguarded(row.get(name))
        if text and card.setdefault(name, text) != text:
            raise UsageError(f"{path.name} gives two texts for the card's {name}", "", "A note holds one card")


def _unguarded(cell: str | None) -> str:
    """Remove the apostrophe that our own CSV puts before a text that a spreadsheet would take for a formula."""
    text = (cell or "").strip()
    return text[1:] if text.startswith("'") and text[1:].lstrip(" '\"").startswith(FORMULA_STARTS) else text


def _text(path: Path) -> str:
    try:
        if path.stat().st_size > MAX_TABLE_BYTES:
            raise UsageError(f"{path.name} is too large for a table of recipes")
        return path.read_text(encoding="utf-8-sig")
    except OSError as error:
        raise UsageError(f"{path.name} cannot be read", *why_unread(error)) from error
    except UnicodeDecodeError as error:
        raise UsageError(f"{path.name} is not UTF-8 text", "", "Save the table as CSV UTF-8") from error
