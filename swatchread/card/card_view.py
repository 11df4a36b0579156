"""A likely card with its image: the region and the marks, in the image that showed them or in a finer one."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from swatchread.card.card_candidates import SURE, Candidate, same_ground
from swatchread.card.ground_regions import Region
from swatchread.card.lab_image import LabImage
from swatchread.card.segmentation import Blob

_AROUND = 4.0
"""How far a card's margin may reach beyond its swatches, in half-widths of a swatch."""

_BACKED = 0.5
"""Share of the ground between swatches that a region must hold to be their ground. Measured on development scenes."""


@dataclass(frozen=True, eq=False)
class CardView:
    """An image with a region that may be a card's ground; all in its pixels.

    Attributes
    ----------
    image : LabImage
    region : Region
    marks : list of Blob
        Painted areas that edges show on this ground.
    radius : float
        Usual half-width of its swatches.
    margin : Region or None
        More of the ground, round the region.
    sure : int or None
        How many swatches stand there; None where some are doubtful.
    """

    image: LabImage
    region: Region
    marks: list[Blob]
    radius: float
    margin: Region | None
    sure: int | None

    @classmethod
    def of(cls, candidate: Candidate, pool: list[Candidate], image: LabImage) -> CardView:
        """Return the view of a candidate in the image where it was found."""
        marks = [island for c in pool if same_ground(candidate, c) for island in c.islands]
        sure = candidate.cells if candidate.worth >= SURE * candidate.cells else None
        margin = ground_round(candidate, pool, image.shape)
        return cls(image, candidate.region, marks, candidate.radius, margin, sure)

    def doubled(self, image: LabImage) -> CardView:
        """Return the same view in an image of twice the size."""
        marks = [mark.doubled() for mark in self.marks]
        margin = None if self.margin is None else self.margin.doubled(image)
        return CardView(image, self.region.doubled(image), marks, 2.0 * self.radius, margin, self.sure)


def ground_round(candidate: Candidate, others: list[Candidate], shape: tuple[int, int]) -> Region | None:
    """Return the ground round swatches that were found without it; None where there is none.

    The swatches tell nothing of a card's margins, where its writing stands.

    Parameters
    ----------
    candidate : Candidate
    others : list of Candidate
    shape : tuple of int
        Height and width of the image.

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
