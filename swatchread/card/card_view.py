"""A likely card in the image that showed it, or in a finer one: its region and its marks, and how far it reaches.

Paint at a card's edge may seem to end it, and swatches tell nothing of its margins. Printed things that look like cards
are told here too: the second panel of a folding chart, and square markers. Both are black.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import numpy.typing as npt

from swatchread.card.ranking import ROUND_CHART, Candidate, same_ground
from swatchread.colour.cielab import Floats
from swatchread.grid.swatch_grid import Grid
from swatchread.ground.background import lab_of
from swatchread.ground.ground_regions import Region, Surface
from swatchread.ground.segmentation import Blob
from swatchread.photo import opencv as cv2
from swatchread.photo.masks import Box, box_round, box_widened, hull_of, part_of
from swatchread.photo.order_statistics import median
from swatchread.plane.finder_settings import settings
from swatchread.plane.lab_image import LabImage
from swatchread.plane.rectification import Plane


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
    """

    image: LabImage
    region: Region
    marks: list[Blob]
    radius: float
    margin: Region | None

    @classmethod
    def of(cls, candidate: Candidate, pool: list[Candidate], image: LabImage) -> CardView:
        """Return the view of a candidate in the image where it was found."""
        marks = [island for c in pool if same_ground(candidate, c) for island in c.islands]
        margin = ground_round(candidate, pool, image.shape)
        return cls(image, candidate.region, marks, candidate.radius, margin)

    def doubled(self, image: LabImage) -> CardView:
        """Return the same view in an image of twice the size."""
        marks = [mark.doubled() for mark in self.marks]
        margin = None if self.margin is None else self.margin.doubled(image)
        return CardView(image, self.region.doubled(image), marks, 2.0 * self.radius, margin)


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
    if candidate.outlined:
        return None
    known = settings().extent
    box = box_widened(region.box, round(known.around * candidate.radius), shape)
    best, most = None, 0.5 * region.area
    for other in others:
        if other.outlined and same_ground(candidate, other):
            held = float(np.count_nonzero(other.region.within(region.box) & region.bare))
            if held > most:
                best, most = other.region, 1.02 * held
    return None if best is None else Region(best.within(box), box)


def spanning(surface: Surface, grid: Grid, shape: tuple[int, int]) -> Surface:
    """Return a surface whose card holds all swatches of a grid.

    Parameters
    ----------
    surface : Surface
    grid : Grid
        With cells.
    shape : tuple of int
        Height and width of the image, at whose end a card ends.
    """
    rim = settings().extent.rim * grid.radius
    ends = np.array([np.concatenate([c.blob.centre, c.blob.size / 2.0 + rim]) for c in grid.cells])
    low = np.maximum(np.rint((ends[:, :2] - ends[:, 2:]).min(axis=0)), 0).astype(int)
    high = np.minimum(np.rint((ends[:, :2] + ends[:, 2:]).max(axis=0)).astype(int) + 1, shape[::-1])
    wide = _extended(surface, (int(low[0]), int(low[1]), int(high[0] - low[0]), int(high[1] - low[1])))
    card = wide.card.copy()
    for x, y, half_w, half_h in ends - [*wide.box[:2], 0, 0]:
        rows = slice(max(0, round(y - half_h)), round(y + half_h) + 1)
        card[rows, max(0, round(x - half_w)) : round(x + half_w) + 1] = True
    return replace(wide, card=hull_of(card))


def grown(surface: Surface, region: Region) -> Surface:
    """Return a surface with more of its ground, and a card that holds it.

    Parameters
    ----------
    surface : Surface
    region : Region
    """
    wide = _extended(surface, region.box)
    more = region.within(wide.box)
    # Within the card as it was known, its bare ground is known already.
    bare = wide.bare | (more & ~wide.card)
    return replace(wide, bare=bare, card=hull_of(bare | wide.card))


def _extended(surface: Surface, box: Box) -> Surface:
    """Return a surface in the smallest box that holds its own and another."""
    (x, y, w, h), whole = surface.box, box_round(surface.box, box)
    left, top, wide, high = whole
    rows, columns = slice(y - top, y - top + h), slice(x - left, x - left + w)

    def placed(part: npt.NDArray[Any]) -> npt.NDArray[Any]:
        larger = np.zeros((high, wide), dtype=part.dtype)
        larger[rows, columns] = part
        return larger

    bare, card, off = (placed(part) for part in (surface.bare, surface.card, surface.off))
    return replace(surface, bare=bare, card=card, off=off, box=whole)


def is_printed(candidate: Candidate, image: LabImage, plane: Plane) -> bool:
    """Tell whether a candidate is a panel of the chart, or a marker: as black as the chart's frame and no larger.

    Parameters
    ----------
    candidate : Candidate
    image : LabImage
        Where it was found.
    plane : Plane
        The same, at the same size or larger.

    Returns
    -------
    bool
    """
    frame, scale = _frame_lab(plane), plane.outside.shape[1] / image.shape[1]
    ground, known = lab_of(candidate.ground), settings().extent
    black, lighter, chroma = known.black
    if frame[0] > black or ground[0] > frame[0] + lighter or np.hypot(*ground[1:]) > chroma:
        return False
    chart = plane.sample.find.chart
    beside_chart = candidate.region.whole & ~image.outside[part_of(candidate.region.box)]
    pitches = np.count_nonzero(beside_chart) * (scale / plane.resolution) ** 2
    panels = 1.0 + candidate.features[ROUND_CHART]  # a case that holds the chart holds a second panel beside it
    return bool(pitches < panels * known.panel * (chart.columns + 1) * (chart.rows + 1))


def _frame_lab(plane: Plane) -> Floats:
    """Return the colour of the chart's frame between its patches, as the plane shows it, CIELAB."""
    find = plane.sample.find
    corners = np.stack(np.meshgrid(np.arange(find.chart.columns + 1), np.arange(find.chart.rows + 1)), axis=-1)
    places = plane.points_of(find.to_photo(corners.reshape(-1, 2).astype(np.float64)))
    h, w = plane.outside.shape
    column, row = np.clip(np.rint(places).astype(np.intp), 0, [w - 1, h - 1]).T
    colours = median(plane.picture[row, column], axis=0).astype(np.uint8)
    return lab_of(cv2.cvtColor(colours[None, None], cv2.COLOR_RGB2LAB)[0, 0])
