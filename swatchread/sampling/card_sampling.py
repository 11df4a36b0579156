"""Sampling the paint and the bare ground of a card at full size, in linear light.

Parts of a card that lie in another light, because a shadow has cut it in two, are found here too.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from swatchread.card.card_find import CardFind
from swatchread.colour.cielab import Floats
from swatchread.ground.segmentation import hull_of_blobs
from swatchread.photo import opencv as cv2
from swatchread.photo.icc_profile import srgb_curve
from swatchread.photo.masks import Mask, eroded, part_of, pieces_of, polygon_mask, square, turned_rectangle
from swatchread.photo.order_statistics import median
from swatchread.sampling.swatch_sampling import SwatchSample, sample_swatch

_GROUND_CELLS = 12
"""Cells along each side of the card from each of which the ground is sampled."""

_GROUND_POINTS, _LEAST_GROUND = 64, 40
"""Pixels sampled in a cell, about, and pixels of bare ground that it must show."""

_INSET = 5
"""Side of the square, pixels, by which the ground is shrunk: its rim may show paint."""

_SCRAP = 0.02
"""Share of the largest piece of ground below which a piece that is not among the swatches is left out."""

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
    counts = np.array([len(c) for c in chosen])
    ends = np.cumsum(counts)
    linear = [median(v, axis=0) for v in np.split(values, ends[:-1])]
    return np.array(linear), np.add.reduceat(points, ends - counts) / counts[:, None]


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
