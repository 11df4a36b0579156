"""Judging a quiet region as a card's ground by its islands alone: the holes that swatches leave in it.

What lies on a card is a hole of the card, not of the table: for the table the whole card is one hole. So the islands tell
the card from what is under it, and at the cost of following outlines.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import cv2
import numpy as np
import numpy.typing as npt

from swatchread.colour import Floats
from swatchread.swatches.blobs import Blob
from swatchread.swatches.grid import arrange
from swatchread.swatches.ground import Box, Mask, Picture, Region, Sheet, hull_of
from swatchread.swatches.touching import depth_of, split

_LEAST_AREA = 30.0
_FULL = 0.3
"""Least share of its box that an island fills."""

_SQUARE = np.ones((7, 7), np.uint8)
_OVER_GRAIN = 1.5
_LEAST_RADIUS = 3.2
_ENOUGH = 250

_LEAST_OFF = 2.5
_RIM = 4
_FILLED = 0.4
_WHOLLY = 0.9
_ZERO = np.array([0.0, 128.0, 128.0])
_SCALE = np.array([1 / 2.55, 1.0, 1.0])
_MOST_ISLANDS = 300
_MOST_ORDER = 100.0
_WHOLE = 0.8
_AROUND_CHART = 0.35
_CUT = 0.5
_TAKEN = 0.03
_RIM_LEAST = 0.3
_RIM_MOST = 0.65
_CORNERS = np.array([[0.0, 0.0], [1.0, 0.0], [0.0, 1.0], [1.0, 1.0]])
_MARGIN = 0.8
_SHARED = 0.5
_BROAD = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (9, 9))
_MOST_BROAD = 0.85
_TINT = 6.0
_LIGHT = 1.9


def same_ground(one: Candidate, other: Candidate) -> bool:
    """Tell whether two regions could be one ground under more or less light: L* + 16, a* and b* scale alike."""
    light = (one.ground[0] + 16.0) / (other.ground[0] + 16.0)
    apart = float(np.linalg.norm(one.ground[1:] - other.ground[1:] * light))
    return apart < _TINT and 1 / _LIGHT < light < _LIGHT


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
    """

    region: Region
    islands: tuple[Blob, ...]
    radius: float
    ground: Floats
    worth: float


def judged(region: Region, sheet: Sheet, found: list[Blob] | None = None) -> Candidate:
    """Judge a region as a card's ground.

    Parameters
    ----------
    region : Region
    sheet : Sheet
    found : list of Blob, optional
        Its islands, where they are known.

    Returns
    -------
    Candidate
    """
    found = islands(region, sheet) if found is None else found
    grid = arrange(found)
    x, y, w, h = region.box
    ground_lab = (np.median(sheet.lab[y : y + h, x : x + w][region.bare][::7], axis=0) - _ZERO) * _SCALE
    alike = grid.cells and sum(
        blob.radius > 0.5 * float(np.median([c.blob.radius for c in grid.cells])) for blob in found
    )
    if not grid.cells or alike > _MOST_ORDER:
        return Candidate(region, tuple(found), 0.0, ground_lab, 0.0)
    outside = sheet.outside[y : y + h, x : x + w]
    whole = hull_of(region.bare)
    ground = float(region.bare.sum() + sum(cell.blob.area for cell in grid.cells))
    ragged = min(1.0, ground / (_WHOLE * float((whole & ~outside).sum())))
    # What the chart, or the end of the photo, takes of it: a card lies beside the chart and within the photo.
    taken = float((outside & whole).sum() / whole.sum())
    worth = min(grid.order, _MOST_ORDER) * ragged * (1.0 - _CUT * _cut(whole, outside))
    radius = float(np.median([cell.blob.radius for cell in grid.cells]))
    worth *= _framed(region.bare, whole & ~outside)
    return Candidate(region, tuple(found), radius, ground_lab, worth * (_AROUND_CHART if taken > _TAKEN else 1.0))


def _framed(bare: Mask, whole: Mask) -> float:
    """Return 1 where a region has a rim of bare ground, as a card has; less where its outline cuts through marks."""
    rim = whole & (cv2.erode(np.pad(whole.astype(np.uint8), 1), np.ones((13, 13), np.uint8))[1:-1, 1:-1] == 0)
    rim &= cv2.erode(np.pad(whole.astype(np.uint8), 1), np.ones((5, 5), np.uint8))[1:-1, 1:-1] > 0
    share = float((bare & rim).sum() / max(1, rim.sum()))
    return float(np.clip((share - _RIM_LEAST) / (_RIM_MOST - _RIM_LEAST), 0.05, 1.0))


