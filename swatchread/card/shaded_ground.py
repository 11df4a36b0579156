"""Card that was passed over because it lies in another light: a shadow can cut a card in two."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from swatchread.card.background import Mask
from swatchread.card.card_detection import CardFind
from swatchread.colour.order import median, medians
from swatchread.photo import opencv as cv2

_TINT = 0.018
"""How near in chromaticity (r, g of r + g + b) a place must be to the ground to be the same paper."""

_LIGHTER, _DARKER = 1.35, 0.7
_STEP = 0.07
"""Pitches of the chart between the places that are looked at: what is looked for is broad."""

_RIM = 0.3
_DARK = 0.01
"""Linear light below which chromaticity is noise."""


@dataclass(frozen=True, eq=False)
class OtherLight:
    """Ground of a card's own tint, inside the card, that is much lighter or darker than its ground.

    Attributes
    ----------
    places : ndarray, shape (h, w), bool
        Where, in the box of the card's surface.
    share : float
        Of the card's area, 0 to 1: the largest such place.
    ratio : float
        Its light over the ground's; 1 if there is none.
    """

    places: Mask
    share: float = 0.0
    ratio: float = 1.0


def ground_in_other_light(card: CardFind) -> OtherLight:
    """Look for ground of the card's own tint, inside the card, that is much lighter or darker than its ground.

    Parameters
    ----------
    card : CardFind

    Returns
    -------
    OtherLight
    """
    look, shape = _look(card), card.surface.card.shape
    if look is None or not look.broad.any():
        return OtherLight(np.zeros(shape, dtype=bool))
    _, labels, stats, _ = cv2.connectedComponentsWithStats(look.broad.astype(np.uint8))
    largest = 1 + int(np.argmax(stats[1:, cv2.CC_STAT_AREA]))
    share = float(stats[largest, cv2.CC_STAT_AREA] / np.count_nonzero(look.whole))
    ratio = median(look.light[labels == largest]) / look.level
    wide = np.repeat(np.repeat(look.broad, look.step, axis=0), look.step, axis=1)
    return OtherLight(np.asarray(wide[: shape[0], : shape[1]]), share, ratio)


@dataclass(frozen=True, eq=False)
class _Look:
    """A coarse look at a card: a place in every `step` pixels.

    Attributes
    ----------
    step : int
    light : ndarray, shape (h, w)
    level : float
        Light of the card's ground.
    whole, broad : ndarray, shape (h, w), bool
        The card; broad places of the ground's tint in other light.
    """

    step: int
    light: npt.NDArray[np.float32]
    level: float
    whole: Mask
    broad: Mask


def _look(card: CardFind) -> _Look | None:
    surface = card.surface
    x, y = surface.box[:2]
    height, width = surface.card.shape
    step = max(1, round(card.plane.resolution * _STEP))
    levels = np.linspace(0.0, 1.0, 256)
    table = np.where(levels <= 0.04045, levels / 12.92, ((levels + 0.055) / 1.055) ** 2.4).astype(np.float32)
    linear = table[card.plane.picture[y : y + height : step, x : x + width : step]]
    total = linear[..., 0] + linear[..., 1] + linear[..., 2]
    light = total / 3.0
    tint = linear[..., :2] / np.maximum(total, 1e-6)[..., None]
    bare = surface.bare[::step, ::step] & (light > _DARK)
    whole = (_box(card, (height, width)) & ~card.plane.outside[y : y + height, x : x + width])[::step, ::step]
    whole &= ~_painted(card, (height, width))[::step, ::step]
    if not bare.any() or not whole.any():
        return None
    ground, level = medians(tint[bare]), median(light[bare])
    same = (np.abs(tint - ground).max(axis=-1) < _TINT) & (light > _DARK) & whole & ~bare
    found = same & ((light > _LIGHTER * level) | (light < _DARKER * level))
    # Writing and the rims of paint are thin; what is looked for is broad.
    size = max(3, round(card.plane.resolution * 0.35 / step)) | 1
    broad = cv2.morphologyEx(found.astype(np.uint8), cv2.MORPH_OPEN, np.ones((size, size), np.uint8)) > 0
    return _Look(step, light, level, whole, broad)


def _box(card: CardFind, shape: tuple[int, int]) -> Mask:
    """Return the smallest turned rectangle round the card as a mask of the surface's box."""
    contours, _ = cv2.findContours(card.surface.card.astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    corners = cv2.boxPoints(cv2.minAreaRect(np.concatenate(contours)))
    mask = np.zeros(shape, np.uint8)
    cv2.fillConvexPoly(mask, np.rint(corners).astype(np.int32), 1)
    return mask > 0


def _painted(card: CardFind, shape: tuple[int, int]) -> Mask:
    """Return the boxes round the swatches, a rim beside each included: grey paint has the tint of white paper too."""
    x, y = card.surface.box[:2]
    mask = np.zeros(shape, dtype=bool)
    for cell in card.grid.cells:
        half = cell.blob.size / 2.0 + _RIM * cell.blob.radius
        low = np.maximum(np.floor(cell.blob.centre - half - [x, y]), 0).astype(int)
        high = np.maximum(np.ceil(cell.blob.centre + half - [x, y]), 0).astype(int)
        mask[low[1] : high[1], low[0] : high[0]] = True
    return mask
