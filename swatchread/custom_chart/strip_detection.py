"""Where a strip of chips lies beside a known chart, before its colours are known."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from swatchread.chart.chart_detection import ChartFind, lattices_for
from swatchread.chart.definition import ChartDefinition
from swatchread.chart.lattice import Lattice
from swatchread.chart.subpixel_lattice import refine
from swatchread.colour.cielab import Floats
from swatchread.errors import NoStripError
from swatchread.photo.geometry import fit_homography, project

LEAST_CHIPS = 10
MOST_CHIPS = 400
_SHARE = 0.85
_USUAL_MOST = 60
_FRAME = 0.25
_FULL = 0.7

Size = tuple[int, int]


def blank_strip(size: Size) -> ChartDefinition:
    """Return a strip of which only the layout is known."""
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
        Rows and columns of the strip as it lies upright, or turned by a quarter.

    Returns
    -------
    ChartFind
        Of a `blank_strip`, its first row and column where they are as the known chart reads.

    Raises
    ------
    NoStripError
        If nothing of the kind lies there.
    """
    photo, name = beside.photo, beside.photo.path.name
    away = [x for x in lattices_for(blank_strip(size or (1, LEAST_CHIPS)), photo) if _apart(x, beside)]
    # A pattern of far more like squares is a table cloth.
    most = 2 * (size[0] * size[1] if size else _USUAL_MOST)
    placed = [p for lattice in away if len(lattice.places) <= most for p in _placements(lattice, beside, size)]
    if not placed:
        asked = f"a strip of {size[0]} × {size[1]} chips" if size else f"a strip of {LEAST_CHIPS} chips or more"
        raise NoStripError(
            f"{name} shows the chart, but not {asked} beside it", "no such rows of flat squares stand out"
        )
    return max(placed, key=lambda p: (p[1], -p[2]))[0]


def _apart(lattice: Lattice, beside: ChartFind) -> bool:
    """Tell whether a lattice lies beside the chart, not on it."""
    at = beside.to_lattice(beside.photo.to_full(lattice.centres))
    rows, columns = beside.chart.rows, beside.chart.columns
    on = ((at > -_FRAME) & (at < np.array([columns, rows]) + _FRAME)).all(axis=1)
    return float(on.mean()) < 0.2


def _placements(lattice: Lattice, beside: ChartFind, size: Size | None) -> list[tuple[ChartFind, int, float]]:
    """Return a strip's places on a lattice that fit its size, each with how many chips show edges, and how well."""
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
    """Return (x, y, rows, columns) of a size's places on a lattice: a rim may be missing, or a stray line be added."""
    high, wide = there
    rows, columns = size
    ys = range(min(0, high - rows), max(0, high - rows) + 1)
    return [(x, y, rows, columns) for y in ys for x in range(min(0, wide - columns), max(0, wide - columns) + 1)]


def _trimmed(taken: npt.NDArray[np.int64]) -> tuple[int, int, int, int]:
    """Return (x, y, rows, columns) of a lattice without the outer lines that are less than half there."""
    rows = np.flatnonzero(taken.mean(axis=1) >= 0.5 * taken.mean(axis=1).max())
    columns = np.flatnonzero(taken[rows].mean(axis=0) >= 0.5)
    if not len(columns):
        return 0, 0, 0, 0
    x, y = int(columns[0]), int(rows[0])
    return x, y, int(rows[-1]) - y + 1, int(columns[-1]) - x + 1


def _upright(lattice: Lattice, corner: tuple[int, int], size: Size, beside: ChartFind) -> ChartFind:
    """Lay a blank strip on the lattice, its rows as nearly along the known chart's as they go."""
    rows, columns = size
    box = np.array([[0, 0], [columns, 0], [columns, rows], [0, rows]], dtype=np.float64)
    pixels = beside.photo.to_full(project(lattice.homography, box - 0.5 + corner))
    across, down = pixels[1] - pixels[0], pixels[3] - pixels[0]
    if across[0] * down[1] - across[1] * down[0] < 0:  # a lattice may be numbered in mirror order, a strip not
        pixels = pixels[[1, 0, 3, 2]]
    seen = beside.to_lattice(pixels)
    right = np.roll(seen, -1, axis=0) - seen
    first = int(np.argmax(right[:, 0] / np.hypot(*right.T)))
    turned = (rows, columns) if first % 2 == 0 else (columns, rows)
    strip = blank_strip(turned)
    outer = np.array([[0, 0], [turned[1], 0], [turned[1], turned[0]], [0, turned[0]]], dtype=np.float64)
    return ChartFind(beside.photo, strip, fit_homography(outer, np.roll(pixels, -first, axis=0)), _SHARE, 0.0)


def _refined(strip: ChartFind) -> tuple[ChartFind, int, float]:
    photo = strip.photo
    to_full = _to_full(photo.scale)
    homography, share, residual = refine(np.linalg.inv(to_full) @ strip.homography, strip.chart, photo.small)
    seen = np.isfinite(residual).all(axis=1)
    off = float(np.median(np.hypot(*residual[seen].T))) if seen.any() else 1.0
    return ChartFind(photo, strip.chart, to_full @ homography, share, 0.0), int(seen.sum()), off


def _to_full(scale: float) -> Floats:
    return np.array([[scale, 0.0, (scale - 1.0) / 2.0], [0.0, scale, (scale - 1.0) / 2.0], [0.0, 0.0, 1.0]])
