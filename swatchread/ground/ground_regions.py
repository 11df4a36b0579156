"""The card's bare ground: the quiet surface in which the swatches lie like islands.

A ground is a region that is flat but for its holes. Its colour is described by a smooth field, first a plane and then a
local median, so that falling light and a shadow's edge are not taken for paint. Everything on the card that
stands off that field is a mark: paint, writing, tape.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from swatchread.colour.cielab import Floats
from swatchread.ground.background import distance, fit_background, lab_of
from swatchread.ground.finder_settings import settings
from swatchread.photo import opencv as cv2
from swatchread.photo.masks import Box, Mask, Picture, hull_of, part_of, put
from swatchread.plane.lab_image import EdgeLevel, LabImage, edge_levels

# Measured on development scenes, unless said otherwise.

_LEAST_SHARE = 0.003
"""Share of the image that a ground takes at least."""

_LEAST_SIDE, _LEAST_AREA = 12, 150
"""Side of its box and area of a card, pixels, below which nothing can be told of it."""

_LEAST_BARE, _LEAST_BETWEEN = 0.15, 0.03
"""Share of a card that is bare ground, and of what patches that nearly touch leave between them."""

_MOST_SURFACES = 7
"""Quiet pieces at each edge strength that may be grounds: the largest."""

_SAME_BOX, _SAME_AREA = 3, 0.85
"""Pixels by which the boxes of one region at two edge strengths may differ, and the share of its area that stays."""

_COARSE = 6
"""Pixels to one of the reduced picture in which the local median is taken, at most."""

_THIN = 12.0
"""Half-width of a swatch, pixels, from which every other pixel is enough for the local median."""

_WINDOW, _MOST_WINDOW = 1.9, 101
"""Half the window of the local median, in half-widths of a swatch, and the whole of it in reduced pixels at most."""

_QUARTERS, _MIDDLE = 4.0, 128.0
"""The local median is taken of bytes: steps per CIELAB level, and the byte of no difference."""

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
        Each once, though several edge strengths show it; the most compact first.
    """
    found: list[Region] = []
    least = _LEAST_SHARE * float(np.count_nonzero(~image.outside))
    for level in edge_levels(image) if levels is None else levels:
        for index in np.argsort(-level.stats[1:, cv2.CC_STAT_AREA])[:_MOST_SURFACES] + 1:
            x, y, w, h, area = level.stats[index].tolist()
            if area < least or min(w, h) < _LEAST_SIDE:
                continue
            region = Region(level.labels[y : y + h, x : x + w] == index, (x, y, w, h))
            if not any(_same(region, other) for other in found):
                found.append(region)
    return sorted(found, key=_compactness, reverse=True)[: 3 * _MOST_SURFACES]


def _same(region: Region, other: Region) -> bool:
    """Tell whether a weaker edge strength has given the same region, but for a few pixels."""
    close = max(abs(a - b) for a, b in zip(region.box, other.box, strict=True)) <= _SAME_BOX
    return close and float(np.count_nonzero(other.bare)) > _SAME_AREA * float(np.count_nonzero(region.bare))


def _compactness(region: Region) -> float:
    return float(region.bare.mean()) * float(np.sqrt(np.count_nonzero(region.bare)))


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

    @property
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
    """Describe a region as a ground; None where it is too small or too ragged to be one."""
    bare, inside = region.bare, part_of(region.box)
    card = region.whole & ~image.outside[inside]
    least = _LEAST_BARE if region.painted is None else _LEAST_BETWEEN
    area = np.count_nonzero(card)
    if min(region.box[2:]) < _LEAST_SIDE or area < _LEAST_AREA or np.count_nonzero(bare) < least * area:
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


def refine_background(surface: Surface, lab: Picture, radius: float) -> Surface:
    """Describe a surface's ground again by a local median, once the size of the swatches is known.

    A median over more than a swatch's extent follows shadows' edges. It does not follow paint that is nearly the colour
    of the ground.

    Parameters
    ----------
    surface : Surface
    lab : ndarray, shape (h, w, 3), uint8
        8-bit CIELAB of the whole plane.
    radius : float
        Usual half-width of a swatch, pixels.

    Returns
    -------
    Surface
    """
    if not settings().local_median:
        return surface
    w, h = surface.box[2:]
    colours = lab[part_of(surface.box)]
    field, _ = fit_background(surface.bare, colours)
    every = slice(None, None, 2 if radius > _THIN else 1)
    thin = every, every
    ground = (surface.card[thin] & (surface.off[thin] < max(4.0 * surface.noise, 5.0))).astype(np.float32)
    step = max(2, min(_COARSE, int(radius / 4)))
    size = (max(8, w // step), max(8, h // step))
    weight = cv2.resize(ground, size, interpolation=cv2.INTER_AREA)
    rest = (colours[thin].astype(np.float32) - field[thin]) * ground[..., None]
    coarse = cv2.resize(rest, size, interpolation=cv2.INTER_AREA)
    blur = max(1.5, 1.2 * radius / step)
    smooth_w = cv2.GaussianBlur(weight, (0, 0), blur)[..., None] + 1e-3
    smooth = cv2.GaussianBlur(coarse, (0, 0), blur) / smooth_w
    known = weight[..., None] > 0.5
    filled = np.where(known, coarse / np.maximum(weight[..., None], 0.5), smooth)
    window = min(2 * int(_WINDOW * radius / step) + 1, _MOST_WINDOW)
    coded = np.clip(np.rint(filled * _QUARTERS + _MIDDLE), 0, 255).astype(np.uint8)
    local = (cv2.medianBlur(coded, window).astype(np.float32) - _MIDDLE) / _QUARTERS
    local = cv2.GaussianBlur(local, (0, 0), max(1.0, 0.35 * radius / step))
    off = distance(colours, field + cv2.resize(local, (w, h), interpolation=cv2.INTER_LINEAR))
    noise = usual_off(off, surface.bare)
    off[~surface.card] = 0.0
    return replace(surface, off=off, noise=noise)


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
    return float(np.median(some)) if len(some) else 0.0
