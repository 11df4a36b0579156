"""The marked photo: what was found and measured, drawn on the photo for the painter to check.

Every line is a light stroke on a dark one, so that it shows on any paint and needs no colour.
"""

from __future__ import annotations

import io
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from swatchread.card.several_cards import OtherCard
from swatchread.note.model import Note
from swatchread.note.safe_files import write_bytes
from swatchread.photo import opencv as cv2
from swatchread.report.id_labels import surroundings, write_ids, write_letters

Picture = NDArray[np.uint8]
Mask = NDArray[np.bool_]
Points = NDArray[np.float64]
_Gap = tuple[slice, slice, Mask]
"""Rows and columns of the picture, and True for those of its pixels there that were left out."""

_LIGHT, _DARK = (255, 255, 255), (0, 0, 0)
_SUBPIXEL_BITS: Final = 4
"""OpenCV draws at sixteenths of a pixel."""

_MOSTLY_LEFT_OUT: Final = 96
"""Of 255: from this share on, a pixel of the picture is hatched as left out."""

_MOST_OF_PROFILE: Final = 255 * 65519
"""Bytes of a profile that a JPEG can hold: 255 segments (ICC.1:2022, annex B.4)."""


@dataclass(frozen=True)
class LeftOut:
    """What was left out of one swatch: glints, ridges, letters and thin edges.

    Attributes
    ----------
    x, y : int
        Pixel of the full-size photo under the mask's first pixel.
    mask : numpy.ndarray, shape (h, w), bool
        True where a pixel was left out; one mask pixel a photo pixel.
    """

    x: int
    y: int
    mask: Mask


@dataclass(frozen=True)
class _Canvas:
    """The picture that is drawn on, and how large things are on it.

    Attributes
    ----------
    image : numpy.ndarray, shape (H, W, 3), uint8
    scale : float
        Pixels of the picture a pixel of the photo.
    """

    image: Picture
    scale: float

    @property
    def stroke(self) -> int:
        """Width of a light line, pixels."""
        return int(max(1, round(max(self.image.shape[:2]) / 900)))

    def points(self, photo_px: Iterable[Iterable[float]]) -> Points:
        """Turn photo pixels into pixels of this picture; pixel centres are whole numbers in both."""
        return (np.array([tuple(p) for p in photo_px], dtype=np.float64) + 0.5) * self.scale - 0.5


def mark(
    image: Picture,
    note: Note,
    left_out: Sequence[LeftOut] = (),
    chart_grid: tuple[int, int] = (6, 4),
    others: Sequence[OtherCard] = (),
) -> Picture:
    """Draw on a photo what its note says was found there.

    Parameters
    ----------
    image : numpy.ndarray, shape (H, W, 3), uint8
        The photo in display RGB, after its EXIF turn, reduced as `reading_files.viewable` does. It is not changed.
    note : Note
    left_out : sequence of LeftOut
        What was not sampled, in full-size pixels.
    chart_grid : (int, int)
        Columns and rows of the chart; by default the classic one's.
    others : sequence of OtherCard
        Other cards in the photo, of which only the outlines and the letters are drawn.

    Returns
    -------
    numpy.ndarray, shape (H, W, 3), uint8
        RGB.
    """
    canvas = _Canvas(image.copy(), image.shape[1] / note.photo.width)
    outlines = [canvas.points(swatch.outline) for swatch in note.swatches]
    gaps = [found for item in left_out if (found := _reduced_mask(canvas, item))]
    around = surroundings(canvas.image, _paint(canvas, outlines, gaps))
    for gap in gaps:
        _hatch(canvas, gap)
    _lattice(canvas, canvas.points(note.chart.corners), chart_grid)
    _stroke(canvas.image, [canvas.points(note.card.corners)], width=canvas.stroke * 2)
    for outline in outlines:
        _stroke(canvas.image, [outline], width=canvas.stroke)
    marked = write_ids(canvas.image, [s.id for s in note.swatches], outlines, around)
    cards = [(card.letter, canvas.points(card.corners)) for card in others]
    _stroke(marked, [corners for _, corners in cards], width=canvas.stroke)
    if note.card.letter:
        cards.append((note.card.letter, canvas.points(note.card.corners)))
    return write_letters(marked, cards)


