"""How far a card reaches: paint at its edge may seem to end it, and swatches tell nothing of its margins."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import numpy.typing as npt

from swatchread.card.grid import Grid
from swatchread.card.ground_regions import Region, Surface
from swatchread.card.masks import Box, box_round, hull_of

_RIM = 0.2
"""A card reaches at least so far beyond a swatch, in half-widths of a swatch."""


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
    rim = _RIM * grid.radius
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
