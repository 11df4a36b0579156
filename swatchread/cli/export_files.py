"""What notes and found swatches can be written as, shared by the commands that write them."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Annotated, Final, Literal

import typer

Kind = Literal["csv", "cgats", "html", "map"]
KindOption = Annotated[
    Literal["csv", "cgats", "html"] | None,
    typer.Option("--as", help="The format, if the file's name does not say it; cgats is ISO 28178 text."),
]

_KINDS: Final[dict[str, Kind]] = {".csv": "csv", ".txt": "cgats", ".html": "html", ".htm": "html", ".svg": "map"}
"""Ending of a file's name -> the format."""


def kind_of(given: Kind | None, into: Path | None, known: Sequence[Kind]) -> Kind | None:
    """Return the format that was given or else that a file's name says; None without either.

    Raises
    ------
    UsageError
        If there is a file whose name says no known format.
    """
    if given is not None or into is None:
        return given
    kind = _KINDS.get(into.suffix.lower())
    if kind not in known:
        from swatchread.errors import UsageError

        remedy = f"Name one with --as: {', '.join(known)}"
        if into.suffix.lower() == ".pdf":
            remedy = "Name the file .html, open it in a browser, and print it or save it as PDF from there"
        raise UsageError(f"{into.name} does not say which format is wanted", "", remedy)
    return kind