def cropped(candidate: Candidate, sheet: Sheet) -> Candidate | None:
    """Return a region cut to the surroundings of its swatches; None where that changes little.

    Where the table has the card's colour the two are one region; the card is where the swatches are.
    """
    cells = [cell.blob for cell in arrange(list(candidate.islands)).cells]
    if len(cells) < 2:
        return None
    region = candidate.region
    low = np.array([b.corner for b in cells]) - region.box[:2]
    corners = low[:, None] + np.array([b.size for b in cells])[:, None] * _CORNERS
    margin = _MARGIN * 2.0 * candidate.radius
    h, w = region.bare.shape
    near = cv2.fillConvexPoly(np.zeros((h, w), np.uint8), cv2.convexHull(corners.reshape(-1, 2).astype(np.int32)), 1)
    near = cv2.distanceTransform(1 - near, cv2.DIST_L2, 5) < margin
    if (region.bare & near).sum() > 0.8 * region.bare.sum():
        return None
    x, y, w, h = cv2.boundingRect(near.astype(np.uint8))
    part = Region((region.bare & near)[y : y + h, x : x + w], (region.box[0] + x, region.box[1] + y, w, h))
    return judged(part, sheet)


def broad(candidate: Candidate, sheet: Sheet) -> Candidate | None:
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
    if area > _MOST_BROAD * bare.sum() or min(w, h) < 12:
        return None
    left, top = candidate.region.box[:2]
    return judged(Region(labels[y : y + h, x : x + w] == largest, (left + x, top + y, w, h)), sheet)


def united(one: Candidate, other: Candidate, sheet: Sheet) -> Candidate | None:
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
        overlap = float((part & region.bare).sum()) / float(region.bare.sum())
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
    return judged(Region(bare, (x, y, right - x, low - y)), sheet, kept)


def _cut(whole: Mask, outside: Mask) -> float:
    """Return the share of a region's outline along which the photo, or the chart, ends it."""
    rim = cv2.morphologyEx(whole.astype(np.uint8), cv2.MORPH_GRADIENT, np.ones((3, 3), np.uint8)) > 0
    near = cv2.dilate(np.pad(outside, 1, constant_values=True).astype(np.uint8), np.ones((7, 7), np.uint8))[1:-1, 1:-1]
    frame = np.zeros_like(rim)
    frame[3:-3, 3:-3] = True
    edge = near.astype(bool) & (outside.any() | frame)
    return min(1.0, float((rim & edge & frame).sum() / max(1, rim.sum())))


def islands(region: Region, sheet: Sheet) -> list[Blob]:
    """Return the holes of a region that could be swatches, and the bays that swatches near its edge cut into it.

    Parameters
    ----------
    region : Region
    sheet : Sheet

    Returns
    -------
    list of Blob
        Empty where there are so many that the region is a texture.
    """
    x, y, w, h = region.box
    outside, colours = sheet.outside[y : y + h, x : x + w], sheet.lab[y : y + h, x : x + w]
    inner = cv2.erode(np.pad(hull_of(region.bare).astype(np.uint8), 1), _SQUARE)[1:-1, 1:-1]
    shore = cv2.morphologyEx(inner, cv2.MORPH_GRADIENT, np.ones((3, 3), np.uint8)) > 0
    holes = (inner > 0) & ~region.bare & ~outside
    _, labels, stats, _ = cv2.connectedComponentsWithStats(holes.astype(np.uint8), connectivity=4)
    boxes = stats[:, 2] * stats[:, 3]
    broad = (stats[:, 2:4] > 2 * _LEAST_RADIUS).all(axis=1)
    chosen = np.flatnonzero(broad & (stats[:, cv2.CC_STAT_AREA] > np.maximum(_LEAST_AREA, _FULL * boxes)))
    chosen = chosen[chosen > 0]
    if len(chosen) > _MOST_ISLANDS:
        return []
    found: list[Blob] = []
    for index in chosen:
        left, top, wide, high = (int(v) for v in stats[index, :4])
        inside = slice(top, top + high), slice(left, left + wide)
        hole = labels[inside] == index
        if depth_of(hole).max() < _LEAST_RADIUS:  # writing, mostly
            continue
        for part, (px, py) in split(hole, colours[inside]):
            island = _described(part, (left + px, top + py), region, colours, shore)
            if island is not None:
                found.append(island)
    return found


