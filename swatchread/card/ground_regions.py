"""The card's bare ground: the quiet surface in which the swatches lie like islands.

A ground is a region that is flat but for its holes. Its colour is described by a smooth field, first a polynomial and
then what the neighbourhood says, so that falling light and a shadow's edge are not taken for paint. Everything on the
card that stands off that field is a mark: paint, writing, tape.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from swatchread.card.background import Mask, Picture, distance, fit_background, lab_of, tint_distance
from swatchread.card.lab_image import STRENGTHS, EdgeLevel, LabImage, edge_levels
from swatchread.colour.cielab import Floats
from swatchread.colour.order import median
from swatchread.photo import opencv as cv2
from swatchread.photo.edge_strength import edge_strength

_LEAST_SHARE = 0.003
_LEAST_BARE = 0.15
_LEAST_BETWEEN = 0.03
"""Share of a card that is bare ground, and of what patches that nearly touch leave between them."""

_MOST_SURFACES = 7
_COARSE = 6
_ENOUGH = 60_000
_THIN = 12.0


Box = tuple[int, int, int, int]


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
        Colour difference of every pixel from the ground's smooth field (CIELAB-like units); 0 off the card.
    noise : float
        Robust spread of `off` over the bare ground.
    box : tuple of int
        x, y, width, height of the card in the plane: the arrays above are cut to it.
    lab : ndarray, shape (3,)
        Mean colour of the ground in CIELAB units, as balanced by the chart.
    """

    bare: Mask
    card: Mask
    off: npt.NDArray[np.float32]
    noise: float
    box: Box
    lab: Floats


def lies_within(inner: Box, outer: Box, slack: float = 0.5) -> bool:
    """Tell whether a box lies in another, less so many pixels beyond it: none by default."""
    (x, y, w, h), (left, top, wide, high) = inner, outer
    across = x > left - slack and x + w < left + wide + slack
    return across and y > top - slack and y + h < top + high + slack


def find_regions(sheet: LabImage, cuts: list[EdgeLevel] | None = None) -> list[Region]:
    """Return the quiet regions that could be grounds.

    Parameters
    ----------
    sheet : LabImage
    cuts : list of EdgeLevel, optional
        The sheet's, where they are known.

    Returns
    -------
    list of Region
    """
    return _regions(edge_levels(sheet) if cuts is None else cuts, float(np.count_nonzero(~sheet.outside)))


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

    @property
    def whole(self) -> Mask:
        """The region with its holes and bays, shape (h, w), bool."""
        return hull_of(self.bare if self.painted is None else self.bare | self.painted)

    def within(self, box: Box) -> Mask:
        """Return the region's bare ground in a box that may reach beyond it, shape (h, w), bool."""
        x, y, w, h = box
        left, top, wide, high = self.box
        out = np.zeros((h, w), dtype=bool)
        x0, y0, x1, y1 = max(x, left), max(y, top), min(x + w, left + wide), min(y + h, top + high)
        if x0 < x1 and y0 < y1:
            out[y0 - y : y1 - y, x0 - x : x1 - x] = self.bare[y0 - top : y1 - top, x0 - left : x1 - left]
        return out

    def doubled(self, sheet: LabImage) -> Region:
        """Return the region on a sheet of twice the size."""
        x, y, w, h = (2 * v for v in self.box)
        w, h = min(w, sheet.lab.shape[1] - x), min(h, sheet.lab.shape[0] - y)
        bare, painted = (
            None if mask is None else cv2.resize(mask.astype(np.uint8), (w, h), interpolation=cv2.INTER_NEAREST) > 0
            for mask in (self.bare, self.painted)
        )
        return Region(np.asarray(bare), (x, y, w, h), painted)


def _regions(cuts: list[EdgeLevel], whole: float) -> list[Region]:
    """Return the large pieces, each once."""
    found: list[Region] = []
    for cut in cuts:
        for index in np.argsort(-cut.stats[1:, cv2.CC_STAT_AREA])[:_MOST_SURFACES] + 1:
            x, y, w, h, area = (int(v) for v in cut.stats[index])
            if area < _LEAST_SHARE * whole or min(w, h) < 12:
                continue
            region = Region(cut.labels[y : y + h, x : x + w] == index, (x, y, w, h))
            if not any(_same(region, other) for other in found):
                found.append(region)
    return sorted(found, key=_compactness, reverse=True)[: 3 * _MOST_SURFACES]


