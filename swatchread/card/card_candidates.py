"""Judging quiet regions as a card's ground by their islands alone.

What lies on a card is a hole of the card, not of the table: for the table the whole card is one hole. So the islands
tell the card from what is under it, at the cost of following outlines.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from swatchread.card import masks
from swatchread.card.background import lab_of
from swatchread.card.grid import Grid, arrange
from swatchread.card.ground_regions import Region
from swatchread.card.lab_image import LabImage
from swatchread.card.masks import Mask
from swatchread.card.region_holes import islands
from swatchread.card.segmentation import Blob, hull_of_blobs
from swatchread.card.settings import rules
from swatchread.colour.cielab import Floats
from swatchread.photo import opencv as cv2

# Measured on development scenes.

_MOST_ORDER = 100.0
"""A card holds at most so many swatches. A region with more marks is a pattern."""

_WHOLE = 0.8
"""A region is ragged if its ground and its swatches cover less than this share of it."""

_CHART_SHARE, _ROUND_CHART = 0.03, 0.35
"""If the chart, or the photo's end, takes more than this share of a region, its worth falls to the second share."""

_CUT = 0.5
"""Share of its worth that a region loses if the photo ends it all round."""

_RIM_DEPTHS, _RIM_WIDTH = (6.0, 4.0), 4.0
"""Depth to which the rims of a region and of the area round its swatches are examined, and their breadth; pixels."""

_RIM_LEAST, _RIM_MOST = 0.3, 0.65
"""Share of its rim that is bare ground: up to the first a region is not a card, from the second on it is one."""

_BESIDE = 4.0
"""A card reaches at least so many pixels beyond its outer swatches."""

_MARGIN = 1.6
"""Breadth of the margin with which a region is cropped to its swatches, in half-widths of a swatch."""

_MOST_LEFT = 0.85
"""A region that keeps more than this share of its area when it is cropped has hardly changed."""

_SHARED = 0.5
"""Two regions are joined if the first holds no more than this share of the second."""

_TINT, _LIGHT = 6.0, 1.9
"""Two colours may be one ground if they differ no more in a* and b* under one light (CIELAB units), and in light."""

_SPARSE = 7
"""Every so many pixels one is taken to measure a ground's colour."""

SURE, SURE_CELLS = 0.9, 4
"""A region is a card without doubt from this worth for each swatch in order, and from so many swatches."""


@dataclass(frozen=True, eq=False)
class Candidate:
    """A region as a card's ground.

    Attributes
    ----------
    region : Region
    islands : tuple of Blob
        Its holes that could be swatches.
    radius : float
        Usual half-width of those that stand in rows and columns, pixels.
    ground : ndarray, shape (3,)
        Its colour, CIELAB units.
    worth : float
        About the number of its islands that stand in rows and columns, less where the region is ragged, goes round
        the chart or ends with the photo; 0 where there are none.
    cells : int
        How many islands stand in rows and columns.
    """

    region: Region
    islands: tuple[Blob, ...]
    radius: float
    ground: Floats
    worth: float
    cells: int

    @property
    def squareness(self) -> float:
        """Share that the region, with its holes and bays, fills of the smallest rectangle round it: 1 for a card."""
        whole = self.region.whole
        _, (wide, high), _ = cv2.minAreaRect(masks.outline_points(whole))
        return float(np.count_nonzero(whole) / max(1.0, wide * high))


def judge(region: Region, image: LabImage, found: list[Blob] | None = None) -> Candidate:
    """Judge a region as a card's ground.

    Parameters
    ----------
    region : Region
    image : LabImage
    found : list of Blob, optional
        Its islands, where they are known.

    Returns
    -------
    Candidate
    """
    found = islands(region, image) if found is None else found
    return _of_grid(region, image, found, arrange(found))


def _of_grid(region: Region, image: LabImage, found: list[Blob], grid: Grid) -> Candidate:
    """Judge a region by its islands and their rows and columns."""
    box = region.box
    ground_lab = ground_of(region, image)
    if not grid.cells or sum(blob.radius > 0.5 * grid.radius for blob in found) > _MOST_ORDER:
        return Candidate(region, tuple(found), grid.radius, ground_lab, 0.0, len(grid.cells))
    outside = image.outside[masks.part_of(box)]
    whole = region.whole
    ground = float(np.count_nonzero(region.bare) + sum(cell.blob.area for cell in grid.cells))
    ragged = min(1.0, ground / (_WHOLE * float(np.count_nonzero(whole & ~outside)))) if rules().ragged else 1.0
    # What the chart, or the end of the photo, takes of it: a card lies beside the chart and within the photo.
    taken = float(np.count_nonzero(outside & whole) / np.count_nonzero(whole))
    cut_off = _CUT * _share_cut_off(whole, outside) if rules().photo_end else 0.0
    worth = min(grid.order, _MOST_ORDER) * ragged * (1.0 - cut_off)
    worth *= _ROUND_CHART if taken > _CHART_SHARE and rules().round_chart else 1.0
    around = _hull_of_cells(grid, region)
    if region.painted is None and rules().framed:  # else the swatches may reach the card's edge
        areas = zip((whole, around), _RIM_DEPTHS, strict=True)
        worth *= max(_framed(region.bare, area & ~outside, depth) for area, depth in areas)
    return Candidate(region, tuple(found), grid.radius, ground_lab, worth, len(grid.cells))


