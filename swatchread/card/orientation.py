"""Which way up a card lies: its writing says so.

People write to the right of a swatch or below it. Where the ink stands tells the card's turn but for one doubt: to the
right of a swatch on an upright card looks like below it on a card turned by a quarter. The lines of the writing settle
that: they run towards the right of the upright card.
"""

from __future__ import annotations

import operator
from dataclasses import replace

import numpy as np

from swatchread.card.background import Mask, thin_pieces
from swatchread.card.card_detection import CardFind
from swatchread.card.ink_strokes import InkView, see_ink
from swatchread.colour.cielab import Floats
from swatchread.colour.order import median
from swatchread.photo import opencv as cv2

_REACH = 0.9
"""How far beside a swatch its writing starts at the latest, in swatch extents."""

_FREE = 1.6
_LEAST_INK = 4e-3
_CLEAR = 0.1
_LINES = 0.4
_CLEAR_LINES = 0.1
_LEGIBLE, _LEAST_LINES, _AS_MOST = 45.0, 0.08, 0.02
"""Extent of a swatch, pixels, and clearness of lines from which writing tells their direction, and what holds else."""

_LEAST_SHARE = 0.5
_OFTEN = 0.3
_LEAST_MARKS = 4
_ENOUGH = 0.4
_ONE_SIDED, _OWN_SIDE = 0.35, 0.55
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
    return turn_of_ink(see_ink(card))


def stand_upright(card: CardFind) -> CardFind:
    """Return a card with its rows and columns counted as its writing reads, however it lies against the chart.

    Parameters
    ----------
    card : CardFind
        With rows and columns as the chart reads.

    Returns
    -------
    CardFind
        The same where there is no clear writing: the chart's orientation decides then.
    """
    turn = quarter_turn(card)
    grid = card.grid.turned(turn)
    if not turn and all(map(operator.is_, grid.cells, card.grid.cells)):
        return card  # the very same, with what was seen of its ink
    return replace(card, grid=grid)


def turn_of_ink(view: InkView) -> int:
    """Tell a card's quarter turns from the ink on it; see `quarter_turn`."""
    sides = ink_sides(view)
    if sides.max() < _LEAST_SHARE:
        return 0
    lines = _LINES * np.tanh(_clear_direction(view) / _CLEAR_LINES)
    worth = np.empty(4)
    for k in range(4):
        # Turned by k quarters, a card's right is the side k, what is below the side k + 1; its lines run along the
        # rows where k is even.
        worth[k] = max(alone(sides, k), alone(sides, (k + 1) % 4)) + (lines if k % 2 == 0 else -lines)
    best = int(np.argmax(worth))
    # Marks on both sides of the swatches are rims that touch, frames, or a cloth beside the card: writing leaves the
    # side across from its own free.
    own = max((best, (best + 1) % 4), key=lambda side: alone(sides, side))
    one_sided = sides[own] - sides[(own + 2) % 4] > _ONE_SIDED and alone(sides, own) > _OWN_SIDE
    return best if worth[best] > worth[0] + _CLEAR and one_sided else 0


def _clear_direction(view: InkView) -> float:
    """Return the direction of the lines; of blurred or very small writing a little along the rows, for most cards."""
    direction = line_direction(view) if view.extent > _LEGIBLE else 0.0
    return direction if abs(direction) > _LEAST_LINES else _AS_MOST


def alone(sides: Floats, side: int) -> float:
    """Return how surely the writing stands on one side and on no other; `sides` is from `ink_sides`."""
    return float(sides[side] - 0.5 * np.delete(sides, side).max())


def ink_sides(view: InkView) -> Floats:
    """Return how surely writing stands to the right, below, to the left and above the swatches, each 0 to 1.

    Ink between two swatches may belong to either: those with no neighbour on a side speak for it alone.
    """
    count = len(view.boxes)
    ink = np.array([[_amount(view.ink, _beside(box, way, view.extent)) for box in view.boxes] for way in SIDES], float)
    ink[ink < _LEAST_INK * view.extent**2] = 0.0
    if not ink.any():
        return np.zeros(4)
    # A stray mark is not a writing: measured by what the other swatches have.
    usual = max((median(row[row > 0]) for row in ink if (row > 0).mean() >= _OFTEN), default=ink.max())
    sure = np.minimum(1.0, ink / (_ENOUGH * usual))
    sides = np.zeros(4)
    for side, way in enumerate(SIDES):
        free = np.array([not _neighbour(view.boxes, k, way, view.extent) for k in range(count)])
        sides[side] = min(sure[side].mean(), sure[side][free].mean() if free.any() else 1.0)
    return sides


def _beside(box: Floats, way: tuple[int, int], extent: float) -> Floats:
    """Return the box on one side of a swatch where the writing would start."""
    left, top, right, bottom = box
    reach, in_ = _REACH * extent, 0.02 * extent
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
    return bool(((along > 0.5 * extent) & (along < (_FREE + 1.6) * extent) & (across < 0.6 * extent)).any())


def _amount(ink: Mask, box: Floats) -> int:
    x0, y0, x1, y1 = np.maximum(np.rint(box), 0).astype(int)
    return int(np.count_nonzero(ink[y0:y1, x0:x1]))


def line_direction(view: InkView) -> float:
    """Return whether the lines of the writing run along the rows (towards 1) or across them (towards -1)."""
    e = view.extent
    reach = max(1, round(0.1 * e))
    near = np.zeros(view.ink.shape, np.uint8)
    for box in view.boxes:
        for way in SIDES:
            x0, y0, x1, y1 = np.rint(_beside(box, way, e)).astype(int)
            near[max(y0, 0) : max(y1, 0), max(x0, 0) : max(x1, 0)] = 1
    ink = (view.ink & (near > 0)).astype(np.uint8)
    blobs = np.asarray(cv2.dilate(ink, np.ones((reach, reach), np.uint8)), dtype=np.uint8)
    labels, stats = thin_pieces(blobs)
    along, across = [], []
    for index in range(1, len(stats)):
        x, y, w, h, _ = (int(v) for v in stats[index])
        if max(w, h) < 0.15 * e:
            continue
        part = ink[y : y + h, x : x + w] * (labels[y : y + h, x : x + w] == index)
        if cv2.connectedComponents(part.astype(np.uint8), connectivity=8)[0] - 1 < _LEAST_MARKS:
            continue  # a lone figure or question mark has no line
        along.append(_unevenness(part.sum(axis=1), e) * part.sum())
        across.append(_unevenness(part.sum(axis=0), e) * part.sum())
    total = sum(along) + sum(across)
    return float((sum(along) - sum(across)) / total) if total else 0.0


def _unevenness(profile: Floats, extent: float) -> float:
    profile = np.pad(profile.astype(np.float64), round(0.1 * extent))
    smooth = cv2.GaussianBlur(profile[None], (0, 0), max(0.6, 0.02 * extent)).ravel()
    return float(((np.diff(smooth)) ** 2).sum() / max(float((smooth**2).sum()), 1e-9))