def save_jpeg(image: Picture, path: Path, icc_profile: bytes | None = None) -> None:
    """Write a picture as JPEG; an interruption leaves an older file whole.

    Parameters
    ----------
    image : numpy.ndarray, shape (H, W, 3), uint8
        RGB.
    path : pathlib.Path
    icc_profile : bytes, optional
        The photo's own profile, so that a wide-gamut photo keeps its look.

    Raises
    ------
    OutputError
        If the file cannot be written.
    """
    fits = icc_profile is not None and len(icc_profile) <= _MOST_OF_PROFILE
    buffer = io.BytesIO()
    Image.fromarray(image).save(buffer, "JPEG", quality=88, subsampling=0, icc_profile=icc_profile if fits else None)
    write_bytes(path, buffer.getvalue())


def _fixed(points: Points) -> NDArray[np.int32]:
    # OpenCV draws at sub-pixel places when they come as fixed-point numbers; far points would overflow.
    fixed = np.rint(np.clip(points, -1e5, 1e5) * 2**_SUBPIXEL_BITS)
    return fixed.astype(np.int32).reshape(-1, 1, 2)


def _stroke(image: Picture, lines: Sequence[Points], *, width: int, closed: bool = True) -> None:
    """Draw lines; all dark strokes first, or a later line's dark edge would cut an earlier light one."""
    for colour, thickness in ((_DARK, width * 3), (_LIGHT, width)):
        for line in lines:
            cv2.polylines(image, [_fixed(line)], closed, colour, thickness, cv2.LINE_AA, _SUBPIXEL_BITS)


def _lattice(canvas: _Canvas, corners: Points, grid: tuple[int, int]) -> None:
    columns, rows = grid
    unit = np.array([(0, 0), (1, 0), (1, 1), (0, 1)], dtype=np.float32)
    plane = cv2.getPerspectiveTransform(unit, corners.astype(np.float32))
    lines = [((i / columns, 0.0), (i / columns, 1.0)) for i in range(columns + 1)]
    lines += [((0.0, j / rows), (1.0, j / rows)) for j in range(rows + 1)]
    ends = cv2.perspectiveTransform(np.array(lines, dtype=np.float64), plane)
    _stroke(canvas.image, list(ends), width=canvas.stroke, closed=False)


def _reduced_mask(canvas: _Canvas, item: LeftOut) -> _Gap | None:
    """Bring a full-size mask to the size of the picture; return its rows and columns there, and its pixels."""
    height, width = item.mask.shape
    first, last = canvas.points([(item.x - 0.5, item.y - 0.5), (item.x + width - 0.5, item.y + height - 0.5)])
    left, top = (max(0, math.floor(c + 0.5)) for c in first)
    right = min(canvas.image.shape[1], math.ceil(last[0] + 0.5))
    bottom = min(canvas.image.shape[0], math.ceil(last[1] + 0.5))
    if right <= left or bottom <= top or not item.mask.any():
        return None
    # Each pixel of the picture asks how much of the photo under it was left out.
    shift_x, shift_y = (left + 0.5) / canvas.scale - 0.5 - item.x, (top + 0.5) / canvas.scale - 0.5 - item.y
    backward = np.array([[1 / canvas.scale, 0, shift_x], [0, 1 / canvas.scale, shift_y]])
    side = max(1, round(1 / canvas.scale))
    share = cv2.blur(item.mask.astype(np.uint8) * 255, (side, side), borderType=cv2.BORDER_CONSTANT)
    flags = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    near = cv2.warpAffine(share, backward, (right - left, bottom - top), flags=flags)
    return slice(top, bottom), slice(left, right), near >= _MOSTLY_LEFT_OUT


def _hatch(canvas: _Canvas, gap: _Gap) -> None:
    rows, columns, mask = gap
    y, x = np.mgrid[rows, columns]
    band = canvas.stroke * 3
    light = ((x + y) // band) % 2 == 0
    part = canvas.image[rows, columns]
    part[mask & light] = _LIGHT
    part[mask & ~light] = _DARK


def _paint(canvas: _Canvas, outlines: Sequence[Points], gaps: Sequence[_Gap]) -> Picture:
    """Mark where paint lies: the sampled areas grown by a margin, since a sample stops short of the rim."""
    paint = np.zeros(canvas.image.shape[:2], np.uint8)
    for outline in outlines:
        cv2.fillPoly(paint, [_fixed(outline)], 1, shift=_SUBPIXEL_BITS)
        margin = max(3 * canvas.stroke, round(0.2 * float(np.min(np.ptp(outline, axis=0)))))
        cv2.polylines(paint, [_fixed(outline)], True, 1, 2 * margin + 1, shift=_SUBPIXEL_BITS)
    for rows, columns, mask in gaps:
        paint[rows, columns][mask] = 1
    return paint
