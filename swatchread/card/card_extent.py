"""How far a card reaches: paint at its edge may seem to end it, and patches tell nothing of its margins."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from swatchread.card.background import Mask
from swatchread.card.grid import Grid
from swatchread.card.ground_regions import Box, Region, Surface, hull_of
from swatchread.colour.order import median
from swatchread.photo import opencv as cv2

_RIM = 0.2
"""What surely belongs to a card beside a swatch, in half-widths."""


def spanning(surface: Surface, grid: Grid, shape: tuple[int, int]) -> Surface:
    """Return a surface whose card holds all swatches of a grid.

    Parameters
    ----------
    surface : Surface
    grid : Grid
        With cells.
    shape : tuple of int
        Height and width of the sheet, at whose end a card ends.
    """
    rim = _RIM * median([c.blob.radius for c in grid.cells])
    ends = np.array([np.concatenate([c.blob.centre, c.blob.size / 2.0 + rim]) for c in grid.cells])
    low = np.maximum(np.rint((ends[:, :2] - ends[:, 2:]).min(axis=0)), 0).astype(int)
    high = np.minimum(np.rint((ends[:, :2] + ends[:, 2:]).max(axis=0)).astype(int) + 1, shape[::-1])
    wide = _within(surface, (int(low[0]), int(low[1]), int(high[0] - low[0]), int(high[1] - low[1])))
    card = wide.card.copy()
    for x, y, half_w, half_h in ends - [*wide.box[:2], 0, 0]:
        card[max(0, round(y - half_h)) : round(y + half_h) + 1, max(0, round(x - half_w)) : round(x + half_w) + 1] = (
            True
        )
    return replace(wide, card=hull_of(card))


def grown(surface: Surface, region: Region) -> Surface:
    """Return a surface with more of its ground, and a card that holds it.

    Parameters
    ----------
    surface : Surface
    region : Region
    """
    wide = _within(surface, region.box)
    bare = wide.bare.copy()
    x, y = region.box[0] - wide.box[0], region.box[1] - wide.box[1]
    h, w = region.bare.shape
    # Where the card is known already, so is what is bare on it.
    bare[y : y + h, x : x + w] |= region.bare & ~wide.card[y : y + h, x : x + w]
    return replace(wide, bare=bare, card=hull_of(bare | wide.card))


def _within(surface: Surface, box: Box) -> Surface:
    """Return a surface in the smallest box that holds its own and another."""
    x, y, w, h = surface.box
    left, top = min(x, box[0]), min(y, box[1])
    right, low = max(x + w, box[0] + box[2]), max(y + h, box[1] + box[3])
    border = (y - top, low - y - h, x - left, right - x - w)

    def placed(mask: Mask) -> Mask:
        return np.asarray(cv2.copyMakeBorder(mask.astype(np.uint8), *border, cv2.BORDER_CONSTANT, value=0) > 0)

    off = np.asarray(cv2.copyMakeBorder(surface.off, *border, cv2.BORDER_CONSTANT, value=0), dtype=np.float32)
    whole = (left, top, right - left, low - top)
    return replace(surface, bare=placed(surface.bare), card=placed(surface.card), off=off, box=whole)
