"""The commands, and the one place where an error becomes a message and an exit status."""

from __future__ import annotations

import atexit
import gc
import os
import sys
from typing import Annotated

import typer

from swatchread import __version__
from swatchread.cli.messages import REFUSED, tell, tell_refused
from swatchread.cli.shelf import ShelfGroup
from swatchread.errors import SwatchreadError

INTERRUPTED = 130
_MANY_OBJECTS = 50_000

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


def start() -> None:
    """Be a process that runs the command line and nothing else."""
    _hurry()
    run()


def run() -> None:
    """Run the command line and leave with its exit status."""
    try:
        status = app(prog_name="swatchread", standalone_mode=False)
    except SwatchreadError as error:
        tell(error)
        status = error.exit_status
    except REFUSED as error:
        status = tell_refused(error)
    except (KeyboardInterrupt, typer.Abort):
        typer.echo("Interrupted.", err=True)
        status = INTERRUPTED
    sys.exit(status)


def _hurry() -> None:
    """Leave out what a process that ends soon can do without; together it takes a tenth of a reading.

    Nearly all objects live to its end, so that cycles are looked for seldom, and at the end, when Python would look
    through all of them twice, not at all. Plugins of other programs have no say in the notes; looking for them reads
    what every installed package says of itself.
    """
    gc.set_threshold(_MANY_OBJECTS, 20, 20)
    atexit.register(gc.freeze)
    os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "__all__")
