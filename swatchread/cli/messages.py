"""Messages for a person, on standard error."""

from __future__ import annotations

from pathlib import Path

import typer

from swatchread.errors import SwatchreadError


def tell(error: SwatchreadError, about: str = "") -> None:
    """Print one error for a person, on standard error: what, why, what to do.

    Of many files it says which one it is about, unless that is said already.
    """
    subject = "" if Path(about).name in error.what else f"{about}: "
    typer.secho(f"{subject}{error.what}", fg="red", err=True)
    if error.why:
        typer.echo(f"  why: {error.why}", err=True)
    if error.remedy:
        typer.echo(f"  do:  {error.remedy}", err=True)
