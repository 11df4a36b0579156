"""What the painter tells when the program cannot see it: the corners of the chart or the card, and the card's rows."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from swatchread.colour.cielab import Floats
from swatchread.errors import CornersError, UsageError

MOST_LINES = 40
"""Rows, or columns, of a card at most: more than any card holds."""

_LEAST_SIDE = 24.0
"""Side of a card or a chart, photo pixels, below which its swatches are too small to be measured."""

_LEAST_TURN = 0.2
"""Sine of the flattest corner that a flat thing seen by a camera may show."""


def _no_lines() -> Floats:
    return np.zeros((0, 2, 2))


def _no_points() -> Floats:
    return np.zeros((0, 2))


@dataclass(frozen=True, eq=False)
class GridLines:
    """The lines that part a card's rows and columns.

    Attributes
    ----------
    rows, columns : ndarray, shape (n, 2, 2)
        The two ends of each line, photo pixels after the EXIF turn.
    """

    rows: Floats = field(default_factory=_no_lines)
    columns: Floats = field(default_factory=_no_lines)


@dataclass(frozen=True, eq=False)
class ManualHints:
    """What the painter has told; None where the program finds it by itself.

    Attributes
    ----------
    grid : tuple of int or None
        Rows and columns of the card, as its writing reads.
    card : ndarray, shape (4, 2), or None
        The card's corners, photo pixels after the EXIF turn, clockwise.
    chart : ndarray, shape (4, 2), or None
        The corners of the chart's patch area, likewise; the colours decide which is the first.
    quarters : int
        Quarter turns clockwise, 0 to 3, by which the card lies further than its writing says.
    lines : GridLines or None
        Where the rows and columns part.
    added, removed : ndarray, shape (n, 2)
        A place in each swatch that was missed, and in each mark that is no swatch; photo pixels.
    meant : ndarray, shape (4, 2), or None
        About where the card lies that is meant, if the photo shows several: its corners in an earlier reading.
    """

    grid: tuple[int, int] | None = None
    card: Floats | None = None
    chart: Floats | None = None
    quarters: int = 0
    lines: GridLines | None = None
    added: Floats = field(default_factory=_no_points)
    removed: Floats = field(default_factory=_no_points)
    meant: Floats | None = None

    @property
    def is_about_swatches(self) -> bool:
        """Whether something was told that is true of one card only."""
        some = len(self.added) or len(self.removed) or self.quarters
        return bool(some or self.grid is not None or self.lines is not None)

    def check(self, width: int, height: int) -> None:
        """Refuse corners that a photo cannot hold.

        Parameters
        ----------
        width, height : int
            Of the photo after the EXIF turn, pixels.

        Raises
        ------
        CornersError
            If a corner lies outside the photo.
        """
        for corners, thing in ((self.card, "card"), (self.chart, "chart")):
            if corners is None:
                continue
            outside = ((corners < -0.5) | (corners > [width - 0.5, height - 0.5])).any(axis=1)
            if outside.any():
                x, y = corners[outside][0]
                raise CornersError(
                    f"A corner of the {thing} lies outside the photo",
                    f"{x:g},{y:g} is not within its {width} × {height} pixels",
                )


def parse_grid(text: str) -> tuple[int, int]:
    """Read the size of a grid: "6x3" is six rows of three.

    Raises
    ------
    UsageError
        If the text is anything else.
    """
    found = re.fullmatch(r"\s*(\d{1,3})\s*[x×X*]\s*(\d{1,3})\s*", text)
    size = (int(found[1]), int(found[2])) if found else (0, 0)
    if not all(1 <= n <= MOST_LINES for n in size):
        raise UsageError(
            f"{text!r} is not a number of rows and columns",
            f"each may be 1 to {MOST_LINES}",
            "Write rows, an x and columns, for instance 6x3",
        )
    return size


def parse_corners(words: Sequence[str], thing: str) -> Floats:
    """Read four corners, in any order, and return them clockwise.

    Parameters
    ----------
    words : sequence of str
        Four times "x,y", pixels.
    thing : str
        What they are corners of, as messages call it.

    Returns
    -------
    ndarray, shape (4, 2)

    Raises
    ------
    CornersError
        If they are not numbers, or not the corners of a convex quadrangle.
    """
    try:
        points = np.array([[float(part) for part in word.split(",")] for word in words], dtype=np.float64)
    except ValueError:
        points = np.zeros((0, 2))
    if points.shape != (4, 2) or not np.isfinite(points).all():
        raise CornersError(f"The corners of the {thing} cannot be read", " ".join(words))
    return clockwise(points, thing)


def clockwise(points: Floats, thing: str) -> Floats:
    """Return the corners of a convex quadrangle clockwise as seen in the photo; see `parse_corners`."""
    off = points - points.mean(axis=0)
    corners: Floats = points[np.argsort(np.arctan2(off[:, 1], off[:, 0]))]
    sides = np.roll(corners, -1, axis=0) - corners
    length = np.hypot(*sides.T)
    following = np.roll(sides, -1, axis=0)
    cross = sides[:, 0] * following[:, 1] - sides[:, 1] * following[:, 0]
    bend = cross / np.maximum(length * np.roll(length, -1), 1e-9)
    if length.min() < _LEAST_SIDE or bend.min() < _LEAST_TURN:
        told = "  ".join(f"{x:g},{y:g}" for x, y in points)
        raise CornersError(f"These are not four corners of a {thing}: {told}", "they span no four-sided area")
    return corners
