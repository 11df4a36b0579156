"""What a likely card is looked at closely on: its region and marks, on the sheet that showed it or on a finer one."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from swatchread.card.card_candidates import SURE, Candidate, same_ground
from swatchread.card.ground_regions import Region
from swatchread.card.lab_image import LabImage
from swatchread.card.region_holes import doubled
from swatchread.card.segmentation import Blob

_AROUND = 4.0
_BACKED = 0.5


@dataclass(frozen=True, eq=False)
class CardView:
    """A sheet with a region that may be a card's ground, all in its pixels.

    Attributes
    ----------
    sheet : LabImage
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

    sheet: LabImage
    region: Region
    marks: list[Blob]
    radius: float
    margin: Region | None
    sure: int | None

    @classmethod
    def of(cls, candidate: Candidate, pool: list[Candidate], sheet: LabImage) -> CardView:
        """Look at a candidate on the sheet where it was found."""
        marks = [island for c in pool if same_ground(candidate, c) for island in c.islands]
        sure = candidate.cells if candidate.worth >= SURE * candidate.cells else None
        margin = ground_round(candidate, pool, sheet.shape)
        return cls(sheet, candidate.region, marks, candidate.radius, margin, sure)

    def doubled(self, sheet: LabImage) -> CardView:
        """Return the same on a sheet of twice the size."""
        marks = [doubled(mark) for mark in self.marks]
        margin = None if self.margin is None else self.margin.doubled(sheet)
        return CardView(sheet, self.region.doubled(sheet), marks, 2.0 * self.radius, margin, self.sure)


def ground_round(candidate: Candidate, others: list[Candidate], shape: tuple[int, int]) -> Region | None:
    """Return the ground that goes on round patches; None where a candidate was not found by its patches, or none does.

    Patches tell nothing of a card's margins, where its writing stands.

    Parameters
    ----------
    candidate : Candidate
    others : list of Candidate
    shape : tuple of int
        Height and width of the sheet.

    Returns
    -------
    Region or None
    """
    region = candidate.region
    if region.painted is None:
        return None
    x, y, w, h = region.box
    reach = round(_AROUND * candidate.radius)
    left, top = max(0, x - reach), max(0, y - reach)
    box = (left, top, min(x + w + reach, shape[1]) - left, min(y + h + reach, shape[0]) - top)
    best, most = None, _BACKED * float(np.count_nonzero(region.bare))
    for other in others:
        if other.region.painted is None and same_ground(candidate, other):
            held = float(np.count_nonzero(other.region.within(region.box) & region.bare))
            if held > most:
                best, most = other.region, 1.02 * held
    return None if best is None else Region(best.within(box), box)
