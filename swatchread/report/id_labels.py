"""Places of the ids on the marked photo: beside the paint, off the handwriting, and alike for most swatches.

Where no place beside a swatch is plainly its own, the id stands inside it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont

from swatchread.photo import opencv as cv2
from swatchread.report.label_placement import Box, places_beside

Picture = NDArray[np.uint8]
Sums = NDArray[np.float64]
Points = NDArray[np.float64]

_POINTS: Final = 24
"""Points on a swatch's outline from which distances are taken: a gap is true to a tenth of the swatch's width."""

_SIZES: Final = (1.0, 0.85, 0.7, 0.6, 0.5, 0.42)
"""Sizes of the letters to try in turn, as shares of the full size: swatches may stand too close for it."""

_TOLERATED: Final = 0.01
"""Share of a label that may be covered."""

_COVER, _INK, _DISTANCE = 1000.0, 40.0, 10.0
"""What a place costs: for all of it covered, for writing under it, and for a letter's height away from its swatch. They
only rank: never cover paint, rather stand farther off than on writing (choice)."""

_INKED: Final = 1.4, 1.0
"""Factor and summand. A place whose edges are stronger than the quietest place's times the factor plus the summand has
writing under it: on bare paper a place has 1.6 to 3, with a letter or two 4 and more (four simulated cards)."""

_SMALLER_OUTSIDE: Final = 0.7
"""Share of the full size down to which letters shrink to stand beside the paint and off the writing. From there on they
may stand inside the paint."""

_INSIDE: Final = 30.0
"""What a place inside the paint costs: less than writing under the id."""

_OWN: Final = 2.0
"""An id must stand at least so many times as far from every other swatch as from its own (choice)."""

_LEADER: Final = 0.5
"""Letter heights between an id and its swatch from which on a line joins them."""

_STRONG: Final = 60
"""Strongest edge that counts, of 255: a black line is no worse than a grey one."""

_LIGHT, _DARK = (255, 255, 255), (0, 0, 0)


@dataclass(frozen=True)
class Surroundings:
    """What a label must not cover, as running sums over the picture.

    Attributes
    ----------
    paint : numpy.ndarray, shape (H + 1, W + 1), int32
        Of a mask that is 1 where paint lies.
    edges : numpy.ndarray, shape (H + 1, W + 1), int32
        Of the strength of edges: handwriting, the card's rim, the table's grain.
    """

    paint: NDArray[np.int32]
    edges: NDArray[np.int32]


def surroundings(image: Picture, paint: Picture) -> Surroundings:
    """Sum up what labels must not cover.

    Parameters
    ----------
    image : numpy.ndarray, shape (H, W, 3), uint8
        The bare photo.
    paint : numpy.ndarray, shape (H, W), uint8
        1 where paint lies, else 0.

    Returns
    -------
    Surroundings
    """
    grey = cv2.cvtColor(image, cv2.COLOR_RGB2GRAY)
    edges = np.minimum(cv2.convertScaleAbs(cv2.Laplacian(grey, cv2.CV_16S, ksize=3)), _STRONG)
    return Surroundings(_summed(paint), _summed(edges))


def _summed(levels: Picture) -> NDArray[np.int32]:
    if levels.size > np.iinfo(np.int32).max // _STRONG:
        raise ValueError(f"a picture of {levels.size} pixels is too large to be summed")
    return cv2.integral(levels, sdepth=cv2.CV_32S)


def write_ids(image: Picture, ids: Sequence[str], outlines: Sequence[Points], around: Surroundings) -> Picture:
    """Write each id beside its swatch, or inside it.

    Parameters
    ----------
    image : numpy.ndarray, shape (H, W, 3), uint8
    ids : sequence of str
    outlines : sequence of numpy.ndarray, shape (n, 2)
        The swatches' outlines in pixels of the picture, in the order of the ids.
    around : Surroundings

    Returns
    -------
    numpy.ndarray, shape (H, W, 3), uint8
        A copy with the ids on it.
    """
    things = [Box(*outline.min(axis=0), *outline.max(axis=0)) for outline in outlines]
    outer = np.array([_spread(outline) for outline in outlines])
    full = max(11, round(max(image.shape[:2]) / 55))
    font, rim, boxes = ImageFont.load_default(size=full), 2, list(things)
    for share in _SIZES:
        letter = max(10, round(full * share))
        font, rim = ImageFont.load_default(size=letter), max(2, letter // 11)
        widest = max(font.getlength(name) for name in ids)
        small = share <= _SMALLER_OUTSIDE
        size = (widest + 2 * rim, letter + 2.0 * rim)
        boxes, covered, inked = _choose(things, outer, size, around, inside=small)
        if covered <= _TOLERATED and (small or not inked):
            break
    written = image.copy()
    for box, points in zip(boxes, outer, strict=True):
        _join(written, box, points, rim)
    for name, box in zip(ids, boxes, strict=True):
        _write(written, name, box, font, rim)
    return written


def write_letters(image: Picture, cards: Sequence[tuple[str, Points]]) -> Picture:
    """Write the letters of several cards beside their upper left corners.

    Parameters
    ----------
    image : numpy.ndarray, shape (H, W, 3), uint8
        It is written on.
    cards : sequence of (str, numpy.ndarray of shape (4, 2))
        Each card's letter, and its corners in pixels of the picture.

    Returns
    -------
    numpy.ndarray, shape (H, W, 3), uint8
    """
    letter = max(18, round(max(image.shape[:2]) / 36))
    font, rim, half = ImageFont.load_default(size=letter), max(2, letter // 11), 0.6 * letter
    ends = np.array([image.shape[1], image.shape[0]]) - half
    for name, corners in cards:
        first = corners[int(np.argmin(corners.sum(axis=1)))]
        outwards = first - corners.mean(axis=0)
        x, y = np.clip(first + half * outwards / max(1.0, float(np.hypot(*outwards))), half, ends)
        _write(image, name, Box(x - half, y - half, x + half, y + half), font, rim)
    return image


def _spread(outline: Points) -> Points:
    """Return points evenly spread along a closed outline, whose own corners may be few and far between."""
    closed = np.vstack([outline, outline[:1]])
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(closed, axis=0).T))])
    wanted = np.linspace(0.0, along[-1], _POINTS, endpoint=False)
    return np.column_stack([np.interp(wanted, along, closed[:, axis]) for axis in (0, 1)])


def _join(image: Picture, box: Box, outline: Points, width: int) -> None:
    """Draw a line from an id to its swatch's outline where they stand apart."""
    x, y = outline.mean(axis=0)
    start = box.nearest((x, y))
    end = outline[np.argmin(np.hypot(*(outline - start).T))]
    inside = start == (x, y)
    if inside or math.dist(start, end) < _LEADER * box.height:
        return
    line = np.rint([start, end]).astype(np.int32).reshape(-1, 1, 2)
    for colour, thickness in ((_DARK, 3 * width), (_LIGHT, width)):
        cv2.polylines(image, [line], False, colour, thickness, cv2.LINE_AA)


