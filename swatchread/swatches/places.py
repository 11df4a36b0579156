"""Where rows and columns ask for a swatch: their empty places, lines that they skip, and one step beyond their ends."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from swatchread.colour import Floats
from swatchread.swatches.grid import Grid

_SKIPPED = 0.3
"""How far a gap between lines may be from a whole number of steps where a line in between is looked for."""


def empty_places(grid: Grid) -> Floats:
    """Return where swatches could lie and none was found.

    Parameters
    ----------
    grid : Grid
        With cells.

    Returns
    -------
    ndarray, shape (n, 2)
        Plane pixels.
    """
    cos, sin = np.cos(grid.angle), np.sin(grid.angle)
    turn = np.array([[cos, -sin], [sin, cos]])
    centres = np.array([c.blob.centre for c in grid.cells]) @ turn
    column = np.array([c.column for c in grid.cells])
    row = np.array([c.row for c in grid.cells])
    xs, lean_x = _lines(centres[:, 0], column, centres[:, 1])
    ys, lean_y = _lines(centres[:, 1], row, centres[:, 0])
    middle = centres.mean(axis=0)
    taken = {(xs[c - 1], ys[r - 1]) for c, r in zip(column, row, strict=True)}
    places = [(u, v) for v in _more(ys) for u in _more(xs) if (u, v) not in taken]
    if not places:
        return np.zeros((0, 2))
    flat = np.array(places)
    leaning = flat + np.stack([lean_x * (flat[:, 1] - middle[1]), lean_y * (flat[:, 0] - middle[0])], axis=-1)
    return np.asarray(leaning @ turn.T)


def _lines(along: Floats, line: npt.NDArray[np.int64], across: Floats) -> tuple[list[float], float]:
    """Return where each line lies at the middle of the grid, and how much the lines lean, all alike."""
    number = int(line.max())
    design = np.zeros((len(along), number + 1))
    design[np.arange(len(along)), line - 1] = 1.0
    design[:, -1] = across - across.mean()
    held = np.zeros(number + 1)
    held[-1] = 1e-3 * float((design[:, -1] ** 2).sum()) + 1.0
    solution = np.linalg.solve(design.T @ design + np.diag(held + 1e-9), design.T @ along)
    return [float(v) for v in solution[:-1]], float(solution[-1])


def _more(lines: list[float]) -> list[float]:
    """Return the lines with those that they skip, and one beyond each end."""
    steps = np.diff(lines)
    if not len(steps):
        return lines
    usual = float(np.median(steps))
    extra = [lines[0] - usual, lines[-1] + usual]
    for start, step in zip(lines, steps, strict=False):
        count = round(step / usual)
        if len(steps) > 1 and count in (2, 3) and abs(step / usual - count) < _SKIPPED:
            extra += [start + step * k / count for k in range(1, count)]
    return lines + extra
