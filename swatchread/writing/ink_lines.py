"""A crop of handwriting is cut into its lines."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import numpy.typing as npt
from scipy import ndimage
from skimage.filters import threshold_otsu

from swatchread.photo import opencv as cv2

Picture = npt.NDArray[np.uint8]
Floats = npt.NDArray[np.float64]

_LEAST_CONTRAST = 0.08
"""Darkness of ink against its paper, from 0 to 1, below which a crop holds none (faint pencil has 0.15)."""

_VALLEY = 0.25
"""Ink in the emptiest row between two lines, as a share of that in the fuller rows round it (drawn hands)."""

_LEAST_LINE = 0.35
"""Height of a line against the tallest in the crop; less is an accent or an underline (drawn hands)."""

_ALONG, _LONG = 0.08, 0.6
"""Share of a rim along which, and of the crop's width over which, something dark is no letter (choice)."""

_STROKE = 8
"""Height of the head of a card, in widths of the broadest stroke (choice)."""

_EDGE = 2
"""Pixels round it that go with it (choice)."""

_SLOPES = np.linspace(-0.1, 0.1, 21)
"""Slopes of the lines that are tried: 6 degrees up or down."""

_MARGIN = 0.15
"""Paper kept round a line, as a share of its height."""


def lines_of(crop: Picture, *, within: bool = False) -> tuple[Picture, ...]:
    """Cut a crop into lines of writing, from the top.

    Parameters
    ----------
    crop : ndarray, shape (h, w, 3), uint8, RGB
        Writing that stands upright.
    within : bool
        Whether all writing lies within the crop, so that what reaches in from its rim is none: the card's edge, paint,
        a frame.

    Returns
    -------
    tuple of ndarray, shape (h, w), uint8
        Ink dark on white. What reaches into a line from its neighbours is left out. Empty if there is no ink.
    """
    dark = _strokes(crop) if within else _darkness(crop)
    if not dark.size or dark.max() < _LEAST_CONTRAST:
        return ()
    if within:
        dark = _without_rim(dark)
    dark = _levelled(dark)
    ink = dark > max(threshold_otsu(dark), _LEAST_CONTRAST / 2)
    labels, count = ndimage.label(ink, structure=np.ones((3, 3)))
    if not count:
        return ()
    boxes = ndimage.find_objects(labels)
    cuts = _cuts(ink.sum(axis=1).astype(np.float64))
    # A letter belongs to the line in which most of it stands, so that g and y stay whole.
    middle = np.array([_middle_row(labels[box] == k + 1) + box[0].start for k, box in enumerate(boxes)])
    line = np.searchsorted(cuts, middle)
    lines = []
    for number in range(len(cuts) + 1):
        mine = np.flatnonzero(line == number)
        if len(mine):
            lines.append(_line(dark, np.isin(labels, mine + 1), ink))
    highest = max(len(one) for one in lines)
    return tuple(one for one in lines if len(one) >= _LEAST_LINE * highest)