def _described(mask: Mask, corner: tuple[int, int], region: Region, colours: Picture, shore: Mask) -> Blob | None:
    """Return an island as a painted area; None where its colour is that of the ground round it, as in a drawn frame."""
    h, w = mask.shape
    padded = cv2.copyMakeBorder(mask.astype(np.uint8), _RIM, _RIM, _RIM, _RIM, cv2.BORDER_CONSTANT, value=0)
    depth = cv2.distanceTransform(padded, cv2.DIST_L2, 3)
    ring = cv2.dilate(padded, np.ones((2 * _RIM + 1, 2 * _RIM + 1), np.uint8)) - padded > 0
    x0, y0 = max(0, corner[0] - _RIM), max(0, corner[1] - _RIM)
    x1, y1 = min(region.bare.shape[1], corner[0] + w + _RIM), min(region.bare.shape[0], corner[1] + h + _RIM)
    dx, dy = x0 - corner[0] + _RIM, y0 - corner[1] + _RIM
    view = slice(dy, dy + y1 - y0), slice(dx, dx + x1 - x0)
    seen = colours[y0:y1, x0:x1]
    core = _some(seen[depth[view] > 0.4 * depth.max()])
    around = _some(seen[ring[view] & region.bare[y0:y1, x0:x1]])
    if depth.max() < _LEAST_RADIUS or not len(core) or not len(around):
        return None
    ground = np.median(around, axis=0)
    grain = float(np.median(np.linalg.norm((around - ground) * _SCALE, axis=1)))
    apart = np.linalg.norm((core - ground) * _SCALE, axis=1)
    off = float(np.median(apart))
    # Between the strokes of writing lies the ground.
    if (
        off < max(_LEAST_OFF, _OVER_GRAIN * grain)
        or float((apart > _FILLED * np.quantile(apart, 0.9)).mean()) < _WHOLLY
    ):
        return None
    contours, _ = cv2.findContours(padded, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    length = sum(len(contour) for contour in contours)
    ashore = float((shore[corner[1] : corner[1] + h, corner[0] : corner[0] + w] & mask).sum())
    hull = max(float(cv2.contourArea(cv2.convexHull(np.concatenate(contours)))), 1.0)
    x, y = corner[0] + region.box[0], corner[1] + region.box[1]
    return Blob(
        centre=np.array([x + (w - 1) / 2.0, y + (h - 1) / 2.0]),
        size=np.array([w, h], dtype=np.float64),
        radius=float(depth.max()),
        mask=mask,
        corner=(x, y),
        lab=(np.median(core, axis=0) - _ZERO) * _SCALE,
        off=off,
        sharp=1.0,
        solid=min(1.0, float(mask.sum()) / hull),
        border=min(1.0, ashore / length),
    )


def _some(pixels: npt.NDArray[np.uint8]) -> npt.NDArray[np.uint8]:
    return pixels[:: max(1, len(pixels) // _ENOUGH)]


def enlarged(blob: Blob, box: Box) -> Blob | None:
    """Return a painted area of a sheet as it is within a box of a sheet of twice the size; None where it is not there.

    Parameters
    ----------
    blob : Blob
    box : tuple of int
        x, y, width, height.

    Returns
    -------
    Blob or None
    """
    x, y = 2 * blob.corner[0] - box[0], 2 * blob.corner[1] - box[1]
    mask = np.repeat(np.repeat(blob.mask, 2, axis=0), 2, axis=1)[max(0, -y) :, max(0, -x) :]
    x, y = max(0, x), max(0, y)
    mask = mask[: max(0, box[3] - y), : max(0, box[2] - x)]
    if mask.sum() < 3 * blob.area:
        return None
    h, w = mask.shape
    corner = (x + box[0], y + box[1])
    centre = np.array([corner[0] + (w - 1) / 2.0, corner[1] + (h - 1) / 2.0])
    size = np.array([w, h], dtype=np.float64)
    return replace(blob, centre=centre, size=size, radius=2.0 * blob.radius, mask=mask, corner=corner)
