"""Several cards on the table: which judged regions are other cards than the likeliest one, and which grids span two.

A region that is a card without doubt and a rectangle stands for itself. Two such regions in different places are two
cards, and what lies between them is the table. A grid that spans two cards is cut down to one, and the others are
counted.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from swatchread.card import masks
from swatchread.card.card_candidates import SURE, SURE_CELLS, Candidate, without_doubt
from swatchread.card.grid import Cell, Grid, arrange
from swatchread.card.ground_regions import Surface
from swatchread.card.masks import Box, Mask, Picture, lies_within, put
from swatchread.card.segmentation import Blob, hull_of_blobs
from swatchread.card.settings import rules
from swatchread.card.sight_lines import GridView
from swatchread.photo import opencv as cv2

_RECTANGLE = 0.88
"""Share of its smallest rectangle that a card fills at least, its edge torn or seen unsharply."""

_SHARED = 0.1
"""Share of a region that may lie on another card: two that share more show one and the same card."""

_SLACK = 0.05
"""How far what lies on a card may reach beyond its box, in lengths of the box."""

_LEAST_CELLS = 2
"""Swatches that are another card, and not a mark beside this one."""

_AS_BROAD = 0.5
"""Half-width of another card's swatches at least, over that of this card's."""

_NEAR = 1.6
"""Distance of two marks of one group, over that of the nearest neighbour of one of them."""


@dataclass(frozen=True, eq=False)
class DistinctCards:
    """The cards without doubt in an image, each with the regions that show it at several strengths of edge.

    Attributes
    ----------
    cards : list of list of Candidate
        Fewer than two where nothing speaks for several cards.
    """

    cards: list[list[Candidate]]

    @classmethod
    def among(cls, every: list[Candidate]) -> DistinctCards:
        """Return the cards that stand among judged regions."""
        cards: list[list[Candidate]] = []
        for candidate in (c for c in every if _is_a_card(c)):
            same = [card for card in cards if any(shares_place(candidate, one) for one in card)]
            rest = [card for card in cards if not any(card is one for one in same)]
            cards = [*rest, [candidate, *(one for card in same for one in card)]]
        return cls(cards if len(cards) > 1 and rules().one_card_at_most else [])

    def one_at_most(self, candidates: list[Candidate]) -> list[Candidate]:
        """Return the regions that do not hold swatches of several cards, as the table under them does."""
        return [c for c in candidates if sum(any(shares_place(c, one) for one in card) for card in self.cards) < 2]

    def besides(self, best: Candidate) -> list[Candidate]:
        """Return the regions that are other cards than this one."""
        return [one for card in self.cards if not any(shares_place(best, mine) for mine in card) for one in card]


def lies_on(candidate: Candidate, cards: list[Candidate]) -> bool:
    """Tell whether a region lies on one of some cards."""
    box = candidate.region.box
    on = any(lies_within(box, card.region.box, _SLACK * max(card.region.box[2:])) for card in cards)
    return on and rules().off_other_cards


def shares_place(best: Candidate, other: Candidate) -> bool:
    """Tell whether two regions lie in one place: one and the same card, or one on the other."""
    one, two = best.region, other.region
    if not _meet(one.box, two.box):
        return False
    shared = np.count_nonzero(two.whole & _within(one.whole, one.box, two.box))
    return bool(shared > _SHARED * min(np.count_nonzero(one.whole), np.count_nonzero(two.whole)))


def _is_a_card(candidate: Candidate) -> bool:
    return without_doubt(candidate) and candidate.squareness > _RECTANGLE


def _meet(one: Box, other: Box) -> bool:
    return all(one[k] < other[k] + other[k + 2] and other[k] < one[k] + one[k + 2] for k in (0, 1))


def _within(mask: Mask, box: Box, other: Box) -> Mask:
    """Return a mask that is cut to one box as it is in another box."""
    out = np.zeros((other[3], other[2]), dtype=bool)
    put(out, mask, (box[0] - other[0], box[1] - other[1]))
    return out


def largest_card(surface: Surface, grid: Grid, lab: Picture) -> tuple[Surface, Grid, int]:
    """Return the part of a grid that lies on one card, the one with most swatches.

    Parameters
    ----------
    surface : Surface
    grid : Grid
    lab : ndarray, shape (h, w, 3), uint8
        8-bit CIELAB of the whole plane.

    Returns
    -------
    surface : Surface
    grid : Grid
        Numbered anew.
    others : int
        How many other cards it spanned.
    """
    partings = GridView(lab, surface.bare, surface.box[:2], grid).partings()
    if not partings or not rules().one_card_of_grid:
        return surface, grid, 0
    parts: dict[tuple[int, int], list[Cell]] = {}
    for cell in grid.cells:
        across = sum(cell.column > k for axis, k in partings if axis == 0)
        down = sum(cell.row > k for axis, k in partings if axis == 1)
        parts.setdefault((across, down), []).append(cell)
    own, *others = sorted(parts.values(), key=len, reverse=True)
    hulls = [hull_of_blobs([cell.blob for cell in part], surface.box) for part in (own, *others)]
    distances = np.stack([cv2.distanceTransform((~hull).astype(np.uint8), cv2.DIST_L2, 5) for hull in hulls])
    bare: Mask = surface.bare & (distances.argmin(axis=0) == 0)
    whole = replace(surface, bare=bare, card=masks.hull_of(bare | hulls[0]))
    # Of cards that lie at different turns, only a part stands in rows that show the next parting.
    whole, rest, more = largest_card(whole, arrange([cell.blob for cell in own]), lab)
    return whole, rest, more + sum(len(part) >= _LEAST_CELLS for part in others)


def another_beside(surface: Surface, grid: Grid, candidates: list[Candidate], scale: int) -> bool:
    """Tell whether marks beside a card stand in rows and columns without doubt, as on another card.

    Where other cards have the table's colour, the table shows their swatches, and each may lie at a turn of its own. So
    marks that lie near one another are asked, too.

    Parameters
    ----------
    surface : Surface
        The card's.
    grid : Grid
        Of its swatches.
    candidates : list of Candidate
        Regions with marks.
    scale : int
        Pixels of the surface to one of the candidates.

    Returns
    -------
    bool
    """
    corner = np.array(surface.box[:2])
    for candidate in candidates:
        broad = (mark for mark in candidate.islands if scale * mark.radius > _AS_BROAD * grid.radius)
        beside = [mark for mark in broad if not masks.holds(surface.card, scale * mark.centre - corner)]
        groups = (group for group in (beside, *_near_one_another(beside)) if len(group) >= SURE_CELLS)
        if any(arrange(group).order >= SURE * len(group) for group in groups):
            return True
    return False


def _near_one_another(marks: list[Blob]) -> list[list[Blob]]:
    """Return marks in groups, each of which lie hardly further apart than nearest neighbours do."""
    if len(marks) < SURE_CELLS:
        return []
    from scipy.sparse.csgraph import connected_components  # only where marks lie beside a card

    centres = np.array([mark.centre for mark in marks])
    apart = np.linalg.norm(centres[:, None] - centres, axis=-1)
    np.fill_diagonal(apart, np.inf)
    nearest = apart.min(axis=1)
    _, labels = connected_components(apart < _NEAR * np.maximum(nearest[:, None], nearest))
    return [[mark for mark, label in zip(marks, labels, strict=True) if label == k] for k in np.unique(labels)]
