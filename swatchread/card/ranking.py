"""Which quiet region is a card's ground: each is judged by what a card's ground looks like, and the best comes first.

What lies on a card is a hole of the card, not of the table: for the table the whole card is one hole. So a region's
holes, which may be swatches, tell the card from what is under it; its outline tells it from pieces of cloth or wood.
One weighted sum of a few such features is the log odds that a region is the ground of a card.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from swatchread.card.swatches_without_ground import grounds_between_patches
from swatchread.colour.cielab import Floats
from swatchread.grid.swatch_grid import Grid, arrange
from swatchread.ground.background import alike_in_light
from swatchread.ground.finder_settings import settings
from swatchread.ground.ground_regions import Region, find_regions
from swatchread.ground.region_holes import islands
from swatchread.ground.segmentation import Blob, hull_of_blobs
from swatchread.photo import masks
from swatchread.photo import opencv as cv2
from swatchread.photo.masks import Mask
from swatchread.photo.order_statistics import median
from swatchread.plane.lab_image import EdgeLevel, LabImage

RECTANGLE, CUT_OFF, ROUND_CHART = 0, 1, 2
"""Places among a candidate's features of how near it is to a rectangle, of the share that is cut off, and of how far it
goes round the chart."""

_MUCH, _SOME = 0.3, 4
"""Share that is cut off from which a region is tried as cropped to its swatches, and the swatches in order that it
must have."""

_SMALLEST, _USUAL = 0.05, 0.5
"""Half-width of swatches in pitches of the chart: at least, and as a patch of the chart has it."""

_NO_ORDER = 0.05
"""Stands for the order of swatches in no order where its logarithm is taken."""

_ROUND_CHART = 0.03
"""Share of a region that the chart takes if the region goes round it."""

_BARE = (0.3, 0.65)
"""Share of its rim that is bare ground: up to the first a region has no rim, from the second on it has one."""

_RIM = (2.0, 6.0)
"""Depths between which a region's rim is looked at, pixels."""

_APART = 2.0
"""CIELAB units from which the colours of two swatches are not twins."""

_MARGIN = 1.6
"""Breadth of the margin with which a region is cropped to its swatches, in half-widths of a swatch."""

_TINT, _LIGHT = 6.0, 1.9
"""Two colours may be one ground if they differ no more in a* and b* under one light (CIELAB units), and in light."""

_NEAR = 4
"""Pixels from the end of the photo, or of the chart, within which an outline is cut off by it."""

_SPARSE = 7
"""Every so many pixels one is taken to measure a ground's colour."""


@dataclass(frozen=True, eq=False)
class Candidate:
    """A region as a card's ground.

    Attributes
    ----------
    region : Region
    islands : tuple of Blob
        Its holes that could be swatches.
    grid : Grid
        Of those that stand in rows and columns.
    ground : ndarray, shape (3,)
        Its colour, 8-bit CIELAB levels.
    features : ndarray, shape (8,)
        What `score` is weighed from.
    outlined : bool
        Whether the region's outline could be the card's; else it was drawn round swatches.
    """

    region: Region
    islands: tuple[Blob, ...]
    grid: Grid
    ground: Floats
    features: Floats
    outlined: bool = True

    @property
    def score(self) -> float:
        """Log odds that it is the ground of a card."""
        return settings().card_bias + float(self.features @ settings().card_weights)

    @property
    def radius(self) -> float:
        """Usual half-width of the swatches, pixels."""
        return self.grid.radius


def rank_card_regions(image: LabImage, levels: list[EdgeLevel], pitch: float) -> list[Candidate]:
    """Judge the quiet regions as a card's ground.

    Parameters
    ----------
    image : LabImage
    levels : list of EdgeLevel
        The image's.
    pitch : float
        Of the chart, pixels.

    Returns
    -------
    list of Candidate
        Those with holes in rows and columns, the likeliest first.
    """
    known = judged_regions(image, levels, pitch)
    cut = [one for one in known if one.features[CUT_OFF] > _MUCH and len(one.grid.cells) >= _SOME]
    known += [cropped(one, image, pitch) for one in cut] if cut and settings().cropped else []
    known.sort(key=lambda one: -one.score)
    return known


def judged_regions(image: LabImage, levels: list[EdgeLevel], pitch: float) -> list[Candidate]:
    """Judge the quiet regions, and the grounds between patches, that show holes in rows and columns; see above."""
    judged = [judge(region, image, pitch) for region in find_regions(image, levels)]
    between = grounds_between_patches(levels, image) if settings().between_patches else []
    judged += [judge(region, image, pitch, marks) for region, marks in between]
    return [candidate for candidate in judged if candidate.grid.cells]


def cropped(one: Candidate, image: LabImage, pitch: float) -> Candidate:
    """Return a region cut to the surroundings of its swatches: a table of the card's colour is one region with it."""
    region = one.region
    cells = hull_of_blobs([cell.blob for cell in one.grid.cells], region.box)
    around = Region.of(masks.dilated_by_disc(cells, _MARGIN * one.radius), region.box[:2])
    part = Region(region.within(around.box) & around.bare, around.box)
    return replace(judge(part, image, pitch), outlined=False)


