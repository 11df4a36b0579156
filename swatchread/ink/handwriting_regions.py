"""The handwriting of each swatch: where it stands, and a rectified picture of it."""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

from swatchread.card.card_find import CardFind
from swatchread.colour.cielab import Floats
from swatchread.ink.ink_strokes import InkView, see_ink
from swatchread.ink.orientation import SIDES, ink_sides, only_on
from swatchread.photo import Photo
from swatchread.photo import opencv as cv2
from swatchread.photo.derived_pictures import for_the_eye
from swatchread.photo.masks import Picture, pieces_of

# Measured on development scenes. Lengths are in extents of a swatch.

_LEAST_SHARE = 0.3
"""How surely writing must stand on one side of the swatches, from 0 to 1."""

_START, _BREAK = 0.95, 0.6
"""How far from its swatch writing starts at the latest, and the gap that ends it."""

_BEFORE, _FAR, _ASIDE = 0.2, 2.4, 0.6
"""How far a mark may start before the end of its swatch, how far beyond it, and how far off its line."""

_LEAST_INK = 4e-3
"""Area of ink, square extents, that makes a writing: a question mark has about twice as much."""

_MARGIN = 0.12
"""Margin round the writing in its picture."""

_LONGEST, _LEAST_HEIGHT = 1200, 96
"""Pixels of a picture of writing: of its longer side at most, and of its height at least."""


def find_writing(card: CardFind) -> dict[tuple[int, int], Floats]:
    """Find the writing of each swatch, on that side of the swatches where the card has most of it.

    Parameters
    ----------
    card : CardFind
        Standing upright, so that its writing can be read along its rows.

    Returns
    -------
    dict
        (row, column) -> corners of the writing in photo pixels, shape (4, 2), from its top left clockwise as it is
        read. Swatches without writing are left out.
    """
    view = see_ink(card)
    regions = writing_boxes(view)
    return {
        (cell.row, cell.column): view.photo_points(regions[k][[[0, 1], [2, 1], [2, 3], [0, 3]]])
        for k, cell in enumerate(card.grid.cells)
        if k in regions
    }


def writing_boxes(view: InkView) -> dict[int, Floats]:
    """Return the box (left, top, right, bottom in the view) of each swatch's writing, by the swatch's number."""
    sides = ink_sides(view)
    side = max(range(4), key=lambda s: only_on(sides, s))
    if sides[side] < _LEAST_SHARE:
        return {}
    marks = pieces_of(view.ink, connectivity=8)[1][1:].astype(np.float64)
    if not len(marks):
        return {}
    letters = np.concatenate([marks[:, :2], marks[:, :2] + marks[:, 2:4]], axis=1)
    owner, start = _owners(letters, view, np.array(SIDES[side]))
    found: dict[int, Floats] = {}
    for k in range(len(view.boxes)):
        mine = np.flatnonzero(owner == k)
        mine = mine[_unbroken(start[mine], letters[mine], view.extent, SIDES[side])]
        if marks[mine, cv2.CC_STAT_AREA].sum() < _LEAST_INK * view.extent**2:
            continue
        box = np.concatenate([letters[mine, :2].min(axis=0), letters[mine, 2:].max(axis=0)])
        margin = _MARGIN * view.extent * np.array([-1.0, -1.0, 1.0, 1.0])
        high, wide = view.ink.shape
        found[k] = np.clip(box + margin, 0, [wide - 1, high - 1, wide - 1, high - 1])
    return found


def _owners(letters: Floats, view: InkView, way: npt.NDArray[np.int64]) -> tuple[npt.NDArray[np.int64], Floats]:
    """Return the number of the swatch to which each mark belongs, or -1, and how far from it the mark starts.

    A mark belongs to the last swatch before it in its row (or column), as one reads.
    """
    middle = (letters[:, None, :2] + letters[:, None, 2:]) / 2.0
    centre = (view.boxes[None, :, :2] + view.boxes[None, :, 2:]) / 2.0
    half = (view.boxes[None, :, 2:] - view.boxes[None, :, :2]) / 2.0
    apart = middle - centre
    half_letter = (letters[:, None, 2:] - letters[:, None, :2]) / 2.0
    beyond = apart @ way - half @ np.abs(way) - half_letter @ np.abs(way)
    aside = np.abs(apart @ way[::-1]) - half @ np.abs(way[::-1])
    reachable = (beyond > -_BEFORE * view.extent) & (beyond < _FAR * view.extent) & (aside < _ASIDE * view.extent)
    cost = np.where(reachable, np.maximum(beyond, 0.0) + 2.0 * np.maximum(aside, 0.0), np.inf)
    best = np.argmin(cost, axis=1)
    index = np.arange(len(letters))
    return np.where(np.isfinite(cost[index, best]), best, -1), beyond[index, best]


def _unbroken(start: Floats, letters: Floats, extent: float, way: tuple[int, int]) -> npt.NDArray[np.intp]:
    """Return the marks that follow on from the swatch without a wide gap."""
    if not len(start):
        return np.zeros(0, dtype=np.intp)
    length = letters[:, 2] - letters[:, 0] if way[0] else letters[:, 3] - letters[:, 1]
    order = np.argsort(start, kind="stable")
    if start[order[0]] > _START * extent:
        return np.zeros(0, dtype=np.intp)
    ends = np.maximum.accumulate((start + length)[order])
    gaps = np.flatnonzero(start[order][1:] - ends[:-1] > _BREAK * extent)
    return order[: gaps[0] + 1] if len(gaps) else order


def picture_of(card: CardFind, corners: Floats) -> Picture:
    """Draw a piece of the card upright, as fine as the photo shows it.

    Parameters
    ----------
    card : CardFind
    corners : ndarray, shape (4, 2)
        From `find_writing`.

    Returns
    -------
    ndarray, shape (h, w, 3), uint8, RGB
        In the photo's own encoding.
    """
    return cut_out(card.plane.sample.find.photo, corners)


def cut_out(photo: Photo, corners: Floats) -> Picture:
    """Draw a flat thing in a photo upright; see `picture_of`."""
    top, right, bottom, left = np.hypot(*(np.roll(corners, -1, axis=0) - corners).T).tolist()
    wide, high = max(top, bottom, 2.0), max(left, right, 2.0)
    scale = min(max(1.0, _LEAST_HEIGHT / high), _LONGEST / max(wide, high))
    width, height = max(2, round(wide * scale)), max(2, round(high * scale))
    frame = np.array([[0, 0], [width - 1, 0], [width - 1, height - 1], [0, height - 1]], dtype=np.float32)
    to_photo = cv2.getPerspectiveTransform(frame, corners.astype(np.float32))
    low = np.maximum(np.floor(corners.min(axis=0)).astype(int) - 2, 0)
    high_end = np.ceil(corners.max(axis=0)).astype(int) + 3
    piece: npt.NDArray[Any] = photo.pixels[low[1] : high_end[1], low[0] : high_end[0]]
    shift = np.array([[1.0, 0, -low[0]], [0, 1.0, -low[1]], [0, 0, 1.0]])
    # Cubic interpolation takes four times as long, and makes a difference only where letters are enlarged.
    flags = cv2.WARP_INVERSE_MAP | (cv2.INTER_CUBIC if scale > 1.0 else cv2.INTER_LINEAR)
    drawn = cv2.warpPerspective(piece, shift @ to_photo, (width, height), flags=flags, borderMode=cv2.BORDER_REPLICATE)
    return for_the_eye(photo, drawn)
