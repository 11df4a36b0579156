"""swatchread: a painter's swatch card, read from one photo into a measured note."""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from swatchread.comparing.pair import compare
    from swatchread.comparing.records import Comparison
    from swatchread.comparing.series import Series, follow
    from swatchread.note import Note, load_note, parse_note
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
    "Comparison": "comparing.records",
    "compare": "comparing.pair",
    "Series": "comparing.series",
    "follow": "comparing.series",
    "Note": "note",
    "load_note": "note",
    "parse_note": "note",
    "Reading": "reading",
    "read_card": "reading",
    "read_photo": "reading",
}


def __getattr__(name: str) -> Any:
    """Load the heavy parts when they are first asked for, so that the command line answers at once."""
    if name not in _HOME:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(f"{__name__}.{_HOME[name]}"), name)
