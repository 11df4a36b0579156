"""Judging quiet regions as a card's ground by their islands alone.

What lies on a card is a hole of the card, not of the table: for the table the whole card is one hole. So the islands
tell the card from what is under it, at the cost of following outlines.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from swatchread.card.background import Mask, lab_of
from swatchread.card.grid import Grid, arrange
from swatchread.card.ground_regions import Region
from swatchread.card.lab_image import LabImage
from swatchread.card.region_holes import islands
from swatchread.card.segmentation import Blob, hull_round
from swatchread.colour.cielab import Floats
from swatchread.colour.order import median, medians
from swatchread.photo import opencv as cv2

_MOST_ORDER = 100.0
_WHOLE = 0.8
_AROUND_CHART = 0.35
_CUT = 0.5
_TAKEN = 0.03
_RIM_LEAST = 0.3
_RIM_MOST = 0.65
_RIM_WIDTH = 4.0
_BESIDE = 4.0
_MARGIN = 0.8
_SHARED = 0.5
_BROAD = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (9, 9))
_MOST_BROAD = 0.85
_TINT = 6.0
_LIGHT = 1.9
_SPARSE = 7
SURE = 0.9
"""Worth of a region, for each swatch that stands on it in rows and columns, from which none is doubtful."""

_SURE_CELLS = 4


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
    extent : int
        Area of the box of what it was cut from.
    """

    region: Region
    islands: tuple[Blob, ...]
    radius: float
    ground: Floats
    worth: float
    cells: int
    extent: int

    @property
    def squareness(self) -> float:
        """Share that the region, with its holes and bays, fills of the smallest rectangle round it: 1 for a card."""
        whole = self.region.whole.astype(np.uint8)
        contours, _ = cv2.findContours(whole, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_SIMPLE)
        _, (wide, high), _ = cv2.minAreaRect(np.concatenate(contours))
        return float(np.count_nonzero(whole) / max(1.0, wide * high))


def judged(region: Region, sheet: LabImage, found: list[Blob] | None = None) -> Candidate:
    """Judge a region as a card's ground.

    Parameters
    ----------
    region : Region
    sheet : LabImage
    found : list of Blob, optional
        Its islands, where they are known.

    Returns
    -------
    Candidate
    """
    found = islands(region, sheet) if found is None else found
    return _of_grid(region, sheet, found, arrange(found))


def _of_grid(region: Region, sheet: LabImage, found: list[Blob], grid: Grid) -> Candidate:
    """Judge a region by its islands and their rows and columns."""
    x, y, w, h = region.box
    ground_lab = ground_of(region, sheet)
    radius = median([cell.blob.radius for cell in grid.cells]) if grid.cells else 0.0
    if not grid.cells or sum(blob.radius > 0.5 * radius for blob in found) > _MOST_ORDER:
        return Candidate(region, tuple(found), radius, ground_lab, 0.0, len(grid.cells), w * h)
    outside = sheet.outside[y : y + h, x : x + w]
    whole = region.whole
    ground = float(np.count_nonzero(region.bare) + sum(cell.blob.area for cell in grid.cells))
    ragged = min(1.0, ground / (_WHOLE * float(np.count_nonzero(whole & ~outside))))
    # What the chart, or the end of the photo, takes of it: a card lies beside the chart and within the photo.
    taken = float(np.count_nonzero(outside & whole) / np.count_nonzero(whole))
    worth = min(grid.order, _MOST_ORDER) * ragged * (1.0 - _CUT * _cut(whole, outside))
    around = _hull_of_cells(grid, region)
    if region.painted is None:  # else the swatches may reach the card's edge
        worth *= max(_framed(region.bare, whole & ~outside, 6.0), _framed(region.bare, around & ~outside, 4.0))
    worth *= _AROUND_CHART if taken > _TAKEN else 1.0
    return Candidate(region, tuple(found), radius, ground_lab, worth, len(grid.cells), w * h)


def _framed(bare: Mask, whole: Mask, depth: float) -> float:
    """Return 1 where an area has a rim of bare ground as a card has; less where its outline cuts through marks."""
    inside = cv2.copyMakeBorder(whole.astype(np.uint8), 1, 1, 1, 1, cv2.BORDER_CONSTANT, value=0)
    away = cv2.distanceTransform(inside, cv2.DIST_C, 3)[1:-1, 1:-1]
    rim = (away > depth - _RIM_WIDTH) & (away <= depth)
    share = float(np.count_nonzero(bare & rim) / max(1, int(np.count_nonzero(rim))))
    return float(np.clip((share - _RIM_LEAST) / (_RIM_MOST - _RIM_LEAST), 0.05, 1.0))


def _hull_of_cells(grid: Grid, region: Region) -> Mask:
    """Return the swatches' convex hull and a little more, in the region's box: a card may end there."""
    angle = np.linspace(0.0, 2.0 * np.pi, 12, endpoint=False)
    circle = np.stack([np.cos(angle), np.sin(angle)], axis=-1)
    points = np.concatenate([c.blob.centre + (c.blob.size / 2.0 + _BESIDE) * circle for c in grid.cells])
    canvas = np.zeros(region.bare.shape, np.uint8)
    hull = cv2.convexHull(np.rint(points - region.box[:2]).astype(np.int32))
    return np.asarray(cv2.fillConvexPoly(canvas, hull, 1) > 0)


