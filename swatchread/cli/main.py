"""The commands, and the one place where an error becomes a message and an exit status."""

from __future__ import annotations

import sys
from typing import Annotated

import typer

from swatchread import __version__
from swatchread.cli import archive, chart, mix, note
from swatchread.cli.compare import compare
from swatchread.cli.fill import fill
from swatchread.cli.messages import tell
from swatchread.cli.plan import plan
from swatchread.cli.read import ReadCommand, read
from swatchread.errors import SwatchreadError

INTERRUPTED = 130

app = typer.Typer(
    name="swatchread",
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    help="Read painted swatch cards from photos into measured colour notes, and work with the notes.",
)
app.command(cls=ReadCommand)(read)
app.command()(compare)
app.command()(plan)
note.app.command("fill")(fill)
app.add_typer(chart.app)
app.add_typer(note.app)
app.add_typer(archive.app)
app.add_typer(mix.app)


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
