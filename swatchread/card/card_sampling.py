"""Sampling the paint and the bare ground of a card at full size, in linear light."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from swatchread.card.card_detection import CardFind
from swatchread.card.masks import Mask, eroded, pieces_of
from swatchread.card.segmentation import hull_of_blobs
from swatchread.card.shaded_ground import OtherLight, ground_in_other_light
from swatchread.card.swatch_sampling import SwatchSample, sample_swatch
from swatchread.colour.cielab import Floats
from swatchread.photo import opencv as cv2

_GROUND_CELLS = 12
"""Cells along each side of the card from each of which the ground is sampled."""

_GROUND_POINTS, _LEAST_GROUND = 64, 40
"""Pixels sampled in a cell, about, and pixels of bare ground that it must show."""

_INSET = 5
"""Side of the square, pixels, by which the ground is shrunk: its rim may show paint."""

_SCRAP = 0.02
"""Share of the largest piece of ground below which a piece that is not among the swatches is left out."""


@dataclass(frozen=True, eq=False)
class CardSample:
    """What the photo shows of a card.

    Attributes
    ----------
    card : CardFind
    swatches : tuple of SwatchSample
    ground_linear : ndarray, shape (m, 3)
        Linear RGB of the bare ground, the median of each of its cells.
    ground_points : ndarray, shape (m, 2)
        The middles of these cells, photo pixels.
    elsewhere : OtherLight
        The parts of the ground that lie in another light.
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
    """Sample the bare ground in cells over the card; return linear medians and places, shapes (m, 3) and (m, 2)."""
    surface, photo = card.surface, card.plane.sample.find.photo
    # Ground beyond a shadow's edge tells the light as well.
    bare = _without_scraps(eroded(surface.bare | elsewhere.places, _INSET), card)
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
    linear = [np.median(v, axis=0) for v in np.split(values, ends)]
    return np.array(linear), np.array([p.mean(axis=0) for p in np.split(points, ends)])


def _without_scraps(bare: Mask, card: CardFind) -> Mask:
    """Leave out small pieces of ground that are not among the swatches, as of a cloth that has the card's colour."""
    if not card.grid.cells:
        return bare
    labels, stats = pieces_of(bare)
    area = stats[:, cv2.CC_STAT_AREA]
    broad = area >= _SCRAP * area[1:].max(initial=0)
    broad[labels[hull_of_blobs([cell.blob for cell in card.grid.cells], card.surface.box)]] = True
    broad[0] = False
    kept: Mask = broad[labels]
    return kept
