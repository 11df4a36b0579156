"""Several cards in one photo: a grid that spans two is cut down to one, and the others are counted."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from swatchread.card import masks
from swatchread.card.card_candidates import SURE, SURE_CELLS, Candidate, without_doubt
from swatchread.card.grid import Cell, Grid, arrange
from swatchread.card.ground_regions import Surface
from swatchread.card.masks import Mask, Picture
from swatchread.card.segmentation import hull_of_blobs
from swatchread.card.settings import rules
from swatchread.card.sight_lines import GridView
from swatchread.photo import opencv as cv2

_LEAST_CELLS = 2
"""Swatches that are another card, and not a mark beside this one."""

_AS_BROAD = 0.5
"""Half-width of another card's swatches at least, over that of this card's."""

_SHARED = 0.1
"""Share of another card that may lie on this one."""


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
    return whole, arrange([cell.blob for cell in own]), sum(len(part) >= _LEAST_CELLS for part in others)


def another_beside(surface: Surface, grid: Grid, candidates: list[Candidate], scale: int) -> bool:
    """Tell whether one of the candidates is a card without doubt that lies beside a card, or holds one.

    Parameters
    ----------
    surface : Surface
        The card's.
    grid : Grid
        Of its swatches.
    candidates : list of Candidate
    scale : int
        Pixels of the surface to one of the candidates.

    Returns
    -------
    bool
    """
    for candidate in candidates:
        if _holds_order_beside(surface, grid, candidate, scale):
            return True
        if without_doubt(candidate):
            x, y, w, h = (scale * v for v in candidate.region.box)
            left, top = x - surface.box[0], y - surface.box[1]
            shared = surface.card[max(0, top) : max(0, top + h), max(0, left) : max(0, left + w)]
            if np.count_nonzero(shared) <= _SHARED * w * h:
                return True
    return False


def _holds_order_beside(surface: Surface, grid: Grid, candidate: Candidate, scale: int) -> bool:
    """Tell whether the marks of a region that do not lie on a card stand in rows and columns without doubt.

    Where another card has the table's colour, the table shows its swatches.
    """
    corner = np.array(surface.box[:2])
    broad = (mark for mark in candidate.islands if scale * mark.radius > _AS_BROAD * grid.radius)
    beside = [mark for mark in broad if not masks.holds(surface.card, scale * mark.centre - corner)]
    return len(beside) >= SURE_CELLS and arrange(beside).order >= SURE * len(beside)
