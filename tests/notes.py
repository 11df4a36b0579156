"""Invented notes for tests: a card of flesh mixtures, dark to light, in pairs from warmer to cooler.

Nothing here was measured. The mixtures, the recipes and the evening portrait group are made up; the Munsell
notation is only roughly right.
"""

from __future__ import annotations

import math
from collections.abc import Collection
from typing import Any

import numpy as np

from swatchread.colour.cielab import value_of_lab
from swatchread.colour.munsell import munsell_notation
from swatchread.colour.painter_terms import value_name
from swatchread.note.model import Note
from tests.archive_data import build_note, swatch_data

PHOTO_SIZE = (4032, 3024)
CHART_CORNERS = ((300.0, 620.0), (1500.0, 560.0), (1540.0, 1380.0), (330.0, 1420.0))
CARD_CORNERS = ((1750.0, 250.0), (3750.0, 230.0), (3780.0, 2750.0), (1730.0, 2770.0))
RECIPES = (
    "2 ivory black, 3 red earth",
    "3 red earth, 1 ivory black, touch of viridian",
    "2 red earth, 1 yellow ochre, 1 white",
    "3 white, 2 yellow ochre, 1 red earth",
    "5 white, 2 yellow ochre, touch of cadmium red",
    "8 white, 1 yellow ochre, touch of cadmium red",
)


def sample_note(
    rows: int = 6, columns: int = 2, seed: int = 0, missing: Collection[str] = (), **overrides: Any
) -> Note:
    """Build an invented but consistent note.

    Parameters
    ----------
    rows, columns : int
        The grid of swatches: rows run from dark to light, columns from warmer to cooler.
    seed : int
    missing : collection of str
        Ids of grid places that stay bare.
    **overrides
        Fields of the note that replace the invented ones.

    Returns
    -------
    Note
    """
    random = np.random.default_rng(seed)
    places = [(row, column) for row in range(1, rows + 1) for column in range(1, columns + 1)]
    swatches = [_swatch(row, column, (rows, columns), random) for row, column in places]
    note = build_note(
        [swatch for swatch in swatches if swatch["id"] not in missing],
        made="2025-01-15T19:05:00+00:00",
        photo={
            "file": "evening-card.jpg",
            "width": PHOTO_SIZE[0],
            "height": PHOTO_SIZE[1],
            "taken": "2025-01-15T18:40:00",
            "camera": "an invented camera",
            "profile": "Display P3",
        },
        chart={"name": "classic24", "corners": CHART_CORNERS},
        card={"corners": CARD_CORNERS, "ground": {"lab": (88.0, 0.4, 3.1), "value": 8.71}},
        info={
            "title": "Evening group, harbour hall",
            "sitter": "K.",
            "date": "2025-01-15",
            "medium": "oil",
            "support": "primed card",
            "note": "Invented data: no such card was painted.",
        },
    )
    return _rewritten(note, **overrides)


def _swatch(row: int, column: int, grid: tuple[int, int], random: np.random.Generator) -> dict[str, Any]:
    rows, columns = grid
    along = (row - 1) / max(rows - 1, 1)
    cooler = (column - 1) / max(columns - 1, 1)
    lightness = 24 + 58 * along + random.normal(0, 0.8)
    chroma = 17 + 14 * math.sin(math.pi * min(along, 0.95)) - 7 * cooler + random.normal(0, 0.7)
    hue = math.radians(46 + 18 * along - 16 * cooler + random.normal(0, 1.5))
    lab = [round(x, 2) for x in (lightness, chroma * math.cos(hue), chroma * math.sin(hue))]
    sigma = [round(0.5 + 0.5 * random.random(), 2) for _ in range(3)]
    value = round(float(value_of_lab(lab)), 2)
    return swatch_data(
        row,
        column,
        lab,
        outline=_oval(row, column, grid, random),
        uncertainty=dict(zip("Lab", sigma, strict=True)) | {"de00": 0.9, "own_de00": 0.3},
        munsell=munsell_notation([lab])[0],
        value=value,
        value_name=value_name(value),
        lean="red" if math.degrees(hue) < 40 else "none",
        flags=["uneven"] if row == 2 and column == 1 else ["close_valued"] if row == 5 else [],
        recipe=RECIPES[(row - 1) % len(RECIPES)] + (", touch of viridian" if cooler else ""),
    )


def _oval(row: int, column: int, grid: tuple[int, int], random: np.random.Generator) -> list[list[float]]:
    rows, columns = grid
    left, top, right, bottom = 1850.0, 350.0, 3650.0, 2650.0
    pitch_x, pitch_y = (right - left) / columns, (bottom - top) / rows
    x, y = left + pitch_x * (column - 0.62), top + pitch_y * (row - 0.5)
    turns = np.linspace(0, 2 * math.pi, 28, endpoint=False)
    radius = 1 + random.normal(0, 0.04, turns.size)
    reach = min(pitch_x * 0.24, pitch_y * 0.7), pitch_y * 0.33
    xs, ys = x + reach[0] * radius * np.cos(turns), y + reach[1] * radius * np.sin(turns)
    return [[round(float(px), 1), round(float(py), 1)] for px, py in zip(xs, ys, strict=True)]


def _rewritten(note: Note, **fields: Any) -> Note:
    """Return the note with fields replaced, checked as one that is read."""
    return Note.model_validate({**note.model_dump(), **fields})


def with_text_everywhere(note: Note, text: str) -> Note:
    """Return the note with `text` in every field that a file's author can fill freely."""
    data = note.model_dump(mode="json")
    data["tool"]["version"] = data["made"] = text
    data["photo"] |= dict.fromkeys(("file", "taken", "camera", "profile"), text)
    data["chart"] |= {"name": text, "patches_left_out": [text]}
    data["chart"]["fit"]["model"] = text
    data["card_info"] = dict.fromkeys(data["card_info"], text)
    data["warnings"] = [{"code": text, "message": text, "remedy": text}]
    for swatch in data["swatches"]:
        swatch.update(dict.fromkeys(("munsell", "value_name", "recipe", "writing"), text), flags=[text])
        swatch["temperature"]["against"] = text
    return _rewritten(note, **data)


def changed(note: Note, swatch_id: str, **fields: Any) -> Note:
    """Return the note with fields of one swatch replaced."""
    data = note.model_dump(mode="json")
    next(s for s in data["swatches"] if s["id"] == swatch_id).update(fields)
    return _rewritten(note, **data)