def _write(image: Picture, name: str, box: Box, font: Any, rim: int) -> None:
    """Write one id in the middle of its box; only that part of the picture is handed to the library that writes."""
    margin = math.ceil(box.height) + rim
    left, top = max(0, math.floor(box.left) - margin), max(0, math.floor(box.top) - margin)
    right, bottom = max(0, math.ceil(box.right) + margin), max(0, math.ceil(box.bottom) + margin)
    part = image[top:bottom, left:right]
    if not part.size:
        return
    handed = Image.fromarray(part)
    x, y = box.centre
    ImageDraw.Draw(handed).text(
        (x - left, y - top), name, _LIGHT, font, anchor="mm", stroke_width=rim, stroke_fill=_DARK
    )
    part[:] = np.asarray(handed)


def _choose(
    things: Sequence[Box], outer: Points, size: tuple[float, float], around: Surroundings, *, inside: bool
) -> tuple[list[Box], float, bool]:
    """Choose one place for all labels; a label that would be covered or written on goes elsewhere.

    Parameters
    ----------
    things : sequence of Box
        The swatches' rectangles.
    outer : numpy.ndarray, shape (n, p, 2)
        Points on their outlines.
    size : (width, height)
    around : Surroundings
    inside : bool
        Whether a label may stand in the middle of a swatch that is large enough.

    Returns
    -------
    boxes : list of Box
    covered : float
        The largest share of a label that is covered.
    written_on : bool
        Whether any label lies on writing.
    """
    offered = [[*places_beside(thing, size, gap=size[1] * 0.25), _in_the_middle(thing, size)] for thing in things]
    places = np.array([[box.edges for box in row] for row in offered])
    gaps = np.stack([_gaps(places, points) for points in outer], axis=-1)
    own = np.take_along_axis(gaps, np.arange(len(things))[:, None, None], axis=2)[..., 0]
    area = size[0] * size[1]
    # A place where the label would be taken for a neighbour's counts as wholly covered.
    mistaken = (gaps < _OWN * own[..., None]).sum(axis=2) > (own > 0)
    bad = _inside(around.paint, places) / area + _outside(around.paint, places) / area + mistaken
    own[:, -1] = 0.0
    bad[:, -1] = [not (inside and thing.width > size[0] and thing.height > size[1]) for thing in things]
    edges = _inside(around.edges, places) / area
    inked = edges > _INKED[0] * np.median(edges[:, :-1].min(axis=1)) + _INKED[1]
    inked[:, -1], edges[:, -1] = False, _INSIDE
    cost = _COVER * bad + _INK * inked + edges + _DISTANCE * own / size[1]
    common = int(np.argmin(cost.sum(axis=0)))
    chosen = np.zeros(len(things), dtype=np.intp)
    taken = np.empty((0, 4))
    worst = 0.0
    for i in range(len(things)):
        trouble = bad[i] + _shared(places[i], taken) / area
        chosen[i] = common
        if trouble[common] > _TOLERATED or inked[i, common]:
            chosen[i] = int(np.argmin(cost[i] + _COVER * (trouble - bad[i])))
        worst = max(worst, float(trouble[chosen[i]]))
        taken = np.vstack([taken, places[i, chosen[i]]])
    written_on = bool(inked[np.arange(len(things)), chosen].any())
    return [row[at] for row, at in zip(offered, chosen, strict=True)], worst, written_on


