"""The lines of a grid: the direction of its rows, and the row and the column in which each mark stands."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from swatchread.colour.cielab import Floats
from swatchread.photo.geometry import rotation

Lines = npt.NDArray[np.int64]
"""The number of the row, or of the column, of each of some marks."""

_APART = 0.5
"""Share of a swatch's usual extent by which lines must lie apart. Measured on development scenes."""

_MOST_SLANT = 0.15
"""Slant of lines against the grid's own direction, at most."""


def direction_of_rows(centres: Floats) -> float:
    """Return the direction of the rows from the vectors between near neighbours: radians, within 45° of the x axis."""
    if len(centres) < 2:
        return 0.0
    apart = centres[None] - centres[:, None]
    distance = np.hypot(apart[..., 0], apart[..., 1])
    np.fill_diagonal(distance, np.inf)
    near = np.argsort(distance, axis=1)[:, : min(4, len(centres) - 1)]
    vectors = np.take_along_axis(apart, near[..., None], axis=1).reshape(-1, 2)
    length = np.take_along_axis(distance, near, axis=1).ravel()
    weight = 1.0 / (1.0 + (length / max(1.0, np.median(distance.min(axis=1))) - 1.0) ** 2)
    direction = np.arctan2(vectors[:, 1], vectors[:, 0])
    angle = np.angle(np.sum(weight * np.exp(4j * direction))) / 4.0
    for spread in (0.25, 0.12, 0.08):  # radians: diagonal neighbours drop out of the mean
        turn = np.angle(np.exp(4j * (direction - angle))) / 4.0
        close = weight * np.exp(-((turn / spread) ** 2))
        angle += float((close * turn).sum() / max(close.sum(), 1e-9))
    return float(np.angle(np.exp(4j * angle)) / 4.0)


def rows_and_columns(centres: Floats, angle: float, extent: float) -> tuple[Lines, Lines, Floats]:
    """Return the row and the column of each centre, and how far it is off their lines."""
    x, y = (centres @ rotation(angle)).T
    rows, off_y = group_in_lines(y, x, extent)
    columns, off_x = group_in_lines(x, y, extent)
    return rows, columns, np.hypot(off_x, off_y)


def group_in_lines(along: Floats, across: Floats, extent: float) -> tuple[Lines, Floats]:
    """Group values into lines that may all slant alike; return the number of each, from 1, and how far off it is."""
    slant = 0.0
    lines = np.zeros(len(along), dtype=np.int64)
    off = np.zeros(len(along))
    for _ in range(3):
        straight = along - slant * across
        order = np.argsort(straight, kind="stable")
        jumps = np.diff(straight[order]) > _APART * extent
        lines[order] = np.concatenate([[0], np.cumsum(jumps)])
        mean_a, mean_b = _means(along, lines), _means(across, lines)
        da, db = along - mean_a, across - mean_b
        spread = float((db**2).sum())
        slant = float(np.clip((da * db).sum() / spread, -_MOST_SLANT, _MOST_SLANT)) if spread > extent**2 else 0.0
        off = da - slant * db
    return lines + 1, np.abs(off)


def _means(values: Floats, lines: Lines) -> Floats:
    count = np.bincount(lines)
    means: Floats = (np.bincount(lines, values) / np.maximum(count, 1))[lines]
    return means
