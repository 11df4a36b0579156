"""Comparisons as JSON, and as CSV with one row for each swatch and later reading."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import asdict
from typing import Any, Final

from swatchread.comparison.across_cards import Across
from swatchread.comparison.comparison_result import Amount, Change, Comparison, Series
from swatchread.report.note_csv import csv_text

COLUMNS: Final[dict[str, str]] = {
    "reading": "number of the later reading, from 2",
    "before": "photo of the first reading",
    "after": "photo of the later reading",
    "taken_before": "when the first photo was taken, as it says",
    "taken_after": "when the later photo was taken",
    "seconds": "time between them",
    "id": "row and column in the first reading",
    "id_after": "row and column in the later reading",
    "L_before": "CIELAB L*, D50, 2 degree observer, first reading",
    "a_before": "CIELAB a*",
    "b_before": "CIELAB b*",
    "L_after": "CIELAB L* of the later reading, tied by the anchors if there are any",
    "a_after": "CIELAB a*",
    "b_after": "CIELAB b*",
    "d_L": "change of L*",
    "u_d_L": "its standard uncertainty, both photos combined",
    "d_C": "change of chroma C*ab",
    "u_d_C": "its standard uncertainty",
    "d_h": "change of hue angle, degrees, -180 to 180",
    "u_d_h": "its standard uncertainty",
    "d_b": "change of b*",
    "u_d_b": "its standard uncertainty",
    "d_value": "change of Munsell value",
    "u_d_value": "its standard uncertainty",
    "d_warmth": "change of the warm-cool score",
    "u_d_warmth": "its standard uncertainty",
    "de00": "CIEDE2000 between the two",
    "u_de00": "what noise alone comes to",
    "p": "probability of so large a difference without a change",
    "p_card": "the same, corrected for all swatches of the card (Holm)",
    "anchor": "1 if taken as unchanged",
    "verdict": "in words",
    "recipe": "as entered",
}
"""Column -> what it holds, in the order of the file."""

_AMOUNTS = ("L", "C", "h", "b", "value", "warmth")


def series_to_csv(series: Series) -> str:
    """Write comparisons as CSV text.

    Parameters
    ----------
    series : Series

    Returns
    -------
    str
        A header with the names in `COLUMNS`, then one row a swatch and later reading; lines end in CR LF.
    """
    return csv_text(COLUMNS, _rows(series))


def series_to_json(series: Series) -> str:
    """Write comparisons as JSON text."""
    data = {
        "format": "swatchread-comparison",
        "version": 1,
        "conditions": {"illuminant": "D50", "observer": "2 degree"},
        "comparisons": [_comparison(c) for c in series.comparisons],
    }
    return _json(data)


def across_to_json(across: Across) -> str:
    """Write the summary over cards as JSON text."""
    data = {
        "format": "swatchread-shifts",
        "version": 1,
        "cards": across.cards,
        "effects": [{**asdict(effect), "clear": effect.clear} for effect in across.effects],
        "too_few": [{"kind": kind, "name": name, "cards": cards} for kind, name, cards in across.too_few],
    }
    return _json(data)


def _json(data: dict[str, Any]) -> str:
    return json.dumps(data, ensure_ascii=False, indent=1, allow_nan=False) + "\n"


def _rows(series: Series) -> Iterator[dict[str, Any]]:
    for number, comparison in enumerate(series.comparisons, start=2):
        before, after = comparison.before.photo, comparison.after.photo
        for change in comparison.changes:
            facts = _change(change)
            amounts = {f"d_{name}": facts[name]["by"] for name in _AMOUNTS}
            amounts |= {f"u_d_{name}": facts[name]["u"] for name in _AMOUNTS}
            yield {
                "reading": number,
                "before": before.file,
                "after": after.file,
                "taken_before": before.taken or "",
                "taken_after": after.taken or "",
                "seconds": "" if comparison.seconds is None else round(comparison.seconds),
                **{
                    f"{axis}_{end}": x for end in ("before", "after") for axis, x in zip("Lab", facts[end], strict=True)
                },
                **amounts,
                "de00": facts["de00"]["by"],
                "u_de00": facts["de00"]["u"],
                "anchor": int(change.anchor),
                **{name: facts[name] for name in ("id", "id_after", "p", "p_card", "verdict", "recipe")},
            }


def _comparison(comparison: Comparison) -> dict[str, Any]:
    match, common = comparison.match, comparison.common
    return {
        "before": comparison.before.photo.model_dump(include={"file", "sha256", "taken"}),
        "after": comparison.after.photo.model_dump(include={"file", "sha256", "taken"}),
        "seconds": comparison.seconds,
        "turn": round(match.turn, 2),
        "anchors": list(comparison.anchors),
        "ground": [round(x, 3) for x in comparison.ground],
        "common": {
            **{name: _amount(getattr(common, name)) for name in "Lab"},
            "p": [float(f"{p:.4g}") for p in common.p],
            "swatches": common.count,
            "verdict": common.verdict,
        },
        "swatches": [_change(change) for change in comparison.changes],
        "only_before": list(match.only_before),
        "only_after": list(match.only_after),
        "remarks": list(comparison.remarks),
    }


def _change(change: Change) -> dict[str, Any]:
    return {
        "id": change.id,
        "id_after": change.id_after,
        "before": [round(x, 3) for x in change.before],
        "after": [round(x, 3) for x in change.after],
        **{name: _amount(getattr(change, name)) for name in (*_AMOUNTS, "de00")},
        "p": float(f"{change.p:.4g}"),
        "p_card": float(f"{change.p_card:.4g}"),
        "anchor": change.anchor,
        "words": list(change.words),
        "verdict": change.verdict,
        "recipe": change.recipe,
    }


def _amount(amount: Amount) -> dict[str, float]:
    return {"by": round(amount.by, 4), "u": round(amount.u, 4)}
