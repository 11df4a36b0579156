"""swatchread: a painter's swatch card, read from one photo into a measured note."""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from swatchread.comparison.comparison_result import Comparison
    from swatchread.comparison.pair import compare
    from swatchread.comparison.series import Series, follow
    from swatchread.note.model import Note, load_note, parse_note
    from swatchread.reading import Reading, read_card, read_photo

__version__ = "0.1.0"

__all__ = [
    "Comparison",
    "Note",
    "Reading",
    "Series",
    "__version__",
    "compare",
    "follow",
    "load_note",
    "parse_note",
    "read_card",
    "read_photo",
]

_HOME = {
    "Comparison": "comparison.comparison_result",
    "compare": "comparison.pair",
    "Series": "comparison.series",
    "follow": "comparison.series",
    "Note": "note.model",
    "load_note": "note.model",
    "parse_note": "note.model",
    "Reading": "reading",
    "read_card": "reading",
    "read_photo": "reading",
}


def __getattr__(name: str) -> Any:
    """Load the heavy parts when they are first asked for, so that the command line answers at once."""
    if name not in _HOME:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(f"{__name__}.{_HOME[name]}"), name)
