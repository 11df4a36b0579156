"""Tables in windows too narrow for them: whole columns are left out, for a word cut off is a riddle."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

from rich.console import Console, ConsoleOptions, RenderResult
from rich.measure import Measurement
from rich.table import Table
from rich.text import Text

LEFT_OUT: Final = "A wider window shows more columns."
_ANY_WIDTH = 1000


@dataclass(frozen=True)
class Fitting:
    """A table that leaves columns out, those first that it can best do without, until it fits.

    Parameters
    ----------
    make : callable
        Takes the places of the columns to leave out, returns the table without them.
    spare : tuple of frozenset of int
        What to leave out in turn, each time instead of what was left out before.
    """

    make: Callable[[frozenset[int]], Table]
    spare: tuple[frozenset[int], ...]

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        """Draw it, for rich."""
        for left in (frozenset[int](), *self.spare):
            table = self.make(left)
            if Measurement.get(console, options.update(width=_ANY_WIDTH), table).maximum <= options.max_width:
                break
        yield table
        if left:
            yield Text(LEFT_OUT, style="dim")
