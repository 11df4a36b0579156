"""Sheets to print, shared by the commands that write them."""

from __future__ import annotations

from collections.abc import Callable
from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer


class Paper(StrEnum):
    """Paper of a sheet."""

    a4 = "a4"
    letter = "letter"


PaperOption = Annotated[Paper, typer.Option("--paper", help="Paper of the sheet.")]

_PAGES = frozenset({".html", ".htm"})


def check_sheet(path: Path | None) -> None:
    """Refuse a sheet's name that says neither HTML nor PDF, before any work is done."""
    from swatchread.errors import UsageError

    if path is not None and path.suffix.lower() not in {".pdf", *_PAGES}:
        raise UsageError(f"{path.name} says no kind of sheet", "", "Let its name end in .pdf or .html")


def write_sheet(path: Path, page: Callable[[], str], printed: Callable[[], bytes]) -> None:
    """Write a sheet as what its name asks for, and say so."""
    from swatchread.note.safe_files import write_bytes, write_text

    if path.suffix.lower() in _PAGES:
        write_text(path, page())
    else:
        write_bytes(path, printed())
    typer.echo(f"Written: {path}", err=True)
