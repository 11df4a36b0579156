"""The report of a batch as CSV (RFC 4180, UTF-8), one row a photo."""

from __future__ import annotations

from collections.abc import Sequence

from swatchread.batch.jobs import Line
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
    "remark": "anything else",
}
"""Column -> what it holds, in the order of the file."""


def report_csv(lines: Sequence[Line]) -> str:
    """Return the report of a batch.

    Parameters
    ----------
    lines : sequence of Line

    Returns
    -------
    str
        The names in `COLUMNS`, then one row a photo in the order of their paths; lines end in CR LF.
    """
    ordered = sorted(lines, key=lambda line: str(line.photo))
    return csv_text(COLUMNS, map(facts, ordered))


def facts(line: Line) -> dict[str, str | int | float | None]:
    """Return what a line says, by column."""
    read, error = line.note is not None, line.error
    return {
        "photo": str(line.photo),
        "state": line.state,
        "note": str(line.note) if line.note else "",
        "card": line.card,
        "swatches": line.swatches if read else None,
        "warnings": line.warnings if read else None,
        "seconds": round(line.seconds, 2) if line.seconds else None,
        "code": error.code if error else "",
        "what": error.what if error else "",
        "why": error.why if error else "",
        "remedy": error.remedy if error else "",
        "remark": line.remark,
    }
