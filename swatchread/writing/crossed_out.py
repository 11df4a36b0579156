"""Crossed-out words: a stroke runs through the whole of a word, with letters above and below it."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
from scipy import ndimage

from swatchread.photo import opencv as cv2
from swatchread.writing.ink_lines import Floats, Picture

_HEIGHT = 64
"""Pixels of a line's height while strokes are looked for (choice)."""

_INK = 0.5
"""Darkness of ink, 0 to 1, in a line's picture (drawn hands)."""

_GAP, _LEAST_WIDTH = 0.22, 0.8
"""Width of a gap between words, and of the shortest word that is looked at, against the line's height (drawn hands)."""

_THROUGH = 0.9
"""Share of a word's width that the stroke runs through: 9 in 10 drawn ones do, and 1 in 12 plain words seems to."""

_BOTH_SIDES = 0.3
"""Share of the stroke's columns that hold ink above it, and below it; an underline has none below (drawn hands)."""

_SLOPES = np.linspace(-0.25, 0.25, 21)
"""Slopes of the strokes that are tried: 14 degrees up or down."""


def crossed_out_spans(line: Picture) -> list[tuple[float, float]]:
    """Find what may be crossed-out words in a line.

    Parameters
    ----------
    line : ndarray, shape (h, w), uint8
        Ink dark on white, from `swatchread.writing.ink_lines.lines_of`.

    Returns
    -------
    list of (float, float)
        Where each begins and ends, as shares of the line's width, from the left.
    """
    wide = max(2, round(line.shape[1] * _HEIGHT / line.shape[0]))
    drawn = cv2.resize(line, (wide, _HEIGHT), interpolation=cv2.INTER_AREA)
    ink = drawn < 255 * (1 - _INK)
    joined = ndimage.binary_closing(np.pad(ink.any(axis=0), _HEIGHT), np.ones(round(_GAP * _HEIGHT)))
    words = [word for (word,) in ndimage.find_objects(ndimage.label(joined[_HEIGHT:-_HEIGHT])[0])]
    long = [word for word in words if word.stop - word.start >= _LEAST_WIDTH * _HEIGHT]
    return [(w.start / wide, w.stop / wide) for w in long if _is_struck(ink[:, w])]


def without_spans(letters: Floats, spans: list[tuple[float, float]]) -> Floats:
    """Return the letters of a line with nothing but a space in some places.

    Parameters
    ----------
    letters : ndarray, shape (n, 1 + len(LETTERS))
        From `swatchread.writing.recogniser.Recogniser.letters`.
    spans : list of (float, float)
        From `crossed_out_spans`.
    """
    kept = letters.copy()
    for left, right in spans:
        places = slice(round(left * len(letters)), round(right * len(letters)))
        kept[places] = np.log(1e-12)
        kept[places, -1] = 0.0
    return kept


def _is_struck(word: npt.NDArray[np.bool_]) -> bool:
    """Tell whether a straight stroke runs through a word, or strokes to and fro that leave no gap in a row."""
    high, wide = word.shape
    reach = round(_THROUGH * wide)
    padded = np.pad(word.astype(np.uint8), ((high // 2, high // 2), (0, 0)))
    columns = np.arange(wide)
    for slope in _SLOPES:
        rows = np.arange(2 * high)[:, None] + np.round(slope * (columns - wide / 2)).astype(int)
        level = np.take_along_axis(padded, np.clip(rows, 0, 2 * high - 1), axis=0)
        closed = cv2.morphologyEx(level, cv2.MORPH_CLOSE, np.ones((1, 3)))
        thick = cv2.dilate(closed, np.ones((3, 1)))  # a hand's stroke is not ruled
        inked = np.pad(np.cumsum(thick, axis=1, dtype=np.int32), ((0, 0), (1, 0)))
        runs = np.argwhere(inked[:, reach:] - inked[:, :-reach] == reach)
        above = np.maximum.accumulate(level, axis=0)
        below = np.maximum.accumulate(level[::-1], axis=0)[::-1]
        for row, start in runs:
            part = slice(start, start + reach)
            if 4 <= row < 2 * high - 4 and min(above[row - 4, part].mean(), below[row + 4, part].mean()) >= _BOTH_SIDES:
                return True
    return False
