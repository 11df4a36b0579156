"""Judging quiet regions one by one, those with most holes first, until what is left cannot be the card.

Most regions of a photo are pieces of the table. For the table the whole card is one hole. That hole takes longest of
all to split into islands, and it tells nothing once the card itself is known.
"""

from __future__ import annotations

import numpy as np

from swatchread.card.card_candidates import SURE_CELLS, Candidate, ground_of, judge, like_ground, without_doubt
from swatchread.card.ground_regions import Region
from swatchread.card.lab_image import LabImage
from swatchread.card.masks import Box, lies_within
from swatchread.card.region_holes import Holes, holes_of, islands
from swatchread.card.settings import rules

_SLACK = 0.05
"""How far a card's box may reach beyond a hole that holds it, in lengths of the card."""

_APART = 0.1
"""Share of its ground that another card may have on this one."""


class LazyRanking:
    """The quiet regions of an image. Each is judged once, and only when its judgement is needed.

    Parameters
    ----------
    regions : list of Region
    image : LabImage
    """

    def __init__(self, regions: list[Region], image: LabImage) -> None:
        self._regions = regions
        self._image = image
        self._holes = [holes_of(region, image) for region in regions]
        self._known: dict[int, Candidate] = {}

    def promising(self) -> list[Candidate]:
        """Judge the regions that could be the card, or more of its ground.

        Once a region is a card without doubt, those that cannot be better are passed over; without one, all are judged.
        """
        best: Candidate | None = None
        for index in sorted(range(len(self._regions)), key=lambda i: -len(self._holes[i].broad)):
            if best is not None and not self._matters(index, best) and rules().judged_lazily:
                continue
            candidate = self._judge(index)
            if without_doubt(candidate) and (best is None or candidate.worth > best.worth):
                best = candidate
        return self._so_far()

    def every(self) -> list[Candidate]:
        """Judge all regions that are left, and return all in the order in which they were given."""
        for index in range(len(self._regions)):
            self._judge(index)
        return self._so_far()

    def beside(self, best: Candidate) -> list[Candidate]:
        """Judge the regions beside a card that could be other cards, and return all that were judged."""
        for index, holes in enumerate(self._holes):
            if index not in self._known and len(holes.broad) >= SURE_CELLS and self._lies_apart(index, best):
                self._judge(index)
        return self._so_far()

    def _lies_apart(self, index: int, best: Candidate) -> bool:
        """Tell whether hardly any of a region lies on a card, nor the card in one of its holes."""
        region, card = self._regions[index], best.region
        if lies_within(card.box, region.box):
            return False
        shared = np.count_nonzero(region.within(card.box) & card.whole)
        return bool(shared < _APART * np.count_nonzero(region.bare))

    def _so_far(self) -> list[Candidate]:
        return [self._known[index] for index in sorted(self._known)]

    def _judge(self, index: int) -> Candidate:
        if index not in self._known:
            region = self._regions[index]
            found = islands(region, self._image, self._holes[index])
            self._known[index] = judge(region, self._image, found)
        return self._known[index]

    def _matters(self, index: int, best: Candidate) -> bool:
        """Tell whether a region could be worth more than the best, or be more of its ground."""
        region, holes = self._regions[index], self._holes[index]
        in_order = len(holes.broad) <= best.cells == len(best.islands)
        if in_order and lies_within(region.box, best.region.box):
            return False  # the same again, at another edge strength
        most = _most_swatches(holes, region.box, best)
        return most >= best.worth or like_ground(best.ground, ground_of(region, self._image))


def _most_swatches(holes: Holes, box: Box, best: Candidate) -> float:
    """Return how many swatches a region's holes could be at most, if they are as large as those of the best."""
    usual = np.pi * best.radius**2
    x, y, w, h = best.region.box
    card, slack = (x - box[0], y - box[1], w, h), _SLACK * max(w, h)
    # The hole that holds the card is the card.
    return sum(max(1.0, area / usual) for _, hole, area in holes.broad if not lies_within(card, hole, slack))
