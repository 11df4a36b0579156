"""Which regions are most likely the card's ground: those whose islands stand in rows and columns as on a card.

Regions are judged one by one, those with most holes first, until what is left cannot be the card. Most regions of a
photo are pieces of the table. For the table the whole card is one hole, which takes longest of all to split into
islands, and it tells nothing once the card itself is known.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from swatchread.card.card_candidates import (
    SURE,
    SURE_CELLS,
    Candidate,
    cropped,
    ground_of,
    judge,
    like_ground,
    same_ground,
    united,
    without_doubt,
)
from swatchread.card.ground_regions import Region, find_regions
from swatchread.card.lab_image import EdgeLevel, LabImage
from swatchread.card.masks import Box, lies_within
from swatchread.card.other_cards import DistinctCards, lies_on
from swatchread.card.region_growing import grow_regions
from swatchread.card.region_holes import Holes, holes_of, islands
from swatchread.card.settings import rules
from swatchread.card.swatches_without_ground import candidates_without_ground

# Measured on development scenes. "Worth" is that of a `Candidate`: about the number of its swatches in order.

_CROPPED, _GROWN, _UNITED, _TRIED = 5, 2, 2, 3
"""How many of the likeliest regions are cropped, how many are grown, how many are united with others, and how many may
be returned."""

_OTHER_WORTH = 0.95
"""From this worth, about one swatch, another region of the same ground could change the choice."""

_LEAST_WORTH, _LEAST_WORTH_OF_FEW = 0.5, 0.7
"""Worth of a card at least, for each swatch in order; the second for a card with few swatches that is no rectangle."""

_FEW, _SURE_FEW = 4, 3
"""Swatches that are few; and the fewest that make a card by their order alone."""

_LEAST_RADIUS, _LEAST_RADIUS_OF_ROW = 0.2, 0.12
"""Half-width of few swatches, in pitches of the chart, and of four that stand in rows and columns without doubt."""

_WITHOUT_DOUBT, _ALONE = 0.97, 0.99
"""Worth for each swatch of a row of four in clear order; and of a card with fewer swatches than three."""

_LEAST_SQUARENESS, _RECTANGLE = 0.84, 0.95
"""Share of its smallest rectangle that a card of few swatches fills: at least, and where they hardly stand in rows."""

_SLACK = 0.05
"""How far a card's box may reach beyond a hole that holds it, in lengths of the card."""

_APART = 0.1
"""Share of its ground that another card may have on this one."""


def rank_card_regions(
    image: LabImage, levels: list[EdgeLevel], pitch: float
) -> Iterator[tuple[Candidate, list[Candidate]]]:
    """Find the regions that can be the card's ground, the likeliest first.

    Parameters
    ----------
    image : LabImage
    levels : list of EdgeLevel
        The image's.
    pitch : float
        Of the chart, pixels.

    Yields
    ------
    candidate : Candidate
    every : list of Candidate
        All that were judged by then.
    """
    ranking = LazyRanking(find_regions(image, levels), image)
    some = ranking.promising()
    cards = DistinctCards.among(some)
    pool = cards.one_at_most(_ranked(some))
    others = cards.besides(pool[0]) if pool else []
    if _no_other_needed(pool, some, others) and _credible(pool[0], pitch) and rules().first_without_doubt:
        yield pool[0], ranking.beside(pool[0])
    likeliest, every = _likeliest(ranking.every(), image, levels)
    credible = [c for c in likeliest if _credible(c, pitch)]
    if not credible and rules().behind_cloth:  # a busy cloth may stand before the card
        sure = [c for c in every if c.worth >= (SURE if c.cells >= _SURE_FEW else _ALONE) * max(c.cells, 1)]
        credible = sorted((c for c in sure if _credible(c, pitch)), key=lambda c: -c.worth)[:1]
    for candidate in credible:
        yield candidate, every


def _likeliest(
    every: list[Candidate], image: LabImage, levels: list[EdgeLevel]
) -> tuple[list[Candidate], list[Candidate]]:
    """Return the few regions that are likeliest to be the card's ground, and all regions."""
    cards = DistinctCards.among(every)
    pool = cards.one_at_most(_ranked(every))
    others = cards.besides(pool[0]) if pool else []
    if not _no_other_needed(pool, every, others):
        every = every + (candidates_without_ground(levels, image) if rules().without_ground else [])
        pool = cards.one_at_most(_ranked(every))
    others = cards.besides(pool[0]) if pool else []
    if _no_other_needed(pool, every, others):
        return pool[:_TRIED], every
    pool = [c for c in pool if not lies_on(c, others)]
    first = pool[:_UNITED]
    pool += [one for c in pool[:_CROPPED] if (one := cropped(c, image))] if rules().cropped else []
    most_likely = [c.region for c in first[:_GROWN]]
    pool += [judge(grown, image) for grown in grow_regions(most_likely, image)] if rules().grown else []
    pool += [one for c in first for other in list(pool) if (one := united(c, other, image))] if rules().united else []
    return _ranked(cards.one_at_most(pool))[:_TRIED], every


def _credible(candidate: Candidate, pitch: float) -> bool:
    """Tell whether marks stand in order as on a card does: a table's grain, or a tube's label, makes rows too."""
    if candidate.cells > _FEW:
        return candidate.worth > _LEAST_WORTH * candidate.cells
    if not rules().few_in_order:
        return candidate.worth > _LEAST_WORTH * candidate.cells
    sure = candidate.cells == _FEW and candidate.worth > _WITHOUT_DOUBT * candidate.cells
    least = _LEAST_RADIUS_OF_ROW if sure else _LEAST_RADIUS
    if candidate.worth <= _LEAST_WORTH * candidate.cells or candidate.radius <= least * pitch:
        return False
    # Few marks that hardly stand in rows need a ground that is a clear rectangle.
    ordered = candidate.worth > _LEAST_WORTH_OF_FEW * candidate.cells
    return candidate.squareness > (_LEAST_SQUARENESS if ordered else _RECTANGLE)


def _ranked(every: list[Candidate]) -> list[Candidate]:
    """Return the regions that carry swatches, the likeliest first."""
    return sorted((c for c in every if c.worth > 0.0), key=lambda c: -c.worth)


def _no_other_needed(pool: list[Candidate], every: list[Candidate], cards: list[Candidate]) -> bool:
    """Tell whether the likeliest region is so good a card that no larger one needs to be tried.

    It is a card without doubt, and no other region of the same ground shows swatches that it does not show, but for
    those that lie on other cards.
    """
    if not pool:
        return False
    best = pool[0]
    if not without_doubt(best):
        return False
    others = [c for c in every if c is not best and c.worth > _OTHER_WORTH and same_ground(best, c)]
    others = [c for c in others if not lies_on(c, cards)]
    return all(_box_within(other, best) or _shows_no_more(other, best) for other in others)


def _shows_no_more(other: Candidate, best: Candidate) -> bool:
    """Tell whether a region round the best carries only what lies on the best: a white table under a white card."""
    x, y, w, h = best.region.box
    centres = np.array([blob.centre for blob in other.islands]) - [x, y]
    nothing = other.cells <= best.cells and bool(((centres >= 0) & (centres < [w, h])).all())
    return nothing and _box_within(best, other)


def _box_within(inner: Candidate, outer: Candidate) -> bool:
    return lies_within(inner.region.box, outer.region.box, 0.05 * max(outer.region.box[2:]))


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
