"""Messages for a person, on standard error."""

from __future__ import annotations

import shutil
import sys
import textwrap
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, cast

import typer

from swatchread.cli.lazy_commands import LazyCommands
from swatchread.errors import SwatchreadError, UsageError

if TYPE_CHECKING:
    from rich.progress import Progress

REFUSED: Final = cast("type[Exception]", typer.BadParameter.__base__)
"""What typer raises when it cannot understand a command line."""

_WANTED: Final = {
    "int_parsing": "a whole number is asked for",
    "int_type": "a whole number is asked for",
    "float_parsing": "a number is asked for",
    "greater_than_equal": "it must be {ge} or more",
    "less_than_equal": "it must be {le} or less",
}
"""Type of a fault that pydantic finds in a value -> what the value has to be."""


def tell(error: SwatchreadError, about: str = "") -> None:
    """Print an error: what happened, why, and what to do.

    Parameters
    ----------
    error : SwatchreadError
    about : str
        The file that it is about; it is named unless the error names it already.
    """
    subject = "" if Path(about).name in error.what else f"{about}: "
    typer.secho(_folded(f"{subject}{error.what}"), fg="red", err=True)
    for name, words in (("why", error.why), ("do", error.remedy)):
        if words:
            typer.echo(_folded(f"  {name + ':':<4} {words}", hanging=7), err=True)


def _folded(line: str, hanging: int = 0) -> str:
    """Return a line folded between words where a person sees it in a window that is narrower; a file gets it whole."""
    if not _is_window():
        return line
    window = textwrap.TextWrapper(
        width=shutil.get_terminal_size().columns,
        subsequent_indent=" " * hanging,
        break_long_words=False,
        break_on_hyphens=False,
    )
    return window.fill(line)


def _is_window() -> bool:
    return sys.stderr.isatty()


def progress_bar() -> Progress:
    """Return a progress bar with a field `failed`."""
    from rich import progress
    from rich.console import Console

    return progress.Progress(
        progress.TextColumn("{task.description}"),
        progress.BarColumn(),
        progress.MofNCompleteColumn(),
        progress.TextColumn("{task.fields[failed]}"),
        progress.TimeElapsedColumn(),
        progress.TextColumn("left"),
        progress.TimeRemainingColumn(),
        console=Console(stderr=True, highlight=False),
    )


def tell_refused(error: Any) -> int:
    """Print in the same way why typer refused a command line, and return the exit status."""
    if "\n" in error.message:  # a command without arguments: typer answers with its help
        error.show()
    else:
        typed, command = _typed()
        name = error.ctx.command_path if error.ctx else typed
        short = _cut_short(error, command)
        tell(UsageError(*(short or _refused(error)), f"`{name} --help` shows how it is used"))
    return UsageError.exit_status


def _typed() -> tuple[str, Any]:
    """Return the full name of the command that was typed, and the command; not every error holds them."""
    words, command, within = ["swatchread"], None, cast("Any", LazyCommands())
    for word in sys.argv[1:]:
        if word not in within:
            break
        words.append(word)
        command = within[word]
        within = getattr(command, "commands", {})
    return " ".join(words), command


def _cut_short(error: Any, command: Any) -> tuple[str, str] | None:
    """If a command line ends before an option has all its values, return what is missing."""
    option = getattr(error, "option_name", None)
    for param in getattr(command, "params", ()):
        if error.ctx is None and option in param.opts and param.metavar:
            return f"{option} is incomplete", f"{param.metavar} must follow it"
    return None


def _refused(error: Any) -> tuple[str, str]:
    """Return what was refused, and why."""
    from swatchread.note.phrases import plain

    param, fault = getattr(error, "param", None), _fault(error.__cause__)
    if hasattr(error, "possibilities"):
        like = ", ".join(error.possibilities or ())
        return error.message.rstrip("."), like and f"there is {like}"
    if not param:
        return error.format_message().rstrip("."), ""
    name = param.metavar or param.name.upper() if param.param_type_name == "argument" else max(param.opts, key=len)
    if not error.message:
        return f"{name} is missing", ""
    given = f" {plain(str(fault['input']))}" if fault else ""
    wanted = _WANTED.get(fault.get("type", ""), "").format(**fault.get("ctx", {}))
    return f"{name}{given} makes no sense", wanted or error.message.removeprefix("Value error, ").rstrip(".")


def _fault(cause: Any) -> dict[str, Any]:
    """Return the first fault that pydantic found, if that is the cause."""
    return cause.errors()[0] if hasattr(cause, "errors") else {}
