"""The report of a batch: as CSV (RFC 4180, UTF-8) with one row a card, and as text for the terminal."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from typing import get_args

from rich.markup import escape
from rich.table import Table

from swatchread.batch.jobs import Line, State
from swatchread.note.phrases import first_of, plain
from swatchread.report.note_csv import csv_text

REPORT_NAME = "read-report.csv"
COLUMNS = {
    "photo": "path of the photo",
    "state": "read, read before, same photo (as another one), failed, or not reached",
    "note": "path of its note, if it has one",
    "card": "number of its card in the archive",
    "swatches": "how many were measured",
    "warnings": "how many the note has",
    "seconds": "spent reading it",
    "code": "code of the failure",
    "what": "what happened",
    "why": "the reason",
    "remedy": "what to do",
    "doubts": "the warnings of its note, each with what to do",
    "remark": "anything else",
}
"""Column -> what it holds, in the order of the file."""

_NAMED = 6
"""Photos that are named beside a doubt at most; the report holds all."""

_TOLD: dict[State, str] = {"same photo": "the same as another"}
"""State -> how the summary calls it, if not by its own name."""


def report_csv(lines: Sequence[Line]) -> str:
    """Return the report of a batch.

    Parameters
    ----------
    lines : sequence of Line

    Returns
    -------
    str
        The names in `COLUMNS`, then one row a card in the order of the photos' paths; lines end in CR LF.
    """
    ordered = sorted(lines, key=lambda line: (str(line.photo), str(line.note or "")))
    return csv_text(COLUMNS, map(facts, ordered))


def facts(line: Line) -> dict[str, str | int | float | None]:
    """Return what a line says, by column."""
    read = line.swatches > 0
    return {
        "photo": str(line.photo),
        "state": line.state,
        "note": str(line.note) if line.note else "",
        "card": line.card,
        "swatches": line.swatches if read else None,
        "warnings": len(line.doubts) if read else None,
        "seconds": round(line.seconds, 2) if line.seconds else None,
        **{name: getattr(line.error, name, "") for name in ("code", "what", "why", "remedy")},
        "doubts": " ".join(line.doubts),
        "remark": line.remark,
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


def doubts_table(lines: Sequence[Line]) -> Table:
    """Return a table of the doubts about photos that were read: each once, with its remedy and its photos."""
    told: dict[str, list[str]] = {}
    for line in sorted(lines, key=lambda one: str(one.photo)):
        for doubt in line.doubts:
            told.setdefault(doubt, []).append(line.photo.name)
    table = Table(box=None, header_style="underline", title="Read with doubts", title_justify="left")
    for name in ("Photo", "Why, and what to do"):
        table.add_column(name, overflow="fold")
    for doubt, photos in told.items():
        table.add_row(escape(plain(first_of(photos, _NAMED))), escape(doubt))
    return table


def summary(lines: Sequence[Line]) -> str:
    """Return one line that counts the photos by their state."""
    photos = {line.photo: line.state for line in lines}
    count = Counter(photos.values())
    parts = ", ".join(f"{count[state]} {_TOLD.get(state, state)}" for state in get_args(State) if count[state])
    doubtful = len({line.photo for line in lines if line.doubts})
    parts += f"; {doubtful} with doubts" if doubtful else ""
    swatches = sum(line.swatches for line in lines if line.state == "read")
    more = f"; {len(lines)} cards" if len(lines) > len(photos) else ""
    more += f"; {swatches} swatches measured" if swatches else ""
    return f"{len(photos)} photo{'' if len(photos) == 1 else 's'}: {parts}{more}"
