"""Which way up a card lies, told by its writing.

People write to the right of a swatch or below it. The place of the ink tells the card's turn but for one doubt: writing
to the right on an upright card lies where writing below lies on a card turned by a quarter. The lines of the writing
settle that: on an upright card they run along the rows.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import numpy.typing as npt

from swatchread.card.card_find import CardFind
from swatchread.colour.cielab import Floats
from swatchread.ink.ink_strokes import InkView, see_ink
from swatchread.photo import opencv as cv2
from swatchread.photo.masks import Mask, dilated, part_of, pieces_of

# Measured on development scenes. Lengths are in extents of a swatch.

_REACH, _GAP = 0.9, 0.02
"""Beside a swatch, writing starts no further away than this; nearer than the second, ink may be the swatch's rim."""

_NEIGHBOUR, _IN_LINE = 3.2, 0.6
"""Ink between two swatches may belong to either if they are no further apart, and no further out of line."""

_LEAST_INK = 4e-3
"""Area of ink beside a swatch, square extents, below which it is a speck."""

_CLEAR = 0.1
"""How much likelier than lying upright a turn must be."""

_LINES, _CLEAR_LINES = 0.4, 0.1
"""Weight of the direction of the lines, and the clearness from which it has most of its weight."""

_LEGIBLE, _LEAST_LINES, _AS_MOST = 45.0, 0.08, 0.02
"""Extent of a swatch, pixels, and clearness from which lines tell their direction; and the clearness assumed else, for
most cards are written along the rows."""

_LEAST_SHARE, _OFTEN, _ENOUGH = 0.5, 0.3, 0.4
"""How surely writing must stand on a side; the share of swatches that must have ink there for it to be usual; and the
share of the usual ink that is enough for a swatch."""

_LETTERS, _LEAST_MARKS, _LEAST_LENGTH = 0.1, 4, 0.15
"""Reach that joins the letters of a line, and the marks and the length of a line that has a direction."""

_ONE_SIDED, _OWN_SIDE = 0.35, 0.55
"""How much surer writing must stand on its own side than on the opposite one, and how surely only there."""

SIDES = ((1, 0), (0, 1), (-1, 0), (0, -1))
"""Right, below, left, above: the right of a card that is turned by 0, 1, 2, 3 quarters clockwise."""


def quarter_turn(card: CardFind) -> int:
    """Tell by its writing how a card lies against the chart.

    Parameters
    ----------
    card : CardFind

    Returns
    -------
    int
        Quarter turns clockwise, 0 to 3, that bring an upright card into the place where it lies; 0 where no writing
        says otherwise.
    """
    return turn_of_ink(see_ink(card))[0]


def stand_upright(card: CardFind) -> CardFind:
    """Return a card with its rows and columns counted as its writing reads, however it lies against the chart.

    Parameters
    ----------
    card : CardFind
        With rows and columns as the chart reads.

    Returns
    -------
    CardFind
        The same where there is no clear writing: the chart's orientation decides then, and the turn is not sure.
    """
    turn, sure = turn_of_ink(see_ink(card))
    return replace(card, grid=card.grid.turned(turn), turn_sure=sure)


def turn_of_ink(view: InkView) -> tuple[int, bool]:
    """Tell a card's quarter turns from the ink on it, see `quarter_turn`, and whether they are sure.

    They are where the writing stands on one side only and the direction of its lines can be seen. On 265 cards of 54
    simulated photos 37 of 40 wrong turns were not sure, and 40 of the others.
    """
    sides = ink_sides(view)
    if sides.max() < _LEAST_SHARE:
        return 0, False
    direction = _clear_direction(view)
    lines = _LINES * np.tanh(direction / _CLEAR_LINES)
    worth = np.empty(4)
    for k in range(4):
        # On a card turned by k quarters, the right is the side k and below is the side k + 1; its lines run along the
        # rows if k is even.
        worth[k] = max(only_on(sides, k), only_on(sides, (k + 1) % 4)) + (lines if k % 2 == 0 else -lines)
    best = int(np.argmax(worth))
    # Marks on both sides of the swatches are rims, frames, or a cloth beside the card: writing leaves the opposite side
    # free.
    own = max((best, (best + 1) % 4), key=lambda side: only_on(sides, side))
    one_sided = sides[own] - sides[(own + 2) % 4] > _ONE_SIDED and only_on(sides, own) > _OWN_SIDE
    turn = best if worth[best] > worth[0] + _CLEAR and one_sided else 0
    return turn, bool(one_sided and abs(direction) > _AS_MOST)


