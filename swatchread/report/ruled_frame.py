"""The rim of the marked photo: a ruler in pixels of the photo, and a legend of what is drawn."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont

from swatchread.note.model import Note

Picture = NDArray[np.uint8]

_PAPER, _INK = (226, 226, 226), (30, 30, 30)
_LETTERS_ALONG: Final = 85
"""Letter heights along the picture's longer side."""

_TICKS: Final = 12
"""Numbers along the longer side at most."""

_STEPS: Final = (50, 100, 200, 500, 1000, 2000, 5000)
"""Photo pixels between two numbers of the ruler, one of these."""

_FINE: Final = 5
"""Short ticks to a number."""


@dataclass(frozen=True)
class _Rim:
    """What is drawn on, and its measures.

    Attributes
    ----------
    sheet : PIL.Image.Image
    draw : PIL.ImageDraw.ImageDraw
    letter : int
        Height of the letters, pixels.
    margin : int
        Width of the rim, pixels.
    scale : float
        Pixels of the picture a pixel of the photo.
    width, height : int
        Of the picture inside the rim, pixels.
    """

    sheet: Any
    draw: Any
    letter: int
    margin: int
    scale: float
    width: int
    height: int


def framed(picture: Picture, note: Note) -> Picture:
    """Set a marked photo into a rim, from which the photo's own pixels can be read, and explain the marks below it.

    Parameters
    ----------
    picture : numpy.ndarray, shape (H, W, 3), uint8
        As `marked_photo.mark` returns it.
    note : Note

    Returns
    -------
    numpy.ndarray, shape (H + more, W + more, 3), uint8
        RGB.
    """
    height, width = picture.shape[:2]
    letter = max(11, round(max(width, height) / _LETTERS_ALONG))
    margin = 4 * letter
    lines = _legend(note)
    below = round(letter * 1.7 * (len(lines) + 0.5))
    sheet = Image.new("RGB", (width + 2 * margin, height + 2 * margin + below), _PAPER)
    sheet.paste(Image.fromarray(picture), (margin, margin))
    rim = _Rim(sheet, ImageDraw.Draw(sheet), letter, margin, width / note.photo.width, width, height)
    _draw_ruler(rim, note.photo.width, note.photo.height)
    for place, (sample, text) in enumerate(lines):
        y = height + 2 * margin + letter * (0.85 + 1.7 * place)
        if sample is not None:
            sample(rim, y)
        left = margin + (4 * letter if sample is not None else 0)
        rim.draw.text((left, y), text, _INK, ImageFont.load_default(size=letter), anchor="lm")
    return np.asarray(sheet)


def _draw_ruler(rim: _Rim, width: int, height: int) -> None:
    """Draw ticks on all four sides, and numbers at each long one; the photo is so many pixels wide and high."""
    step = next((s for s in _STEPS if max(width, height) / s <= _TICKS), _STEPS[-1])
    font, fine = ImageFont.load_default(size=round(rim.letter * 0.9)), step // _FINE
    thick, far = max(1, rim.letter // 10), rim.margin
    for pixel in range(0, width, fine):
        x, long = far + (pixel + 0.5) * rim.scale - 0.5, rim.letter * (0.8 if pixel % step == 0 else 0.4)
        rim.draw.line([(x, far - long), (x, far - 1)], _INK, thick)
        rim.draw.line([(x, far + rim.height), (x, far + rim.height + long)], _INK, thick)
        if pixel % step == 0:
            rim.draw.text((x, far - 1.1 * rim.letter), str(pixel), _INK, font, anchor="ms")
            rim.draw.text((x, far + rim.height + 1.1 * rim.letter), str(pixel), _INK, font, anchor="mt")
    for pixel in range(0, height, fine):
        y, long = far + (pixel + 0.5) * rim.scale - 0.5, rim.letter * (0.8 if pixel % step == 0 else 0.4)
        rim.draw.line([(far - long, y), (far - 1, y)], _INK, thick)
        rim.draw.line([(far + rim.width, y), (far + rim.width + long, y)], _INK, thick)
        if pixel % step == 0 and pixel:
            rim.draw.text((far - rim.letter, y), str(pixel), _INK, font, anchor="rm")
            rim.draw.text((far + rim.width + rim.letter, y), str(pixel), _INK, font, anchor="lm")


def _legend(note: Note) -> list[tuple[Callable[[_Rim, float], None] | None, str]]:
    """Return the lines below the picture: what draws a sample of the mark, and what it means."""
    return [
        (_hatch, "hatched: left out of the measurement (glints, ridges, letters, thin edges)"),
        (_outline, "thin line: what was measured of a swatch; thick line: the card; lattice: the chart's patches"),
        (None, "numbers on the rim: pixels of the photo, as --card and --chart-at take them; what was found is"),
        (None, f"--card {_typed(note.card.corners)}  --chart-at {_typed(note.chart.corners)}"),
    ]


def _typed(corners: Iterable[Iterable[float]]) -> str:
    """Write corners as they are typed on the command line."""
    return " ".join(",".join(f"{x:.0f}" for x in corner) for corner in corners)


def _hatch(rim: _Rim, y: float) -> None:
    left, high, band = rim.margin, rim.letter, max(2, rim.letter // 4)
    box = np.indices((high, 3 * high)).sum(axis=0) // band % 2
    tile = np.where(box[..., None] == 0, 255, 0).astype(np.uint8).repeat(3, axis=2)
    rim.sheet.paste(Image.fromarray(tile), (left, round(y - high / 2)))


def _outline(rim: _Rim, y: float) -> None:
    thick = max(1, rim.letter // 8)
    for colour, width in (((0, 0, 0), 3 * thick), ((255, 255, 255), thick)):
        rim.draw.line([(rim.margin, y), (rim.margin + 3 * rim.letter, y)], colour, width)