def _in_the_middle(thing: Box, size: tuple[float, float]) -> Box:
    (x, y), (wide, high) = thing.centre, size
    return Box(x - wide / 2, y - high / 2, x + wide / 2, y + high / 2)


def _shared(places: Sums, taken: Sums) -> Sums:
    """Return the area that each place, shape (k, 4), shares with all boxes of shape (m, 4)."""
    left, top, right, bottom = (places[:, side, None] for side in range(4))
    wide = np.minimum(right, taken[:, 2]) - np.maximum(left, taken[:, 0])
    high = np.minimum(bottom, taken[:, 3]) - np.maximum(top, taken[:, 1])
    shared: Sums = (np.maximum(wide, 0) * np.maximum(high, 0)).sum(axis=1)
    return shared


def _gaps(places: Sums, points: Points) -> Sums:
    """Return the distance from each place, shape (n, k, 4), to the nearest of the points, shape (p, 2): (n, k)."""
    left, top, right, bottom = (places[..., side, None] for side in range(4))
    wide = np.maximum(points[:, 0] - right, left - points[:, 0])
    high = np.maximum(points[:, 1] - bottom, top - points[:, 1])
    nearest: Sums = np.hypot(np.maximum(wide, 0), np.maximum(high, 0)).min(axis=-1)
    return nearest


def _clipped(sums: NDArray[np.int32], places: Sums) -> NDArray[np.intp]:
    most = np.array([sums.shape[1] - 1, sums.shape[0] - 1] * 2)
    return np.clip(np.rint(places), 0, most).astype(np.intp)


def _inside(sums: NDArray[np.int32], places: Sums) -> Sums:
    """Return the sum over that part of each place, shape (..., 4), that lies in the picture."""
    left, top, right, bottom = np.moveaxis(_clipped(sums, places), -1, 0)
    found: Sums = sums[bottom, right] - sums[top, right] - sums[bottom, left] + sums[top, left]
    return found


def _outside(sums: NDArray[np.int32], places: Sums) -> Sums:
    """Return the area of each place that lies beyond the picture."""
    inner = _clipped(sums, places)
    kept = (inner[..., 2] - inner[..., 0]) * (inner[..., 3] - inner[..., 1])
    whole = (np.rint(places[..., 2]) - np.rint(places[..., 0])) * (np.rint(places[..., 3]) - np.rint(places[..., 1]))
    outside: Sums = whole - kept
    return outside
