"""The card's bare ground: the quiet surface in which the swatches lie like islands.

A ground is a region that is flat but for its holes. Its colour is described by a smooth field, so that falling light is
not taken for paint. Everything on the card that stands off that field is a mark: paint, writing, tape.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt

from swatchread.colour.cielab import Floats
from swatchread.ground.background import distance, fit_background, lab_of
from swatchread.photo import opencv as cv2
from swatchread.photo.masks import Box, Mask, hull_of, part_of, put
from swatchread.photo.order_statistics import median
from swatchread.plane.finder_settings import settings
from swatchread.plane.lab_image import EdgeLevel, LabImage, edge_levels

_ENOUGH = 60_000
"""Pixels that are enough for a median."""


@dataclass(frozen=True, eq=False)
class Surface:
    """A quiet region of the plane that may be a card's ground.

    Attributes
    ----------
    bare : ndarray, shape (h, w), bool
        The region itself.
    card : ndarray, shape (h, w), bool
        The region with its holes and bays: where swatches may lie.
    off : ndarray, shape (h, w), float32
        Colour difference of every pixel from the ground's smooth field, CIELAB units; 0 off the card.
    noise : float
        Median of `off` over the bare ground.
    box : tuple of int
        x, y, width, height of the card in the plane: the arrays above are cut to it.
    lab : ndarray, shape (3,)
        Median colour of the ground, CIELAB, as balanced by the chart.
    """

    bare: Mask
    card: Mask
    off: npt.NDArray[np.float32]
    noise: float
    box: Box
    lab: Floats


def find_regions(image: LabImage, levels: list[EdgeLevel] | None = None) -> list[Region]:
    """Return the quiet regions that could be grounds.

    Parameters
    ----------
    image : LabImage
    levels : list of EdgeLevel, optional
        The image's, where they are known.

    Returns
    -------
    list of Region
        Each once, though several edge strengths show it; the largest.
    """
    found: list[Region] = []
    known = settings().ground
    least = known.least_share * float(np.count_nonzero(~image.outside))
    for level in edge_levels(image) if levels is None else levels:
        for index in np.argsort(-level.stats[1:, cv2.CC_STAT_AREA])[: known.most] + 1:
            x, y, w, h, area = level.stats[index].tolist()
            if area < least:
                break
            region = Region(level.labels[y : y + h, x : x + w] == index, (x, y, w, h))
            if not any(_same(region, other) for other in found):
                found.append(region)
    return sorted(found, key=lambda region: -region.area)[: 3 * known.most]


def _same(region: Region, other: Region) -> bool:
    """Tell whether a weaker edge strength has given the same region, but for a few pixels."""
    apart, share = settings().ground.same
    close = max(abs(a - b) for a, b in zip(region.box, other.box, strict=True)) <= apart
    return close and other.area > share * region.area


def card_score(surface: Surface) -> float:
    """Return how likely a surface is a card: compact, quiet, large."""
    bare = float(np.count_nonzero(surface.bare) / np.count_nonzero(surface.card))
    return float(bare * np.sqrt(np.count_nonzero(surface.card)) / (0.6 + surface.noise) ** 1.6)


@dataclass(frozen=True, eq=False)
class Region:
    """A quiet region, cut to its box (x, y, width, height), and the swatches that bound it where they are known."""

    bare: Mask
    box: Box
    painted: Mask | None = None

    @classmethod
    def of(cls, mask: Mask, corner: tuple[int, int] = (0, 0)) -> Region:
        """Return a mask that is not empty, with its corner at (x, y), as a region cut to what the mask holds."""
        x, y, w, h = cv2.boundingRect(mask.astype(np.uint8))
        return cls(mask[y : y + h, x : x + w], (corner[0] + x, corner[1] + y, w, h))

    @cached_property
    def area(self) -> int:
        """Number of pixels of bare ground."""
        return int(np.count_nonzero(self.bare))

    @cached_property
    def whole(self) -> Mask:
        """The region with its holes and bays, shape (h, w), bool."""
        return hull_of(self.bare if self.painted is None else self.bare | self.painted)

    def within(self, box: Box) -> Mask:
        """Return the region's bare ground in a box that may reach beyond it, shape (h, w), bool."""
        out = np.zeros((box[3], box[2]), dtype=bool)
        put(out, self.bare, (self.box[0] - box[0], self.box[1] - box[1]))
        return out

    def doubled(self, image: LabImage) -> Region:
        """Return the region as it is in an image of twice the size."""
        x, y, w, h = (2 * v for v in self.box)
        w, h = min(w, image.shape[1] - x), min(h, image.shape[0] - y)

        def larger(mask: Mask) -> Mask:
            return cv2.resize(mask.astype(np.uint8), (w, h), interpolation=cv2.INTER_NEAREST) > 0

        return Region(larger(self.bare), (x, y, w, h), None if self.painted is None else larger(self.painted))


def surface_of(region: Region, image: LabImage) -> Surface | None:
    """Describe a region as a ground; None where the photo shows nothing of it."""
    bare, inside = region.bare, part_of(region.box)
    card = region.whole & ~image.outside[inside]
    if not (bare & card).any():
        return None
    colours = image.lab[inside]
    field, middle = fit_background(bare, colours)
    off = distance(colours, field)
    noise = usual_off(off, bare)
    off[~card] = 0.0
    return Surface(bare, card, off, noise, region.box, lab_of(middle))


def likely_regions(image: LabImage, most: int) -> list[Region]:
    """Return the quiet regions that could be grounds, the likeliest first."""
    sketches = [(region, s) for region in find_regions(image) if (s := surface_of(region, image)) is not None]
    return [region for region, _ in sorted(sketches, key=lambda pair: -card_score(pair[1]))[:most]]


def usual_off(off: npt.NDArray[np.float32], bare: Mask) -> float:
    """Return the median over a region, of every so many rows and columns where it is large; 0 for an empty one.

    Parameters
    ----------
    off : ndarray, shape (h, w), float32
    bare : ndarray, shape (h, w), bool
    """
    step = max(1, int(np.sqrt(bare.size / _ENOUGH)))
    some = off[::step, ::step][bare[::step, ::step]]
    some = some if len(some) else off[bare]
    return float(median(some)) if len(some) else 0.0
