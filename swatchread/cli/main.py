"""The commands, and the one place where an error becomes a message and an exit status."""

from __future__ import annotations

import atexit
import errno
import gc
import io
import os
import sys
from typing import Annotated

import typer

from swatchread import __version__
from swatchread.cli.lazy_commands import LazyCommandGroup
from swatchread.cli.messages import REFUSED, tell, tell_refused
from swatchread.errors import OutputError, SwatchreadError

INTERRUPTED = 130
_MANY_OBJECTS = 50_000

app = typer.Typer(
    name="swatchread",
    cls=LazyCommandGroup,
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
    _be_heard()
    run()


def run() -> None:
    """Run the command line and leave with its exit status."""
    try:
        status = app(prog_name="swatchread", standalone_mode=False)
        sys.stdout.flush()
    except SwatchreadError as error:
        tell(error)
        status = error.exit_status
    except REFUSED as error:
        status = tell_refused(error)
    except (KeyboardInterrupt, typer.Abort):
        status = INTERRUPTED
    except OSError as error:
        if error.errno != errno.ENOSPC:
            raise
        # Files are written with errors of their own: what has no room is the output, led into a file by the shell.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        tell(OutputError("The answer could not be written", error.strerror or ""))
        status = OutputError.exit_status
    if status == INTERRUPTED:  # the library too makes a status of Ctrl-C
        typer.echo("Interrupted.", err=True)
    sys.exit(status)


def _be_heard() -> None:
    """Let no letter that a terminal lacks (±, Δ) end a command, and give UTF-8 to files and other programs.

    There is no telling in which encoding those will read what an old system would write; tables and notes are UTF-8
    wherever they are written. Whoever names an encoding (`PYTHONIOENCODING`) gets that one.
    """
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            named = stream.isatty() or "PYTHONIOENCODING" in os.environ
            stream.reconfigure(encoding=None if named else "utf-8", errors="replace")


def _hurry() -> None:
    """Leave out what a process that ends soon can do without; together it takes a tenth of a reading.

    Nearly all objects live to its end, so that cycles are looked for seldom, and at the end, when Python would look
    through all of them twice, not at all. Plugins of other programs have no say in the notes; looking for them reads
    what every installed package says of itself.
    """
    gc.set_threshold(_MANY_OBJECTS, 20, 20)
    atexit.register(_skip_last_search)
    os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "__all__")


def _skip_last_search() -> None:
    """Leave out the last search for cycles, except where colour-science has loaded a library that complains of it."""
    if "OpenImageIO" not in sys.modules:
        gc.freeze()
