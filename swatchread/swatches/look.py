"""What a likely card is looked at closely on: its region and marks, on the sheet that showed it or on a finer one."""

from __future__ import annotations

from dataclasses import dataclass

from swatchread.swatches.blobs import Blob
from swatchread.swatches.candidates import Candidate, same_ground
from swatchread.swatches.ground import Region
from swatchread.swatches.islands import doubled
from swatchread.swatches.patches import ground_round
from swatchread.swatches.sheet import Sheet

SURE = 0.9
"""Worth of a region, for each swatch that stands on it in rows and columns, from which none is doubtful."""


@dataclass(frozen=True, eq=False)
class Look:
    """A sheet with a region that may be a card's ground, all in its pixels.

    Attributes
    ----------
    sheet : Sheet
    region : Region
    marks : list of Blob
        What edges show on this ground.
    radius : float
        Usual half-width of its swatches.
    margin : Region or None
        Where its ground goes on.
    sure : int or None
        How many swatches stand there without doubt, where none is doubtful.
    """

    sheet: Sheet
    region: Region
    marks: list[Blob]
    radius: float
    margin: Region | None
    sure: int | None

    @classmethod
    def of(cls, candidate: Candidate, pool: list[Candidate], sheet: Sheet) -> Look:
        """Look at a candidate on the sheet where it was found."""
        marks = [island for c in pool if same_ground(candidate, c) for island in c.islands]
        sure = candidate.cells if candidate.worth >= SURE * candidate.cells else None
        margin = ground_round(candidate, pool, sheet.shape)
        return cls(sheet, candidate.region, marks, candidate.radius, margin, sure)

    def doubled(self, sheet: Sheet) -> Look:
        """Return the same on a sheet of twice the size."""
        marks = [doubled(mark) for mark in self.marks]
        margin = None if self.margin is None else self.margin.doubled(sheet)
        return Look(sheet, self.region.doubled(sheet), marks, 2.0 * self.radius, margin, self.sure)