def cropped(candidate: Candidate, sheet: LabImage) -> Candidate | None:
    """Return a region cut to the surroundings of its swatches; None where that changes little.

    Where the table has the card's colour the two are one region; the card is where the swatches are.
    """
    cells = [cell.blob for cell in arrange(list(candidate.islands)).cells]
    if len(cells) < 2:
        return None
    region = candidate.region
    margin = _MARGIN * 2.0 * candidate.radius
    near = hull_round(cells, region.box)
    around: Mask = np.asarray(cv2.distanceTransform(1 - near, cv2.DIST_L2, 5) < margin, dtype=bool)
    if np.count_nonzero(region.bare & around) > _MOST_BROAD * np.count_nonzero(region.bare):
        return None
    x, y, w, h = cv2.boundingRect(around.astype(np.uint8))
    part = Region((region.bare & around)[y : y + h, x : x + w], (region.box[0] + x, region.box[1] + y, w, h))
    return replace(judged(part, sheet), extent=candidate.extent + 1)


def broad(candidate: Candidate, sheet: LabImage) -> Candidate | None:
    """Return a region without its thin parts; None where it has few.

    The mesh of a patterned cloth that has the card's colour hangs on to the card.
    """
    bare = candidate.region.bare.astype(np.uint8)
    opened = cv2.morphologyEx(np.pad(bare, 1), cv2.MORPH_OPEN, _BROAD)[1:-1, 1:-1]
    count, labels, stats, _ = cv2.connectedComponentsWithStats(opened, connectivity=4)
    if count < 2:
        return None
    largest = 1 + int(np.argmax(stats[1:, cv2.CC_STAT_AREA]))
    x, y, w, h, area = (int(v) for v in stats[largest])
    if area > _MOST_BROAD * np.count_nonzero(bare) or min(w, h) < 12:
        return None
    left, top = candidate.region.box[:2]
    return judged(Region(labels[y : y + h, x : x + w] == largest, (left + x, top + y, w, h)), sheet)


def united(one: Candidate, other: Candidate, sheet: LabImage) -> Candidate | None:
    """Return two regions as one, where they can be one ground of which each carries swatches.

    A hard shadow cuts a card in two.
    """
    a, b = one.region, other.region
    if not same_ground(one, other) or not other.islands:
        return None
    x, y = min(a.box[0], b.box[0]), min(a.box[1], b.box[1])
    right, low = max(a.box[0] + a.box[2], b.box[0] + b.box[2]), max(a.box[1] + a.box[3], b.box[1] + b.box[3])
    bare = np.zeros((low - y, right - x), dtype=bool)
    overlap = 0.0
    for region in (a, b):
        left, top, w, h = region.box[0] - x, region.box[1] - y, *region.box[2:]
        part = bare[top : top + h, left : left + w]
        overlap = float(np.count_nonzero(part & region.bare)) / float(np.count_nonzero(region.bare))
        part |= region.bare
    if overlap > _SHARED:
        return None
    taken = np.zeros(bare.shape, dtype=bool)
    kept = []
    for island in (*one.islands, *other.islands):
        left, top = island.corner[0] - x, island.corner[1] - y
        part = taken[top : top + island.mask.shape[0], left : left + island.mask.shape[1]]
        if not (part & island.mask).any():
            part |= island.mask
            kept.append(island)
    grid = arrange(kept)
    if grid.order <= max(one.worth, other.worth):  # it will not be worth more
        return None
    return _of_grid(Region(bare, (x, y, right - x, low - y)), sheet, kept, grid)


def _cut(whole: Mask, outside: Mask) -> float:
    """Return the share of a region's outline along which the photo, or the chart, ends it."""
    rim: Mask = np.asarray(cv2.morphologyEx(whole.astype(np.uint8), cv2.MORPH_GRADIENT, np.ones((3, 3), np.uint8)) > 0)
    near = cv2.dilate(np.pad(outside, 1, constant_values=True).astype(np.uint8), np.ones((7, 7), np.uint8))[1:-1, 1:-1]
    frame = np.zeros_like(rim)
    frame[3:-3, 3:-3] = True
    edge = near.astype(bool) & (outside.any() | frame)
    return min(1.0, float(np.count_nonzero(rim & edge & frame) / max(1, int(np.count_nonzero(rim)))))


def without_doubt(candidate: Candidate) -> bool:
    """Tell whether a region is a card without doubt: all its marks stand in rows and columns, and its rim is bare."""
    return candidate.cells >= _SURE_CELLS and candidate.worth >= SURE * candidate.cells


def ground_of(region: Region, sheet: LabImage) -> Floats:
    """Return the colour of a region in CIELAB units, shape (3,)."""
    x, y, w, _ = region.box
    rows, columns = np.divmod(np.flatnonzero(region.bare)[::_SPARSE], w)
    return lab_of(medians(sheet.lab[rows + y, columns + x]))


def same_ground(one: Candidate, other: Candidate) -> bool:
    """Tell whether two regions could be one ground under more or less light."""
    return like_ground(one.ground, other.ground)


def like_ground(one: Floats, other: Floats) -> bool:
    """Tell whether two colours could be one under more or less light: L* + 16, a* and b* scale alike."""
    light = (one[0] + 16.0) / (other[0] + 16.0)
    apart = float(np.linalg.norm(one[1:] - other[1:] * light))
    return apart < _TINT and 1 / _LIGHT < light < _LIGHT