def _same(region: Region, other: Region) -> bool:
    """Tell whether a weaker edge strength has given the same region, but for a few pixels."""
    close = max(abs(a - b) for a, b in zip(region.box, other.box, strict=True)) <= 3
    return close and float(np.count_nonzero(other.bare)) > 0.85 * float(np.count_nonzero(region.bare))


def _compactness(region: Region) -> float:
    return float(region.bare.mean()) * float(np.sqrt(np.count_nonzero(region.bare)))


def surface_of(region: Region, sheet: LabImage) -> Surface | None:
    """Describe a region as a ground; None where it is too small or too ragged to be one."""
    x, y, w, h = region.box
    bare = region.bare
    card = region.whole
    inside = slice(y, y + h), slice(x, x + w)
    card &= ~sheet.outside[inside]
    least = _LEAST_BARE if region.painted is None else _LEAST_BETWEEN
    if min(w, h) < 12 or np.count_nonzero(card) < 150 or np.count_nonzero(bare) < least * np.count_nonzero(card):
        return None
    colours = sheet.lab[inside]
    field, middle = fit_background(bare, colours, 3 if bare.mean() > 0.25 else 1)
    off = distance(colours, field)
    noise = usual_off(off, bare)
    off[~card] = 0.0
    return Surface(bare, card, off, noise, (x, y, w, h), lab_of(middle))


def refine_background(surface: Surface, lab: Picture, radius: float) -> Surface:
    """Describe a surface's ground again by what its neighbourhood says, once the size of the swatches is known.

    A local median over more than a swatch's extent follows shadows' edges and does not follow paint that is nearly
    the colour of the ground.

    Parameters
    ----------
    surface : Surface
    lab : ndarray, shape (h, w, 3), uint8
        Of the whole plane.
    radius : float
        Usual half-width of a swatch, pixels.

    Returns
    -------
    Surface
    """
    x, y, w, h = surface.box
    colours = lab[y : y + h, x : x + w]
    field, _ = fit_background(surface.bare, colours, 3 if surface.bare.mean() > 0.25 else 1)
    # What is averaged over a swatch's extent may be looked at thinly.
    thin = slice(None, None, 2 if radius > _THIN else 1), slice(None, None, 2 if radius > _THIN else 1)
    ground = _ground_of(surface, colours, field, thin)
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
    window = 2 * int(1.9 * radius / step) + 1
    levels = np.clip(np.rint(filled * 4.0 + 128.0), 0, 255).astype(np.uint8)
    local = cv2.medianBlur(levels, min(window, 101)).astype(np.float32)
    local = np.asarray(cv2.GaussianBlur((local - 128.0) / 4.0, (0, 0), max(1.0, 0.35 * radius / step)), np.float32)
    off = distance(colours, field + cv2.resize(local, (w, h), interpolation=cv2.INTER_LINEAR))
    noise = usual_off(off, surface.bare)
    off[~surface.card] = 0.0
    return Surface(surface.bare, surface.card, off, noise, surface.box, surface.lab)


def _ground_of(
    surface: Surface, colours: Picture, field: npt.NDArray[np.float32], thin: tuple[slice, slice]
) -> npt.NDArray[np.float32]:
    """Tell by 1 and 0 where a surface shows its ground, at every so many rows and columns."""
    # In a shadow the polynomial is wrong, but the ground keeps its tint and stays flat.
    bare, off = surface.bare[thin], surface.off[thin]
    tint = tint_distance(colours[thin], field[thin])
    quiet = (tint < max(2.0, 3.0 * usual_off(tint, bare))) & (edge_strength(colours)[thin] < STRENGTHS[-1])
    return (surface.card[thin] & (off < max(4.0 * surface.noise, 5.0)) | (bare & quiet)).astype(np.float32)


def usual_off(off: npt.NDArray[np.float32], bare: Mask) -> float:
    """Return the median over a region, of every so many rows and columns where it is large.

    Parameters
    ----------
    off : ndarray, shape (h, w), float32
    bare : ndarray, shape (h, w), bool
    """
    step = max(1, int(np.sqrt(bare.size / _ENOUGH)))
    some = off[::step, ::step][bare[::step, ::step]]
    return median(some if len(some) else off[bare])


def hull_of(bare: Mask) -> Mask:
    """Return the convex hull of a region: its holes filled, and the bays that swatches near its edge cut into it."""
    contours, _ = cv2.findContours(bare.astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_SIMPLE)
    canvas = np.zeros(bare.shape, dtype=np.uint8)
    cv2.fillConvexPoly(canvas, cv2.convexHull(np.concatenate(contours)), 1)
    return canvas.astype(bool)
