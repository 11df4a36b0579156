"""Tables in windows too narrow for them: whole columns are left out, for a word cut off is a riddle."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from rich.console import Console, ConsoleOptions, RenderResult
from rich.measure import Measurement
from rich.table import Table
from rich.text import Text

LEFT_OUT: Final = "A wider window shows more columns."
_ANY_WIDTH = 1000
_NONE: Final[frozenset[int]] = frozenset()


@dataclass(frozen=True)
class Fitting:
    """A table that leaves columns out, those first that it can best do without, until it fits.

    Parameters
    ----------
    heads : sequence of str
        Of the columns; one without goes on what stands before it, and is headed as that where that is left out.
    rows : sequence of sequence of str
    numbers : frozenset of int
        Columns of numbers: they stand right and never fold, for a broken number is a wrong number.
    whole : frozenset of int
        Others that never fold.
    spare : tuple of frozenset of int
        What to leave out in turn, each time instead of what was left out before.
    """

    heads: Sequence[str]
    rows: Sequence[Sequence[str]]
    numbers: frozenset[int]
    whole: frozenset[int]
    spare: tuple[frozenset[int], ...]

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        """Draw it, for rich."""
        for left in (_NONE, *self.spare):
            table = self._without(left)
            if Measurement.get(console, options.update(width=_ANY_WIDTH), table).maximum <= options.max_width:
                break
        yield table
        if left:
            yield Text(LEFT_OUT, style="dim")

    def _without(self, left_out: frozenset[int]) -> Table:
        table = Table(box=None, pad_edge=False, padding=(0, 1, 0, 0), header_style="underline")
        kept = [place for place in range(len(self.heads)) if place not in left_out]
        for place in kept:
            right = place in self.numbers
            table.add_column(
                self._head(place, left_out), justify="right" if right else "left", no_wrap=right or place in self.whole
            )
        for row in self.rows:
            table.add_row(*(Text(row[place]) for place in kept))
        return table

    def _head(self, place: int, left_out: frozenset[int]) -> str:
        owner = next((at for at in range(place, -1, -1) if self.heads[at]), place)
        return self.heads[owner] if owner == place or owner in left_out else ""
