"""Finding a strip of chips beside a known chart, before its colours are known."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from swatchread.chart.chart_detection import ChartFind, lattices_for
from swatchread.chart.definition import ChartDefinition
from swatchread.chart.lattice import Lattice
from swatchread.chart.subpixel_lattice import refine
from swatchread.errors import NoStripError
from swatchread.photo.geometry import fit_homography, project

LEAST_CHIPS, MOST_CHIPS = 10, 400
"""Chips of a strip at least, for the camera's fit, and at most."""

_SHARE = 0.85
"""Side of a chip in distances between chips, to begin with; it is then measured."""

_USUAL_MOST = 60
"""Chips of a strip of unknown size at most: more squares than twice that are a pattern."""

_FRAME, _ON_CHART = 0.25, 0.2
"""Width of the known chart's frame in its patches, and share of a lattice's places on it that makes it the chart's."""

_FULL = 0.7
"""Share of a strip's places that must show a square."""

_LINE_SHOWN = 0.5
"""Share of an outer row or column that must show squares to count as the strip's."""

Size = tuple[int, int]


def blank_strip(size: Size) -> ChartDefinition:
    """Return the definition of a strip of which only the layout is known."""
    count = size[0] * size[1]
    names = tuple(f"chip {k + 1}" for k in range(count))
    return ChartDefinition("strip", "", "-", *size, _SHARE, 0.0, names, np.zeros((count, 3)), np.zeros(count))


def find_strip(beside: ChartFind, size: Size | None) -> ChartFind:
    """Find a strip of chips beside a chart.

    Parameters
    ----------
    beside : ChartFind
        The known chart in the same photo.
    size : tuple of int, optional
        Rows and columns of the strip; it may lie turned by a quarter.

    Returns
    -------
    ChartFind
        Of a `blank_strip`, with its first row and column as they lie when the known chart is upright.

    Raises
    ------
    NoStripError
        If there is none.
    """
    photo, name = beside.photo, beside.photo.path.name
    away = [x for x in lattices_for(blank_strip(size or (1, LEAST_CHIPS)), photo) if _is_beside(x, beside)]
    # A pattern of far more squares is a table cloth.
    most = 2 * (size[0] * size[1] if size else _USUAL_MOST)
    placed = [p for lattice in away if len(lattice.places) <= most for p in _placements(lattice, beside, size)]
    if not placed:
        wanted = f"a strip of {size[0]} × {size[1]} chips" if size else f"a strip of {LEAST_CHIPS} chips or more"
        raise NoStripError(
            f"{name} shows the chart, but not {wanted} beside it", "no such rows of flat squares were found"
        )
    return max(placed, key=lambda p: (p[1], -p[2]))[0]


def _is_beside(lattice: Lattice, beside: ChartFind) -> bool:
    """Tell whether a lattice lies beside the chart, not on it."""
    places = beside.to_lattice(beside.photo.to_full(lattice.centres))
    rows, columns = beside.chart.rows, beside.chart.columns
    on = ((places > -_FRAME) & (places < np.array([columns, rows]) + _FRAME)).all(axis=1)
    return float(on.mean()) < _ON_CHART


def _placements(lattice: Lattice, beside: ChartFind, size: Size | None) -> list[tuple[ChartFind, int, float]]:
    """Return where a strip of this size fits on a lattice, each with how many chips show edges, and their misfit."""
    wide, high = (int(n) + 1 for n in lattice.places.max(axis=0))
    taken = np.zeros((high, wide), dtype=np.int64)
    taken[lattice.places[:, 1], lattice.places[:, 0]] = 1
    windows = [w for one in {size, size[::-1]} for w in _windows(taken.shape, one)] if size else [_trimmed(taken)]
    found = []
    for x, y, rows, columns in sorted(windows):
        if not LEAST_CHIPS <= rows * columns <= MOST_CHIPS:
            continue
        if taken[max(y, 0) : y + rows, max(x, 0) : x + columns].sum() < _FULL * rows * columns:
            continue
        strip = _upright(lattice, (x, y), (rows, columns), beside)
        if size is None or (strip.chart.rows, strip.chart.columns) == size:
            found.append(_refined(strip))
    return found


def _windows(there: tuple[int, ...], size: Size) -> list[tuple[int, int, int, int]]:
    """Return (x, y, rows, columns) of the places for a size: an outer line may be missing, or a stray one added."""
    high, wide = there
    rows, columns = size
    ys = range(min(0, high - rows), max(0, high - rows) + 1)
    return [(x, y, rows, columns) for y in ys for x in range(min(0, wide - columns), max(0, wide - columns) + 1)]


def _trimmed(taken: npt.NDArray[np.int64]) -> tuple[int, int, int, int]:
    """Return (x, y, rows, columns) of a lattice without the outer lines that show less than half of their squares."""
    rows = np.flatnonzero(taken.mean(axis=1) >= _LINE_SHOWN * taken.mean(axis=1).max())
    columns = np.flatnonzero(taken[rows].mean(axis=0) >= _LINE_SHOWN)
    if not len(columns):
        return 0, 0, 0, 0
    x, y = int(columns[0]), int(rows[0])
    return x, y, int(rows[-1]) - y + 1, int(columns[-1]) - x + 1


def _upright(lattice: Lattice, corner: tuple[int, int], size: Size, beside: ChartFind) -> ChartFind:
    """Lay a blank strip on the lattice, turned so that its rows run most nearly along those of the known chart."""
    rows, columns = size
    box = np.array([[0, 0], [columns, 0], [columns, rows], [0, rows]], dtype=np.float64)
    pixels = beside.photo.to_full(project(lattice.homography, box - 0.5 + corner))
    across, down = pixels[1] - pixels[0], pixels[3] - pixels[0]
    if across[0] * down[1] - across[1] * down[0] < 0:  # a lattice may be numbered in mirror order, a strip is not
        pixels = pixels[[1, 0, 3, 2]]
    seen = beside.to_lattice(pixels)
    right = np.roll(seen, -1, axis=0) - seen
    first = int(np.argmax(right[:, 0] / np.hypot(*right.T)))
    turned = (rows, columns) if first % 2 == 0 else (columns, rows)
    strip = blank_strip(turned)
    outer = np.array([[0, 0], [turned[1], 0], [turned[1], turned[0]], [0, turned[0]]], dtype=np.float64)
    return ChartFind(beside.photo, strip, fit_homography(outer, np.roll(pixels, -first, axis=0)), _SHARE)


def _refined(strip: ChartFind) -> tuple[ChartFind, int, float]:
    photo = strip.photo
    to_full = photo.small_to_full
    homography, share, residual = refine(np.linalg.inv(to_full) @ strip.homography, strip.chart, photo.small)
    seen = np.isfinite(residual).all(axis=1)
    off = float(np.median(np.hypot(*residual[seen].T))) if seen.any() else 1.0
    return ChartFind(photo, strip.chart, to_full @ homography, share), int(seen.sum()), off