def _darkness(crop: Picture) -> Floats:
    """Return how much darker each pixel is than the paper round it, 0 to 1, in the channel that shows the ink best."""
    seen = crop.astype(np.float32)
    reach = max(9, min(crop.shape[:2]) // 2) | 1
    paper = cv2.GaussianBlur(cv2.dilate(seen, np.ones((reach, reach))), (0, 0), reach / 3)
    share: Floats = (1.0 - seen / np.maximum(paper, 1.0)).max(axis=2).astype(np.float64)
    return np.clip(share, 0.0, 1.0)


def _strokes(crop: Picture) -> Floats:
    """Return how much darker thin strokes are than what is on both sides, 0 to 1; shades and edges count little."""
    seen = crop.astype(np.float32)
    reach = max(9, len(crop) // _STROKE) | 1
    closed = cv2.morphologyEx(seen, cv2.MORPH_CLOSE, cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (reach, reach)))
    share: Floats = (1.0 - seen / np.maximum(closed, 1.0)).max(axis=2).astype(np.float64)
    return np.clip(share, 0.0, 1.0)


def _without_rim(dark: Floats) -> Floats:
    """Return the darkness without what reaches in from the rim, and without long edges that touch it."""
    ink = dark > max(threshold_otsu(dark), _LEAST_CONTRAST / 2)
    labels, count = ndimage.label(ndimage.binary_dilation(ink, iterations=_EDGE), structure=np.ones((3, 3)))
    if not count:
        return dark
    rims = (labels[0], labels[-1], labels[:, 0], labels[:, -1])
    along = np.max([np.bincount(rim, minlength=count + 1) / len(rim) for rim in rims], axis=0)
    wide = np.array([0.0, *(box[1].stop - box[1].start for box in ndimage.find_objects(labels))]) / dark.shape[1]
    strange = (along > _ALONG) | (wide > _LONG) | ((along > 0) & (wide > _LONG / 2))
    strange[0] = False
    return np.where(strange[labels], 0.0, dark)


def _levelled(dark: Floats) -> Floats:
    """Return the writing sheared until its lines lie level: its rows are then fullest and emptiest."""
    ink = (dark > threshold_otsu(dark)).astype(np.float32)
    sharpness = []
    for slope in _SLOPES:
        rows = _sheared(ink, slope).sum(axis=1)
        sharpness.append(float((np.diff(ndimage.gaussian_filter1d(rows, max(1.0, len(rows) / 60))) ** 2).sum()))
    return _sheared(dark, _SLOPES[int(np.argmax(sharpness))])


def _sheared(picture: npt.NDArray[Any], slope: float) -> npt.NDArray[Any]:
    """Move each column up by its share of a slope; the picture grows so that nothing is cut off."""
    high, wide = picture.shape
    reach = abs(slope) * wide
    move = np.array([[1.0, 0.0, 0.0], [-slope, 1.0, reach if slope > 0 else 0.0]])
    drawn: npt.NDArray[Any] = cv2.warpAffine(picture, move, (wide, high + math.ceil(reach)))
    return drawn


def _middle_row(mask: npt.NDArray[np.bool_]) -> float:
    rows = mask.sum(axis=1)
    return float((rows * np.arange(len(rows))).sum() / rows.sum())


def _cuts(profile: Floats) -> Floats:
    """Return the rows between lines: valleys of ink that are deep beside the fuller rows above and below."""
    smooth = ndimage.gaussian_filter1d(profile, max(1.0, len(profile) / 60))
    lowest = np.flatnonzero((smooth <= np.roll(smooth, 1)) & (smooth < np.roll(smooth, -1)))
    above, below = np.maximum.accumulate(smooth), np.maximum.accumulate(smooth[::-1])[::-1]
    kept: list[int] = []
    for row in lowest:
        if not 0 < row < len(smooth) - 1:
            continue
        start = kept[-1] if kept else 0
        before = smooth[start : row + 1].max()
        if smooth[row] < _VALLEY * min(before, below[row]) and above[row] > 0:
            kept.append(int(row))
    return np.array(kept, dtype=np.float64)


def _line(dark: Floats, mine: npt.NDArray[np.bool_], ink: npt.NDArray[np.bool_]) -> Picture:
    rows, columns = np.flatnonzero(mine.any(axis=1)), np.flatnonzero(mine.any(axis=0))
    margin = max(2, round(_MARGIN * (rows[-1] - rows[0] + 1)))
    top, bottom = max(rows[0] - margin, 0), rows[-1] + margin + 1
    left, right = max(columns[0] - margin, 0), columns[-1] + margin + 1
    others = ndimage.binary_dilation(ink & ~mine, iterations=2) & ~mine
    shown = np.where(others, 0.0, dark)[top:bottom, left:right]
    strongest = max(float(np.percentile(dark[mine], 90)), 1e-6)
    return np.round(255.0 * (1.0 - np.clip(shown / strongest, 0.0, 1.0))).astype(np.uint8)