def _clear_direction(view: InkView) -> float:
    """Return the direction of the lines, or a slight one along the rows where the writing is blurred or very small."""
    direction = line_direction(view) if view.extent > _LEGIBLE else 0.0
    return direction if abs(direction) > _LEAST_LINES else _AS_MOST


def only_on(sides: Floats, side: int) -> float:
    """Return how surely the writing stands on one side and on no other; `sides` is from `ink_sides`."""
    return float(sides[side] - 0.5 * np.delete(sides, side).max())


def ink_sides(view: InkView) -> Floats:
    """Return how surely writing stands to the right, below, to the left and above the swatches, each 0 to 1.

    Ink between two swatches may belong to either: those with no neighbour on a side speak for it alone.
    """
    count = len(view.boxes)
    boxes = [[_box_beside(box, way, view.extent) for box in view.boxes] for way in SIDES]
    ink = np.array([[_amount(view.ink, box) for box in row] for row in boxes], dtype=np.float64)
    ink[ink < _LEAST_INK * view.extent**2] = 0.0
    if not ink.any():
        return np.zeros(4)
    # A stray mark is not a writing: it is compared with the ink of the other swatches.
    often = [row[row > 0] for row in ink if (row > 0).mean() >= _OFTEN]
    usual = max((float(np.median(row)) for row in often), default=float(ink.max()))
    sure = np.minimum(1.0, ink / (_ENOUGH * usual))
    sides = np.zeros(4)
    for side, way in enumerate(SIDES):
        free = np.array([not _neighbour(view.boxes, k, way, view.extent) for k in range(count)])
        sides[side] = min(sure[side].mean(), sure[side][free].mean() if free.any() else 1.0)
    return sides


def _box_beside(box: Floats, way: tuple[int, int], extent: float) -> Floats:
    """Return the box on one side of a swatch where the writing would start."""
    left, top, right, bottom = box
    reach, in_ = _REACH * extent, _GAP * extent
    if way[0]:
        x = (right + in_, right + reach) if way[0] > 0 else (left - reach, left - in_)
        return np.array([x[0], top, x[1], bottom])
    y = (bottom + in_, bottom + reach) if way[1] > 0 else (top - reach, top - in_)
    return np.array([left, y[0], right, y[1]])


def _neighbour(boxes: Floats, k: int, way: tuple[int, int], extent: float) -> bool:
    """Tell whether another swatch stands so near on one side that ink between them may be its own."""
    centres = (boxes[:, :2] + boxes[:, 2:]) / 2.0
    apart = centres - centres[k]
    along, across = apart @ np.array(way), np.abs(apart @ np.array(way[::-1]))
    return bool(((along > 0.5 * extent) & (along < _NEIGHBOUR * extent) & (across < _IN_LINE * extent)).any())


def _amount(ink: Mask, box: Floats) -> int:
    x0, y0, x1, y1 = np.maximum(np.rint(box), 0).astype(int)
    return int(np.count_nonzero(ink[y0:y1, x0:x1]))


def line_direction(view: InkView) -> float:
    """Return whether the lines of the writing run along the rows (towards 1) or across them (towards -1)."""
    e = view.extent
    reach = max(1, round(_LETTERS * e))
    near = np.zeros(view.ink.shape, dtype=bool)
    for box in view.boxes:
        for way in SIDES:
            x0, y0, x1, y1 = np.rint(_box_beside(box, way, e)).astype(int)
            near[max(y0, 0) : max(y1, 0), max(x0, 0) : max(x1, 0)] = True
    ink = view.ink & near
    labels, stats = pieces_of(dilated(ink, reach), connectivity=8)
    along, across = [], []
    for index, (x, y, width, height, _) in enumerate(stats[1:].tolist(), start=1):
        if max(width, height) < _LEAST_LENGTH * e:
            continue
        box = part_of((x, y, width, height))
        part = ink[box] & (labels[box] == index)
        if cv2.connectedComponents(part.astype(np.uint8), connectivity=8)[0] - 1 < _LEAST_MARKS:
            continue  # a lone figure or question mark has no line
        along.append(_unevenness(part.sum(axis=1), e) * part.sum())
        across.append(_unevenness(part.sum(axis=0), e) * part.sum())
    total = sum(along) + sum(across)
    return float((sum(along) - sum(across)) / total) if total else 0.0


def _unevenness(profile: npt.NDArray[np.int64], extent: float) -> float:
    """Return how much a profile of ink rises and falls: much across the lines of a writing, and little along them."""
    padded = np.pad(profile.astype(np.float64), round(_LETTERS * extent))
    smooth = cv2.GaussianBlur(padded[None], (0, 0), max(0.6, 0.02 * extent)).ravel()
    return float(((np.diff(smooth)) ** 2).sum() / max(float((smooth**2).sum()), 1e-9))
