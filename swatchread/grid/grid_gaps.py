"""The gaps of a grid: its empty cells, the lines that it skips, and the lines one step beyond its ends."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from swatchread.colour.cielab import Floats
from swatchread.grid.swatch_grid import Grid
from swatchread.photo.geometry import rotation
from swatchread.plane.finder_settings import settings

SKIPPED = 5
"""Number of the first line that a grid skips."""


@dataclass(frozen=True, eq=False)
class GridGaps:
    """Where swatches could lie although none was found.

    Attributes
    ----------
    centres : ndarray, shape (n, 2)
        Plane pixels.
    beyond : ndarray of int, shape (n,)
        0 within the grid; 1 and 2 one step beyond its first and last column, 3 and 4 beyond its first and last row;
        from 5 on a number for each line that it skips.
    """

    centres: Floats
    beyond: npt.NDArray[np.int64]


def missing_cells(grid: Grid) -> GridGaps:
    """Return where swatches could lie although none was found.

    Parameters
    ----------
    grid : Grid
        With cells.

    Returns
    -------
    GridGaps
    """
    turn = rotation(grid.angle)
    centres = grid.centres @ turn
    column = np.array([c.column for c in grid.cells])
    row = np.array([c.row for c in grid.cells])
    xs, lean_x = _fitted_lines(centres[:, 0], column, centres[:, 1])
    ys, lean_y = _fitted_lines(centres[:, 1], row, centres[:, 0])
    middle = centres.mean(axis=0)
    taken = {(xs[c - 1], ys[r - 1]) for c, r in zip(column, row, strict=True)}
    wide, high = np.median([c.blob.size for c in grid.cells], axis=0).tolist()
    more_x, more_y = _skipped(xs, wide), _skipped(ys, high)
    places = [(u, v, 0) for v in ys for u in xs if (u, v) not in taken]
    places += [(u, v, side) for side, u in [*_ends(xs, 1), *enumerate(more_x, SKIPPED)] for v in ys + more_y]
    places += [(u, v, side) for side, v in [*_ends(ys, 3), *enumerate(more_y, SKIPPED + len(more_x))] for u in xs]
    places += [(u, v, side) for side, v in _ends(ys, 3) for u in more_x]
    table = np.array(places, dtype=np.float64).reshape(-1, 3)
    flat = table[:, :2]
    leaning = flat + np.stack([lean_x * (flat[:, 1] - middle[1]), lean_y * (flat[:, 0] - middle[0])], axis=-1)
    return GridGaps(leaning @ turn.T, table[:, 2].astype(np.int64))


def _fitted_lines(along: Floats, line: npt.NDArray[np.int64], across: Floats) -> tuple[list[float], float]:
    """Return where each line lies at the middle of the grid, and how much the lines lean, all alike."""
    number = int(line.max())
    design = np.zeros((len(along), number + 1))
    design[np.arange(len(along)), line - 1] = 1.0
    design[:, -1] = across - across.mean()
    held = np.zeros(number + 1)
    held[-1] = 1.0
    solution = np.linalg.solve(design.T @ design + np.diag(held + 1e-9), design.T @ along)
    return [float(v) for v in solution[:-1]], float(solution[-1])


def _skipped(lines: list[float], extent: float) -> list[float]:
    """Return where lines are skipped: where a step is two, three or four times the usual one.

    Where there is one step alone, a line may be skipped if a swatch of that extent fits between.
    """
    known = settings().grid
    steps = np.diff(lines)
    if len(steps) == 1 and steps[0] > 2.0 * extent:
        return [float(lines[0] + steps[0] / 2.0)]
    if len(steps) < 2:
        return []
    usual = _usual(steps)
    extra: list[float] = []
    for start, step in zip(lines, steps, strict=False):
        count = round(step / usual)
        if 2 <= count <= known.most_steps and abs(step / usual - count) < known.off_step:
            extra += [start + float(step) * k / count for k in range(1, count)]
    return extra


def _usual(steps: Floats) -> float:
    """Return the median step between lines: the smaller of two in the middle, for the other may skip lines."""
    return float(np.sort(steps)[(len(steps) - 1) // 2])


def _ends(lines: list[float], side: int) -> list[tuple[int, float]]:
    """Return a line beyond the first and one beyond the last, each with the number of its side."""
    if len(lines) < 2:
        return []
    usual = _usual(np.diff(lines))
    return [(side, lines[0] - usual), (side + 1, lines[-1] + usual)]
