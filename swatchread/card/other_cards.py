"""Several cards on the table: whether anything speaks for another one, and which grids span two.

A grid that spans two cards is cut down to one, and the others are counted.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from swatchread.card.ranking import Candidate
from swatchread.grid.sight_lines import GridView
from swatchread.grid.swatch_grid import Cell, Grid, arrange
from swatchread.ground.ground_regions import Surface
from swatchread.ground.segmentation import Blob, hull_of_blobs
from swatchread.photo import masks
from swatchread.photo import opencv as cv2
from swatchread.photo.masks import Mask, Picture
from swatchread.plane.finder_settings import settings


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
    if not partings or not settings().one_card_of_grid:
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
    return whole, rest, more + sum(len(part) > 1 for part in others)  # one mark is no card


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
    corner, sure, few = np.array(surface.box[:2]), settings().extent.sure, settings().few
    for candidate in candidates:
        broad = (mark for mark in candidate.islands if scale * mark.radius > settings().grid.least_radius * grid.radius)
        beside = [mark for mark in broad if not masks.holds(surface.card, scale * mark.centre - corner)]
        groups = (group for group in (beside, *_near_one_another(beside)) if len(group) >= few)
        if any(arrange(group).order >= sure * len(group) for group in groups):
            return True
    return False


def _near_one_another(marks: list[Blob]) -> list[list[Blob]]:
    """Return marks in groups, each of which lie hardly further apart than nearest neighbours do."""
    if len(marks) < settings().few:
        return []
    from scipy.sparse.csgraph import connected_components  # only where marks lie beside a card

    centres = np.array([mark.centre for mark in marks])
    apart = np.linalg.norm(centres[:, None] - centres, axis=-1)
    np.fill_diagonal(apart, np.inf)
    nearest = apart.min(axis=1)
    _, labels = connected_components(apart < settings().extent.near * np.maximum(nearest[:, None], nearest))
    return [[mark for mark, label in zip(marks, labels, strict=True) if label == k] for k in np.unique(labels)]
