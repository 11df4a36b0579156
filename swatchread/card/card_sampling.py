"""Sampling the paint and the bare ground of a card at full size, in linear light."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from swatchread.card.background import Mask, Picture
from swatchread.card.card_detection import CardFind
from swatchread.card.segmentation import hull_round
from swatchread.card.shaded_ground import OtherLight, ground_in_other_light
from swatchread.card.swatch_sampling import SwatchSample, sample_swatch
from swatchread.colour.cielab import Floats
from swatchread.colour.order import medians
from swatchread.photo import opencv as cv2

_GROUND_CELLS = 12
_GROUND_POINTS = 64
_LEAST_GROUND = 40
_SCRAP = 0.02
"""Share of the largest piece of ground below which one outside of the swatches may be no part of the card."""


@dataclass(frozen=True, eq=False)
class CardSample:
    """What the photo shows of a card.

    Attributes
    ----------
    card : CardFind
    swatches : tuple of SwatchSample
    ground_linear : ndarray, shape (m, 3)
        Linear RGB of small patches of the bare ground.
    ground_points : ndarray, shape (m, 2)
        Their places, photo pixels.
    elsewhere : OtherLight
        Ground that lies in another light.
    """

    card: CardFind
    swatches: tuple[SwatchSample, ...]
    ground_linear: Floats
    ground_points: Floats
    elsewhere: OtherLight

    @property
    def linear(self) -> Floats:
        """Linear RGB of the swatches, shape (n, 3)."""
        return np.array([s.linear for s in self.swatches])

    @property
    def error(self) -> Floats:
        """Standard errors of `linear`, shape (n, 3)."""
        return np.array([s.error for s in self.swatches])

    @property
    def places(self) -> Floats:
        """Middles of the swatches, photo pixels, shape (n, 2)."""
        return np.array([s.place for s in self.swatches])


def sample_card(card: CardFind) -> CardSample:
    """Measure every swatch of a card, and its bare ground, in linear light.

    Parameters
    ----------
    card : CardFind

    Returns
    -------
    CardSample
    """
    elsewhere = ground_in_other_light(card)
    linear, points = sample_ground(card, elsewhere)
    return CardSample(card, tuple(sample_swatch(card, cell) for cell in card.grid.cells), linear, points, elsewhere)


def sample_ground(card: CardFind, elsewhere: OtherLight) -> tuple[Floats, Floats]:
    """Sample the bare ground in cells over the card; return linear means and places."""
    surface, photo = card.surface, card.plane.sample.find.photo
    # A shadow can part the card from its ground; what lies beyond tells the light as well.
    ground = (surface.bare | elsewhere.places).astype(np.uint8)
    eroded = cv2.erode(np.pad(ground, 1), np.ones((5, 5), np.uint8))[1:-1, 1:-1]
    bare = _less_scraps(np.asarray(eroded, dtype=np.uint8), card)
    down, across = (-(-np.arange(_GROUND_CELLS + 1) * side // _GROUND_CELLS) for side in bare.shape)
    chosen = []
    for top, bottom in pairwise(down):
        for left, right in pairwise(across):
            rows, cols = np.nonzero(bare[top:bottom, left:right])
            if len(rows) >= _LEAST_GROUND:
                some = slice(None, None, max(1, len(rows) // _GROUND_POINTS))
                chosen.append(np.stack([cols[some] + left, rows[some] + top], axis=-1))
    if not chosen:
        return np.zeros((0, 3)), np.zeros((0, 2))
    points = card.plane.photo_points(np.concatenate(chosen) + np.array(surface.box[:2]))
    col = np.clip(np.rint(points[:, 0]), 0, photo.width - 1).astype(np.intp)
    row = np.clip(np.rint(points[:, 1]), 0, photo.height - 1).astype(np.intp)
    values = photo.encoding.linear(photo.pixels[row, col]).astype(np.float64)
    ends = np.cumsum([len(c) for c in chosen])[:-1]
    linear = [medians(v) for v in np.split(values, ends)]
    return np.array(linear), np.array([p.mean(axis=0) for p in np.split(points, ends)])


def _less_scraps(bare: Picture, card: CardFind) -> Mask:
    """Leave out small pieces of ground outside of the swatches: a cloth's pale squares, where it runs into the card."""
    if not card.grid.cells:
        return bare > 0
    _, labels, stats, _ = cv2.connectedComponentsWithStats(bare, connectivity=4)
    area = stats[:, cv2.CC_STAT_AREA]
    broad = area >= _SCRAP * area[1:].max(initial=0)
    among = hull_round([cell.blob for cell in card.grid.cells], card.surface.box) > 0
    broad[labels[among]] = True
    broad[0] = False
    return np.asarray(broad[labels])
