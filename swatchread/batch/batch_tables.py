"""A batch's result as text for the terminal."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from rich.markup import escape
from rich.table import Table

from swatchread.batch.jobs import Line, State
from swatchread.note.phrases import plain

_STATE_WORDS: dict[State, str] = {
    "read": "read",
    "read before": "read before",
    "same photo": "the same as another",
    "failed": "failed",
    "not reached": "not reached",
}


def failures_table(lines: Sequence[Line]) -> Table:
    """Return a table of the photos that failed: why, and what to do."""
    table = Table(box=None, header_style="underline", title="Could not be read", title_justify="left")
    for name in ("Photo", "What and why", "What to do"):
        table.add_column(name, overflow="fold")
    for line in sorted(lines, key=lambda one: str(one.photo)):
        if line.error is not None:
            why = ": ".join(filter(None, (line.error.what, line.error.why)))
            table.add_row(*(escape(plain(text)) for text in (str(line.photo), why, line.error.remedy)))
    return table


def summary(lines: Sequence[Line]) -> str:
    """Return one line that counts the photos by their state."""
    count = Counter(line.state for line in lines)
    parts = ", ".join(f"{count[state]} {words}" for state, words in _STATE_WORDS.items() if count[state])
    swatches = sum(line.swatches for line in lines if line.state == "read")
    more = f"; {swatches} swatches measured" if swatches else ""
    return f"{len(lines)} photo{'' if len(lines) == 1 else 's'}: {parts}{more}"
