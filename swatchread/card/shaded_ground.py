"""Parts of a card that were not taken for its ground because a shadow has cut the card in two."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from swatchread.card.card_detection import CardFind
from swatchread.card.masks import Mask, part_of, pieces_of, polygon_mask, square, turned_rectangle
from swatchread.photo import opencv as cv2
from swatchread.photo.icc_profile import srgb_curve

# Measured on development scenes.

_TINT = 0.018
"""How near in chromaticity (r, g of r + g + b) a place must be to the ground to be the same paper."""

_LIGHTER, _DARKER = 1.35, 0.7
"""Light over the ground's from which, and up to which, a place lies in another light."""

_STEP = 0.07
"""Pitches of the chart between the places that are looked at: what is looked for is broad."""

_BROAD = 0.35
"""Breadth of such a place at least, in pitches of the chart: writing and the rims of paint are thinner."""

_RIM = 0.3
"""Rim beside a swatch that may be its paint, in half-widths of a swatch."""

_DARK = 0.01
"""Linear light below which chromaticity is noise."""


@dataclass(frozen=True, eq=False)
class OtherLight:
    """Parts of a card that have its ground's tint and are much lighter or darker.

    Attributes
    ----------
    places : ndarray, shape (h, w), bool
        Where they are, in the box of the card's surface.
    share : float
        Share of the card's area, 0 to 1, of the largest such part.
    ratio : float
        Its light over the ground's; 1 where there is no such part.
    """

    places: Mask
    share: float = 0.0
    ratio: float = 1.0


def ground_in_other_light(card: CardFind) -> OtherLight:
    """Find the parts of a card that have its ground's tint and are much lighter or darker.

    Parameters
    ----------
    card : CardFind

    Returns
    -------
    OtherLight
    """
    surface, plane = card.surface, card.plane
    shape, part = surface.card.shape, part_of(surface.box)
    step = max(1, round(plane.resolution * _STEP))
    every = slice(None, None, step), slice(None, None, step)
    linear = srgb_curve(plane.picture[part][every] / 255.0)
    light = linear.mean(axis=2)
    tint = linear[..., :2] / np.maximum(linear.sum(axis=2), 1e-6)[..., None]
    bare = surface.bare[every] & (light > _DARK)
    whole = polygon_mask(turned_rectangle(surface.card), shape) & ~plane.outside[part]
    whole = (whole & ~_boxes_of_swatches(card, shape))[every]
    if not bare.any() or not whole.any():
        return OtherLight(np.zeros(shape, dtype=bool))
    ground, level = np.median(tint[bare], axis=0), float(np.median(light[bare]))
    same = (np.abs(tint - ground).max(axis=-1) < _TINT) & (light > _DARK) & whole & ~bare
    found = same & ((light > _LIGHTER * level) | (light < _DARKER * level))
    size = max(3, round(plane.resolution * _BROAD / step)) | 1
    broad = cv2.morphologyEx(found.astype(np.uint8), cv2.MORPH_OPEN, square(size)) > 0
    if not broad.any():
        return OtherLight(np.zeros(shape, dtype=bool))
    labels, stats = pieces_of(broad, connectivity=8)
    largest = 1 + int(np.argmax(stats[1:, cv2.CC_STAT_AREA]))
    share = float(stats[largest, cv2.CC_STAT_AREA] / np.count_nonzero(whole))
    wide = np.repeat(np.repeat(broad, step, axis=0), step, axis=1)
    return OtherLight(wide[: shape[0], : shape[1]], share, float(np.median(light[labels == largest])) / level)


def _boxes_of_swatches(card: CardFind, shape: tuple[int, ...]) -> Mask:
    """Return the boxes round the swatches with a rim: grey paint has the tint of white paper too."""
    x, y = card.surface.box[:2]
    mask = np.zeros(shape, dtype=bool)
    for cell in card.grid.cells:
        half = cell.blob.size / 2.0 + _RIM * cell.blob.radius
        low = np.maximum(np.floor(cell.blob.centre - half - [x, y]), 0).astype(int)
        high = np.maximum(np.ceil(cell.blob.centre + half - [x, y]), 0).astype(int)
        mask[low[1] : high[1], low[0] : high[0]] = True
    return mask
