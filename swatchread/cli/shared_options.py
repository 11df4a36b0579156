"""What several commands share: options, and the check of a folder for results."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

ChartOption = Annotated[
    str | None, typer.Option("--chart", metavar="NAME|FILE", help="The chart: a known name, or a definition file.")
]
JsonOption = Annotated[bool, typer.Option("--json", help="Print JSON instead of a table.")]

COLOUR = (
    "L,a,b; a swatch of a note (card.note.json:r2c1), of an archived card (12:r2c1) or of a photo (card.jpg:r2c1); or "
    "the photo of a lone swatch."
)
"""The ways to name a colour, for the help; `archive/colour_reference.py` reads them."""


def require_folder(into: Path | None) -> None:
    """Refuse a folder for results that is a file or cannot be written to, before anything is read.

    Raises
    ------
    OutputError
        If nothing can be written into it.
    """
    import os

    from swatchread.errors import OutputError

    if into is None:
        return
    what = "The results could not be written"
    if into.is_file():
        remedy = "Name a folder for the results; a missing one is made"
        raise OutputError(what, f"{into} is a file, not a folder", remedy)
    if into.is_dir() and not os.access(into, os.W_OK):
        raise OutputError(what, f"nothing may be written into {into.absolute()}", "Name another folder with --into DIR")
