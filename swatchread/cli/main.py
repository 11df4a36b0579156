"""The commands, and the one place where an error becomes a message and an exit status."""

from __future__ import annotations

import sys
from typing import Annotated

import typer

from swatchread import __version__
from swatchread.cli.messages import tell
from swatchread.cli.shelf import ShelfGroup
from swatchread.errors import SwatchreadError

INTERRUPTED = 130

app = typer.Typer(
    name="swatchread",
    cls=ShelfGroup,
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,  # drawing help with it takes longer than all the rest
    help="Read painted swatch cards from photos into measured colour notes, and work with the notes.",
)


def _show_version(wanted: bool) -> None:
    if wanted:
        typer.echo(f"swatchread {__version__}")
        raise typer.Exit


@app.callback()
def common(
    version: Annotated[
        bool, typer.Option("--version", callback=_show_version, is_eager=True, help="Show the version.")
    ] = False,
) -> None:
    """Carry the options that every command shares."""


def run() -> None:
    """Run the command line and leave with its exit status."""
    try:
        app()
    except SwatchreadError as error:
        tell(error)
        sys.exit(error.exit_status)
    except KeyboardInterrupt:
        typer.echo("Interrupted.", err=True)
        sys.exit(INTERRUPTED)
