"""What several commands share: options with what is checked about them, and the making of a group of commands."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Annotated, Any, Final, Literal

import typer

ChartOption = Annotated[
    str | None, typer.Option("--chart", metavar="NAME|FILE", help="The chart: a known name, or a definition file.")
]
Address = Annotated[
    str | None,
    typer.Option("--archive", metavar="ADDRESS", help="The archive: a file, or a database. [default: your own]"),
]
JsonOption = Annotated[bool, typer.Option("--json", help="Print JSON instead of a table.")]

Kind = Literal["csv", "cgats", "html", "map"]
KindOption = Annotated[
    Literal["csv", "cgats", "html"] | None,
    typer.Option("--as", help="The format, if the file's name does not say it; cgats is ISO 28178 text."),
]

_KINDS: Final[dict[str, Kind]] = {".csv": "csv", ".txt": "cgats", ".html": "html", ".htm": "html", ".svg": "map"}
"""Ending of a file's name -> the format."""

COLOUR = (
    'L* a* b* (60,15,20 or "60 15 20"); Munsell ("5YR 6/4"); a swatch of a note (card.note.json:r2c1), of an archived '
    "card (12:r2c1) or of a photo (card.jpg:r2c1); or the photo of a lone swatch."
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


def command_group(name: str, told: str, **settings: Any) -> typer.Typer:
    """Return a command that groups others.

    Parameters
    ----------
    name : str
    told : str
        Its help.
    **settings
        Of `typer.Typer`, beside those that all groups share.
    """
    shared: dict[str, Any] = {"no_args_is_help": True, "add_completion": False, "rich_markup_mode": None}
    return typer.Typer(name=name, help=told, **shared, **settings)
