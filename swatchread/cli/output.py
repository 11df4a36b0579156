"""Answers, on standard output."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import typer

if TYPE_CHECKING:
    from collections.abc import Iterable

    from rich.console import RenderableType


def print_json(data: Any) -> None:
    """Print data as JSON."""
    import json

    typer.echo(json.dumps(data, ensure_ascii=False, indent=1))


def print_table(table: RenderableType) -> None:
    """Print a table that was laid out for the terminal."""
    from rich.console import Console

    Console(highlight=False).print(table)


def print_lines(lines: Iterable[str], indent: int = 0) -> None:
    """Print lines, folded between words where they are wider than the window."""
    from swatchread.report.console import Lines

    print_table(Lines(lines, indent))
