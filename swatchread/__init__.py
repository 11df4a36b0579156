"""swatchread: a painter's swatch card, read from one photo into a measured note.

From a photo to a note: `read_photo`, `read_card`, `load_chart`; notes on file: `load_note`, `parse_note`, `Archive`.
From notes to answers: `compare` and `follow` (what changed), `fuse` (several photos of one card), `learn`, `predict`,
`match`, `nudge` and `plan` (what to mix). All colours are CIELAB for illuminant D50 and the 1931 2 degree observer.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from swatchread.archive.store import Archive
    from swatchread.chart.definition import ChartDefinition, load_chart
    from swatchread.comparison.comparison_result import Comparison
    from swatchread.comparison.fusion import fuse
    from swatchread.comparison.pair import compare
    from swatchread.comparison.series import Series, follow
    from swatchread.note.model import Note, Swatch, load_note, parse_note
    from swatchread.palette.answer_records import Correction, Matches, Prediction
    from swatchread.palette.answers import match, nudge, predict
    from swatchread.palette.card_sources import learn
    from swatchread.palette.fitted_palette import FittedPalette
    from swatchread.palette.plan_answer import plan
    from swatchread.palette.planning import Plan
    from swatchread.reading import Reading, read_card, read_photo

__version__ = "0.1.0"

_HOME = {
    "Archive": "archive.store",
    "ChartDefinition": "chart.definition",
    "Comparison": "comparison.comparison_result",
    "Correction": "palette.answer_records",
    "FittedPalette": "palette.fitted_palette",
    "Matches": "palette.answer_records",
    "Note": "note.model",
    "Plan": "palette.planning",
    "Prediction": "palette.answer_records",
    "Reading": "reading",
    "Series": "comparison.series",
    "Swatch": "note.model",
    "compare": "comparison.pair",
    "follow": "comparison.series",
    "fuse": "comparison.fusion",
    "learn": "palette.card_sources",
    "load_chart": "chart.definition",
    "load_note": "note.model",
    "match": "palette.answers",
    "nudge": "palette.answers",
    "parse_note": "note.model",
    "plan": "palette.plan_answer",
    "predict": "palette.answers",
    "read_card": "reading",
    "read_photo": "reading",
}
"""Public name -> the module that holds it."""

__all__ = [
    "Archive",
    "ChartDefinition",
    "Comparison",
    "Correction",
    "FittedPalette",
    "Matches",
    "Note",
    "Plan",
    "Prediction",
    "Reading",
    "Series",
    "Swatch",
    "__version__",
    "compare",
    "follow",
    "fuse",
    "learn",
    "load_chart",
    "load_note",
    "match",
    "nudge",
    "parse_note",
    "plan",
    "predict",
    "read_card",
    "read_photo",
]


def __getattr__(name: str) -> Any:
    """Load the heavy parts when they are first asked for, so that the command line answers at once."""
    if name not in _HOME:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(f"{__name__}.{_HOME[name]}"), name)


def __dir__() -> list[str]:
    """Return the public names, so that a notebook completes them."""
    return __all__
