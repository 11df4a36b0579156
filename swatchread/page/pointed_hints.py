"""What the painter points at on the page, as JSON."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

from pydantic import BaseModel, ConfigDict, Field

if TYPE_CHECKING:
    from swatchread.hints.manual_hints import ManualHints

_FARTHEST = 1e6
"""Pixels: no photo is so large."""

_MOST_LINES, _MOST_POINTS = 40, 400
"""Lines between rows or columns, and places that are pointed at: more than a card needs."""

Number = Annotated[float, Field(ge=-_FARTHEST, le=_FARTHEST, strict=False)]
Place = tuple[Number, Number]
Quadrangle = tuple[Place, Place, Place, Place]
Line = tuple[Place, Place]
_Count = Annotated[int, Field(ge=1, le=_MOST_LINES)]


class Hints(BaseModel):
    """What the painter pointed at; places are pixels of the upright photo.

    Attributes
    ----------
    grid : tuple of int or None
        Rows and columns.
    card, chart : four places, or None
        Corners.
    quarters : int
        By how many quarter turns clockwise the card lies further than its writing says.
    rows, columns : tuple of lines, or None
        Where the rows and columns part.
    added, removed : tuple of places
        Missed swatches, and marks that are none.
    accept_poor : bool
        Whether a reading with a poor colour fit is taken.
    """

    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False)

    grid: tuple[_Count, _Count] | None = None
    card: Quadrangle | None = None
    chart: Quadrangle | None = None
    quarters: Annotated[int, Field(ge=0, le=3)] = 0
    rows: Annotated[tuple[Line, ...], Field(max_length=_MOST_LINES)] | None = None
    columns: Annotated[tuple[Line, ...], Field(max_length=_MOST_LINES)] | None = None
    added: Annotated[tuple[Place, ...], Field(max_length=_MOST_POINTS)] = ()
    removed: Annotated[tuple[Place, ...], Field(max_length=_MOST_POINTS)] = ()
    accept_poor: bool = False

    @classmethod
    def read(cls, text: str) -> Hints:
        """Return what was kept as text; nothing if it is empty."""
        return cls.model_validate_json(text) if text else cls()

    def text(self) -> str:
        """Return it as text to be kept; empty if nothing was pointed at."""
        return "" if self == Hints() else self.model_dump_json(exclude_defaults=True)

    def manual_hints(self, meant: Quadrangle | None = None) -> ManualHints:
        """Return what a reading is told; `meant` are the corners that the card had, if the photo shows several.

        Raises
        ------
        CornersError
            If four places are no corners.
        """
        import numpy as np

        from swatchread.hints.manual_hints import GridLines, ManualHints, clockwise

        def points(places: object, *shape: int) -> np.ndarray[tuple[int, ...], np.dtype[np.float64]]:
            return np.array(places, dtype=np.float64).reshape(-1, *shape)

        lines = None
        if self.rows is not None or self.columns is not None:
            lines = GridLines(points(self.rows or (), 2, 2), points(self.columns or (), 2, 2))
        return ManualHints(
            grid=self.grid,
            card=None if self.card is None else clockwise(points(self.card, 2), "card"),
            chart=None if self.chart is None else clockwise(points(self.chart, 2), "chart"),
            quarters=self.quarters,
            lines=lines,
            added=points(self.added, 2),
            removed=points(self.removed, 2),
            meant=None if meant is None else points(meant, 2),
        )