def _framed(bare: Mask, whole: Mask, depth: float) -> float:
    """Return 1 if an area has a rim of bare ground as a card has, and less if its outline cuts through marks."""
    away = cv2.distanceTransform(np.pad(whole.astype(np.uint8), 1), cv2.DIST_C, 3)[1:-1, 1:-1]
    rim = (away > depth - _RIM_WIDTH) & (away <= depth)
    share = float(np.count_nonzero(bare & rim) / max(1, int(np.count_nonzero(rim))))
    return float(np.clip((share - _RIM_LEAST) / (_RIM_MOST - _RIM_LEAST), 0.05, 1.0))


def _hull_of_cells(grid: Grid, region: Region) -> Mask:
    """Return the convex hull of the swatches and a little more, in the region's box: a card may end there."""
    angle = np.linspace(0.0, 2.0 * np.pi, 12, endpoint=False)
    circle = np.stack([np.cos(angle), np.sin(angle)], axis=-1)
    points = np.concatenate([c.blob.centre + (c.blob.size / 2.0 + _BESIDE) * circle for c in grid.cells])
    return masks.polygon_mask(cv2.convexHull(np.rint(points - region.box[:2]).astype(np.int32)), region.bare.shape)


def cropped(candidate: Candidate, image: LabImage) -> Candidate | None:
    """Return a region cut to the surroundings of its swatches; None where that changes little.

    Where the table has the card's colour the two are one region; the card is where the swatches are.
    """
    cells = [cell.blob for cell in arrange(list(candidate.islands)).cells]
    if len(cells) < 2:
        return None
    region = candidate.region
    near = masks.dilated_by_disc(hull_of_blobs(cells, region.box), _MARGIN * candidate.radius)
    around = Region.of(near, region.box[:2])
    bare = region.within(around.box) & around.bare
    if np.count_nonzero(bare) > _MOST_LEFT * np.count_nonzero(region.bare):
        return None
    return judge(Region(bare, around.box), image)


def united(one: Candidate, other: Candidate, image: LabImage) -> Candidate | None:
    """Return two regions as one; None if they cannot be two parts of one ground that both carry swatches.

    A hard shadow cuts a card in two.
    """
    a, b = one.region, other.region
    if not same_ground(one, other) or not other.islands:
        return None
    if np.count_nonzero(a.within(b.box) & b.bare) > _SHARED * np.count_nonzero(b.bare):
        return None
    box = masks.box_round(a.box, b.box)
    taken = np.zeros((box[3], box[2]), dtype=bool)
    kept = []
    for island in (*one.islands, *other.islands):
        part = taken[island.part(box)]
        if not (part & island.mask).any():
            part |= island.mask
            kept.append(island)
    grid = arrange(kept)
    if grid.order <= max(one.worth, other.worth):  # it will not be worth more
        return None
    return _of_grid(Region(a.within(box) | b.within(box), box), image, kept, grid)


def _share_cut_off(whole: Mask, outside: Mask) -> float:
    """Return the share of a region's outline that is the end of the photo, or of the chart."""
    rim = cv2.morphologyEx(whole.astype(np.uint8), cv2.MORPH_GRADIENT, np.ones((3, 3), np.uint8)) > 0
    near = masks.dilated(np.pad(outside, 1, constant_values=True), 7)[1:-1, 1:-1]
    frame = np.zeros_like(rim)
    frame[3:-3, 3:-3] = True
    edge = near & (outside.any() | frame)
    return min(1.0, float(np.count_nonzero(rim & edge & frame) / max(1, int(np.count_nonzero(rim)))))


def without_doubt(candidate: Candidate) -> bool:
    """Tell whether a region is a card without doubt: all its marks stand in rows and columns, and its rim is bare."""
    return candidate.cells >= SURE_CELLS and candidate.worth >= SURE * candidate.cells


def ground_of(region: Region, image: LabImage) -> Floats:
    """Return the colour of a region in CIELAB units, shape (3,)."""
    x, y, w, _ = region.box
    rows, columns = np.divmod(np.flatnonzero(region.bare)[::_SPARSE], w)
    return lab_of(np.median(image.lab[rows + y, columns + x], axis=0))


def same_ground(one: Candidate, other: Candidate) -> bool:
    """Tell whether two regions could be one ground under more or less light."""
    return like_ground(one.ground, other.ground)


def like_ground(one: Floats, other: Floats) -> bool:
    """Tell whether two colours could be one under more or less light: L* + 16, a* and b* scale alike."""
    light = (one[0] + 16.0) / (other[0] + 16.0)
    apart = float(np.linalg.norm(one[1:] - other[1:] * light))
    return apart < _TINT and 1 / _LIGHT < light < _LIGHT