def judge(region: Region, image: LabImage, pitch: float, marks: list[Blob] | None = None) -> Candidate:
    """Describe a region as a card's ground.

    Parameters
    ----------
    region : Region
    image : LabImage
    pitch : float
        Of the chart, pixels.
    marks : list of Blob, optional
        Its holes, where they are known.

    Returns
    -------
    Candidate
    """
    found = islands(region, image) if marks is None else marks
    grid = arrange(found)
    features = _features(region, image, grid, pitch) if grid.cells else np.zeros(len(settings().card_weights))
    return Candidate(region, tuple(found), grid, _ground_of(region, image), features, region.painted is None)


def _features(region: Region, image: LabImage, grid: Grid, pitch: float) -> Floats:
    """Describe a region by its outline, and by its swatches.

    The features are how near it is to a rectangle, the share of its outline that is cut off, whether it goes round the
    chart, how bare its rim is, whether only patches showed it, logarithms of the swatches' order and of their size
    against the chart's patches, and how far they repeat their colours.
    """
    if region.painted is None:
        outline = _outline_features(region, image)
    else:  # a cloth goes on to the photo's end, but for the tiles that this cuts
        outline = [0.0, _share_cut_off(region, region.whole, image, round(_MARGIN * grid.radius)), 0.0, 0.0, 1.0]
    size = np.log(max(grid.radius / pitch, _SMALLEST) / _USUAL) ** 2
    return np.array([*outline, np.log(max(grid.order, _NO_ORDER)), size, _twins(grid) if settings().twins else 0.0])


def _twins(grid: Grid) -> float:
    """Return how far the swatches repeat their colours, as the tiles of a cloth do: 0 for a card's, which differ."""
    colours = np.array([cell.blob.lab for cell in grid.cells])
    apart = np.linalg.norm(colours[:, None] - colours, axis=-1)
    np.fill_diagonal(apart, np.inf)
    nearest = float(median(apart.min(axis=1)))
    return float(np.log(np.clip(_APART / max(nearest, 0.1), 1.0, 20.0)))


def _outline_features(region: Region, image: LabImage) -> list[float]:
    whole = region.whole
    outside = image.outside[masks.part_of(region.box)]
    _, (wide, high), _ = cv2.minAreaRect(masks.outline_points(whole))
    full = float(np.count_nonzero(whole)) / max(1.0, wide * high)
    rectangle = -float(np.log(np.clip(1.02 - full, 0.01, 1.0)))
    round_chart = min(1.0, float(np.count_nonzero(outside & whole)) / float(np.count_nonzero(whole)) / _ROUND_CHART)
    rim = _bare_rim(region.bare, whole & ~outside)
    return [rectangle, _share_cut_off(region, whole, image, _NEAR), round_chart, rim, 0.0]


def _share_cut_off(region: Region, whole: Mask, image: LabImage, near: int) -> float:
    """Return the share of a region's outline that lies so near the end of the photo, or the chart, pixels."""
    x, y, w, h = region.box
    beyond = np.ones((h + 2 * near, w + 2 * near), dtype=bool)
    left, top = max(0, x - near), max(0, y - near)
    shown = image.outside[top : y + h + near, left : x + w + near]
    down, across = top - y + near, left - x + near
    beyond[down : down + shown.shape[0], across : across + shown.shape[1]] = shown
    rim = cv2.morphologyEx(masks.with_margin(whole, near), cv2.MORPH_GRADIENT, masks.square(3)) > 0
    ends = masks.dilated(beyond, 2 * near - 1)
    return float(np.count_nonzero(rim & ends) / max(1, int(np.count_nonzero(rim))))


def _bare_rim(bare: Mask, area: Mask) -> float:
    """Return 1 if an area has a rim of bare ground as a card has, and less if its outline cuts through marks."""
    away = cv2.distanceTransform(masks.with_margin(area, 1), cv2.DIST_C, 3)[1:-1, 1:-1]
    rim = (away > _RIM[0]) & (away <= _RIM[1])
    share = float(np.count_nonzero(bare & rim) / max(1, int(np.count_nonzero(rim))))
    return float(np.clip((share - _BARE[0]) / (_BARE[1] - _BARE[0]), 0.05, 1.0))


def _ground_of(region: Region, image: LabImage) -> Floats:
    """Return the colour of a region, 8-bit CIELAB levels, shape (3,)."""
    x, y, w, _ = region.box
    rows, columns = np.divmod(np.flatnonzero(region.bare)[::_SPARSE], w)
    middle: Floats = median(image.lab[rows + y, columns + x], axis=0)
    return middle


def same_ground(one: Candidate, other: Candidate) -> bool:
    """Tell whether two regions could be one ground under more or less light: L* + 16, a* and b* scale alike."""
    return bool(alike_in_light(other.ground, one.ground, _TINT, (1 / _LIGHT, _LIGHT)))


def share_place(one: Candidate, other: Candidate, apart: float = 0.0) -> bool:
    """Tell whether the boxes of two regions meet, or lie up to so many pixels apart."""
    (x, y, w, h), (left, top, wide, high) = one.region.box, other.region.box
    beside = x < left + wide + apart and left < x + w + apart
    return beside and y < top + high + apart and top < y + h + apart
