"""A comparison as a page draws it: split chips in the card's grid, moves on the value-and-warmth map, and curves.

The drawings carry no styles of their own, because the local page's policy forbids styles written into it.
"""

from __future__ import annotations

from typing import Any, Final

import numpy as np

from swatchread.colour.cielab import value_of_lab
from swatchread.colour.painter_terms import warmth
from swatchread.comparison.comparison_result import Change, Comparison, Series
from swatchread.report.comparison_page import change_items, elapsed, short_verdict

MAP_SIZE: Final = (560.0, 560.0)
"""Width and height of the map of moves, in its own units."""
_MARGIN: Final = 40.0
_LEAST_SPAN: Final = 0.4
"""Warmth, or value, that the map shows at least."""
CURVE_SIZE: Final = (200.0, 110.0)
"""Width and height of one curve, in its own units."""


def change_view(series: Series) -> dict[str, Any]:
    """Return what a template shows of a series; the last reading is held against the first."""
    last = series.comparisons[-1]
    items = change_items(last)
    return {
        "last": last,
        "columns": max(item["column"] for item in items),
        "items": sorted(items, key=lambda item: (item["row"], item["column"])),
        "apart": elapsed(last.seconds),
        "map": _moves(last, items),
        "curves": _curves(series) if len(series.comparisons) > 1 else (),
    }


def _moves(comparison: Comparison, items: list[dict[str, Any]]) -> dict[str, Any]:
    """Return the ends of each swatch's move on the value-and-warmth map, and the map's scales."""
    ends = np.array([[change.before, change.after] for change in comparison.changes])
    value, warm = value_of_lab(ends), warmth(ends)
    x, across = _scale(warm, MAP_SIZE[0])
    y, upward = _scale(value, MAP_SIZE[1])
    height = MAP_SIZE[1]
    moves = [
        {
            "id": change.id,
            "from": (x[i, 0], height - y[i, 0]),
            "to": (x[i, 1], height - y[i, 1]),
            "before": items[i]["before"],
            "after": items[i]["after"],
            "changed": bool(change.words),
        }
        for i, change in enumerate(comparison.changes)
    ]
    grey = across(0.0)
    return {
        "size": MAP_SIZE,
        "moves": moves,
        "values": [(v, height - upward(v)) for v in range(11) if 0.0 <= upward(v) <= height],
        "grey": grey if 0.0 <= grey <= MAP_SIZE[0] else None,
        "told": "; ".join(f"{change.id}: {short_verdict(change)}" for change in comparison.changes),
    }


def _scale(numbers: np.ndarray[Any, np.dtype[np.float64]], size: float) -> tuple[Any, Any]:
    """Return the places of some numbers along an axis, and the function that gives them."""
    low, high = float(numbers.min()), float(numbers.max())
    middle, half = (low + high) / 2.0, max(high - low, _LEAST_SPAN) / 2.0

    def place(number: Any) -> Any:
        return size / 2.0 + (number - middle) / half * (size / 2.0 - _MARGIN)

    return place(numbers), place


def _curves(series: Series) -> list[dict[str, Any]]:
    """Return for each swatch its change of L* over the readings, as points of one small drawing."""
    width, height = CURVE_SIZE
    curves = {swatch: series.curve(swatch) for swatch in series.ids}
    most = max(abs(change.L.by) + change.L.u for points in curves.values() for _, change in points)
    most = max(most, 1.0)
    step = (width - 20.0) / len(series.comparisons)

    def place(number: int, change: Change) -> dict[str, Any]:
        scale = (height / 2.0 - 8.0) / most
        y = height / 2.0 - change.L.by * scale
        return {"x": 10.0 + step * number, "y": y, "u": change.L.u * scale, "clear": bool(change.words)}

    return [
        {
            "id": swatch,
            "size": CURVE_SIZE,
            "points": [place(number, change) for number, change in points],
            "told": f"{swatch}: L* "
            + ", ".join(f"{change.L.by:+.1f} ± {change.L.u:.1f}" for _, change in points)
            + " since the first reading",
            "last": points[-1][1].L.by,
        }
        for swatch, points in curves.items()
        if points
    ]
