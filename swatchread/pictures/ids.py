"""Where the ids stand on the marked photo: beside the paint, never on it, and alike for all swatches."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont

from swatchread.pictures.labelling import Box, places_beside

Picture = NDArray[np.uint8]
Sums = NDArray[np.float64]

_SIZES: Final = (1.0, 0.85, 0.7, 0.6, 0.5)
"""Letters shrink by these where swatches stand too close for the full size."""

_TOLERATED = 0.01
_COVER, _DISTANCE = 1000.0, 10.0
_LIGHT, _DARK = (255, 255, 255), (0, 0, 0)


@dataclass(frozen=True)
class Surroundings:
    """What a label must respect, as running sums over the picture.

    Attributes
    ----------
    paint : numpy.ndarray, shape (H + 1, W + 1)
        Of a mask that is 1 where paint lies.
    edges : numpy.ndarray, shape (H + 1, W + 1)
        Of the strength of edges: handwriting, the card's rim, the table's grain.
    """

    paint: Sums
    edges: Sums

    @property
    def frame(self) -> Box:
        """The picture's own rectangle."""
        return Box(0, 0, self.paint.shape[1] - 1, self.paint.shape[0] - 1)


def surroundings(image: Picture, paint: Picture) -> Surroundings:
    """Prepare what labels must respect.

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
    edges = np.minimum(np.abs(cv2.Laplacian(grey, cv2.CV_16S, ksize=3)), 60).astype(np.uint8)
    return Surroundings(
        np.asarray(cv2.integral(paint, sdepth=cv2.CV_64F), dtype=np.float64),
        np.asarray(cv2.integral(edges, sdepth=cv2.CV_64F), dtype=np.float64),
    )


def write_ids(image: Picture, ids: Sequence[str], things: Sequence[Box], around: Surroundings) -> Picture:
    """Write each id beside its swatch.

    Parameters
    ----------
    image : numpy.ndarray, shape (H, W, 3), uint8
    ids : sequence of str
    things : sequence of Box
        The swatches' rectangles, in the order of the ids.
    around : Surroundings

    Returns
    -------
    numpy.ndarray, shape (H, W, 3), uint8
        A copy with the ids on it.
    """
    full = max(11, round(max(image.shape[:2]) / 55))
    picture = Image.fromarray(image)
    draw = ImageDraw.Draw(picture)
    font, rim, boxes = ImageFont.load_default(size=full), 2, list(things)
    for share in _SIZES:
        letter = max(10, round(full * share))
        font, rim = ImageFont.load_default(size=letter), max(2, letter // 11)
        widest = max(draw.textlength(name, font) for name in ids)
        boxes, fits = _choose(things, (widest + 2 * rim, letter + 2.0 * rim), around)
        if fits:
            break
    for name, box in zip(ids, boxes, strict=True):
        draw.text(box.centre, name, _LIGHT, font, anchor="mm", stroke_width=rim, stroke_fill=_DARK)
    return np.asarray(picture)


def _choose(things: Sequence[Box], size: tuple[float, float], around: Surroundings) -> tuple[list[Box], bool]:
    """Put all labels in one and the same place beside their swatches; stray only where that is covered."""
    places = [list(places_beside(thing, size, gap=size[1] * 0.25)) for thing in things]
    bad = np.array([[_badness(box, i, things, around) for box in row] for i, row in enumerate(places)])
    area = size[0] * size[1]
    cost = _COVER * bad + np.array(
        [
            [_inside(around.edges, box) / area + _DISTANCE * _gap(box, thing) / size[1] for box in row]
            for thing, row in zip(things, places, strict=True)
        ]
    )
    common = int(np.argmin(cost.sum(axis=0)))
    boxes: list[Box] = []
    worst = 0.0
    for i, row in enumerate(places):
        clash = np.array([sum(box.overlap(other) for other in boxes) / area for box in row])
        at = common
        if bad[i, common] + clash[common] > _TOLERATED:
            at = int(np.argmin(cost[i] + _COVER * clash))
        worst = max(worst, float(bad[i, at] + clash[at]))
        boxes.append(row[at])
    return boxes, worst <= _TOLERATED


def _badness(box: Box, own: int, things: Sequence[Box], around: Surroundings) -> float:
    """Return the covered share of a place, plus 1 where it would be taken for another swatch's label."""
    area = box.width * box.height
    covered = _inside(around.paint, box) / area + 1 - box.overlap(around.frame) / area
    mistaken = any(
        _gap(box, other) < 1.5 * _gap(box, things[own]) for j, other in enumerate(things) if j != own
    )
    return covered + float(mistaken)


def _gap(box: Box, thing: Box) -> float:
    wide = max(thing.left - box.right, box.left - thing.right, 0.0)
    high = max(thing.top - box.bottom, box.top - thing.bottom, 0.0)
    return math.hypot(wide, high)


def _inside(sums: NDArray[Any], box: Box) -> float:
    height, width = sums.shape[0] - 1, sums.shape[1] - 1
    left, right = (min(max(round(v), 0), width) for v in (box.left, box.right))
    top, bottom = (min(max(round(v), 0), height) for v in (box.top, box.bottom))
    return float(sums[bottom, right] - sums[top, right] - sums[bottom, left] + sums[top, left])
