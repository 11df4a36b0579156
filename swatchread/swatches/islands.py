"""Judging a quiet region as a card's ground by its islands alone: the holes that swatches leave in it.

What lies on a card is a hole of the card, not of the table: for the table the whole card is one hole. So the islands tell
the card from what is under it, and at the cost of following outlines.
"""

from __future__ import annotations

import cv2
import numpy as np

from swatchread.swatches.blobs import Blob
from swatchread.swatches.grid import arrange
from swatchread.swatches.ground import Region, Sheet
from swatchread.swatches.touching import split

_LEAST_AREA = 30.0
_ROUND = 0.25
"""Least area of an island over that of a circle of its outline's length."""

_MOST_ISLANDS = 400
_MOST_ORDER = 100.0
_WHOLE = 0.8
_AROUND_CHART = 0.35
_CUT = 0.5


def island_worth(region: Region, sheet: Sheet) -> float:
    """Return how well a region does as a card's ground.

    Parameters
    ----------
    region : Region
    sheet : Sheet

    Returns
    -------
    float
        About the number of its islands that stand in rows and columns, less where the region is ragged, goes round
        the chart or ends with the photo; 0 where there are none.
    """
    grid = arrange(islands(region, sheet))
    if not grid.cells:
        return 0.0
    x, y, w, h = region.box
    outside = sheet.outside[y : y + h, x : x + w]
    hull = cv2.convexHull(np.concatenate(cv2.findContours(region.bare.astype(np.uint8), 0, 2)[0]))
    whole = cv2.fillConvexPoly(np.zeros((h, w), np.uint8), hull, 1) > 0
    ground = float(region.bare.sum() + sum(cell.blob.area for cell in grid.cells))
    ragged = min(1.0, ground / (_WHOLE * float((whole & ~outside).sum())))
    # What the chart, or the end of the photo, takes of it: a card lies beside the chart and within the photo.
    taken = float((outside & whole).sum() / whole.sum())
    rim = cv2.morphologyEx(whole.astype(np.uint8), cv2.MORPH_GRADIENT, np.ones((3, 3), np.uint8)) > 0
    near = cv2.dilate(np.pad(outside, 1, constant_values=True).astype(np.uint8), np.ones((7, 7), np.uint8))[1:-1, 1:-1]
    frame = np.zeros_like(rim)
    frame[3:-3, 3:-3] = True
    edge = near.astype(bool) & (outside.any() | frame)
    cut = min(1.0, float((rim & edge & frame).sum() / max(1, rim.sum())))
    return min(grid.order, _MOST_ORDER) * ragged * (1.0 - _CUT * cut) * (_AROUND_CHART if taken > 0.03 else 1.0)


def islands(region: Region, sheet: Sheet) -> list[Blob]:
    """Return the holes of a region that could be swatches.

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
    contours, tree = cv2.findContours(region.bare.astype(np.uint8), cv2.RETR_CCOMP, cv2.CHAIN_APPROX_NONE)
    if tree is None:
        return []
    holes = [c for c, place in zip(contours, tree[0], strict=True) if place[3] >= 0 and len(c) > 12]
    holes = [c for c in holes if cv2.contourArea(c) > max(_LEAST_AREA, _ROUND * len(c) ** 2 / (4 * np.pi))]
    if len(holes) > _MOST_ISLANDS:
        return []
    outside, colours = sheet.outside[y : y + h, x : x + w], sheet.lab[y : y + h, x : x + w]
    found: list[Blob] = []
    for hole in holes:
        left, top, wide, high = cv2.boundingRect(hole)
        inside = slice(top, top + high), slice(left, left + wide)
        if outside[inside][high // 2, wide // 2]:
            continue
        mask = np.zeros((high, wide), np.uint8)
        cv2.drawContours(mask, [hole - [left, top]], -1, 1, cv2.FILLED)
        for part, (px, py) in split(mask > 0, colours[inside]):
            found.append(_blob(part, (x + left + px, y + top + py)))
    return found


def _blob(mask: np.ndarray, corner: tuple[int, int]) -> Blob:
    h, w = mask.shape
    padded = np.pad(mask.astype(np.uint8), 1)
    radius = float(cv2.distanceTransform(padded, cv2.DIST_L2, 3).max())
    contours, _ = cv2.findContours(padded, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_SIMPLE)
    hull = max(float(cv2.contourArea(cv2.convexHull(np.concatenate(contours)))), 1.0)
    return Blob(
        centre=np.array([corner[0] + (w - 1) / 2.0, corner[1] + (h - 1) / 2.0]),
        size=np.array([w, h], dtype=np.float64),
        radius=radius,
        mask=mask,
        corner=corner,
        lab=np.zeros(3),
        off=99.0,
        sharp=1.0,
        solid=min(1.0, float(mask.sum()) / hull),
        border=0.0,
    )
