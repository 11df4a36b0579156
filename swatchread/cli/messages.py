"""Messages for a person, on standard error."""

from __future__ import annotations

from pathlib import Path
from typing import Any, Final, cast

import typer

from swatchread.errors import SwatchreadError, UsageError

REFUSED: Final = cast("type[Exception]", typer.BadParameter.__base__)
"""What the library raises where a command line cannot be understood."""

_ASKED: Final = {
    "int_parsing": "a whole number is asked for",
    "int_type": "a whole number is asked for",
    "float_parsing": "a number is asked for",
    "greater_than_equal": "it must be {ge} or more",
    "less_than_equal": "it must be {le} or less",
}


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


def tell_refused(error: Any) -> int:
    """Print in the same way what the library says of a command line, and return the exit status."""
    command = error.ctx.command_path if error.ctx else "swatchread"
    if "\n" in error.message:  # a command without its words: its help is the answer
        error.show()
    else:
        tell(UsageError(*_refused(error), f"`{command} --help` shows how it is used"))
    return UsageError.exit_status


def _refused(error: Any) -> tuple[str, str]:
    """Say what was refused, and why."""
    from swatchread.words import plain

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
    asked = _ASKED.get(fault.get("type", ""), "").format(**fault.get("ctx", {}))
    return f"{name}{given} makes no sense", asked or error.message.removeprefix("Value error, ").rstrip(".")


def _fault(cause: Any) -> dict[str, Any]:
    """Return the first fault that a check of values found, if that is the cause."""
    return cause.errors()[0] if hasattr(cause, "errors") else {}
