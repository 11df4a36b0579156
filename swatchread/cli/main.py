"""The program: it runs a command and turns an error into a message and an exit status."""

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
from swatchread.errors import INTERRUPTED, OutputError, SwatchreadError

_COLLECTION_THRESHOLD = 50_000
"""New objects after which Python looks for unused cycles of them; its own default is far smaller."""

app = typer.Typer(
    name="swatchread",
    cls=LazyCommandGroup,
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,  # rich takes longer to draw the help than all the rest takes
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
    """Take the options of the program itself."""


def start() -> None:
    """Run the command line in a process that does nothing else."""
    _speed_up()
    _set_encodings()
    run()


def run() -> None:
    """Run the command line and exit with its status."""
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
        # Our own files raise OutputError, so it is the standard output, redirected to a file, that has no room.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        tell(OutputError("The answer could not be written", error.strerror or ""))
        status = OutputError.exit_status
    if status == INTERRUPTED:  # typer may also have turned Ctrl-C into this status
        typer.echo("Interrupted.", err=True)
    sys.exit(status)


def _set_encodings() -> None:
    """Write UTF-8 to files and other programs, and replace letters that a terminal lacks (±, Δ).

    Tables and notes are UTF-8 wherever they are written. An encoding that `PYTHONIOENCODING` names is used instead.
    """
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            named = stream.isatty() or "PYTHONIOENCODING" in os.environ
            stream.reconfigure(encoding=None if named else "utf-8", errors="replace")


def _speed_up() -> None:
    """Leave out work that a short process does not need; it would take a tenth of the time of a reading.

    Nearly all objects are used until the end. So Python looks for unused cycles of objects less often, and not at all
    when it exits. Pydantic does not look for plugins: it would read the metadata of every installed package.
    """
    gc.set_threshold(_COLLECTION_THRESHOLD, 20, 20)
    atexit.register(_skip_last_search)
    os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "__all__")


def _skip_last_search() -> None:
    """Leave out the last search for cycles, except where colour-science has loaded a library that complains of it."""
    if "OpenImageIO" not in sys.modules:
        gc.freeze()
