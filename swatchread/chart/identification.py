"""Which chart lies on a lattice, where on it, and which way round: told by colour alone.

Every placement of the chart on the lattice is tried in its four turns and their mirror images; `colour_misfit` scores
them.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from swatchread.chart.colour_misfit import misfit
from swatchread.chart.definition import ChartDefinition
from swatchread.chart.lattice import Lattice
from swatchread.colour.cielab import Floats
from swatchread.photo.geometry import fit_homography, polygon_area, project
from swatchread.photo.icc_profile import SRGB_TO_XYZ_D50, srgb_curve

_CELL_SAMPLES = np.stack(np.meshgrid(np.linspace(-0.22, 0.22, 5), np.linspace(-0.22, 0.22, 5)), axis=-1).reshape(-1, 2)
"""Where a cell is sampled about its centre, lattice units: well inside the smallest patches."""

_CLIPPED = 253
"""8-bit value from which a sample counts as clipped: the reduced copy averages clipped pixels with others."""

_CLIPPED_SHARE = 0.2
"""Share of clipped samples from which a cell counts as clipped."""

_MARGIN = 5
"""How many cells the lattice is continued beyond its members: patches at the chart's rim may be missing among them."""

_LEAST_MEMBERS = 5
"""Fewest members of the lattice on the chart's cells: fewer give no reason to try a window."""

_LEAST_SHARE_OF_MEMBERS = 0.6
"""A window is tried if it holds this share of the members that the fullest window holds."""


@dataclass(frozen=True, eq=False)
class Placement:
    """One way to lay the chart on a lattice.

    Attributes
    ----------
    homography : ndarray, shape (3, 3)
        From the chart's lattice units to pixels of the picture searched.
    mirrored : bool
    score : float
        Misfit: about 1 where a photo's own distortions end and chance begins; less is better.
    pitch : float
        Typical distance between neighbouring patches, pixels of the picture searched.
    beyond : float
        Share of the places right round the chart that members of the lattice take: 0 for a chart that stands alone.
    """

    homography: Floats
    mirrored: bool
    score: float
    pitch: float
    beyond: float = 0.0


def best_placement(lattice: Lattice, chart: ChartDefinition, picture: npt.NDArray[np.uint8]) -> Placement | None:
    """Return the best-fitting placement of a chart on a lattice.

    Parameters
    ----------
    lattice : Lattice
    chart : ChartDefinition
    picture : ndarray, shape (h, w, 3), uint8, RGB

    Returns
    -------
    Placement or None
        None where the chart has no room on the lattice within the picture.
    """
    origin, cells, unclipped = _sample_cells(lattice, picture)
    windows = _windows(lattice, chart, origin, cells)
    if not len(windows):
        return None
    measured, valid, trials = [], [], []
    for layout in _layouts(chart):
        high, wide = layout.shape
        fitting = windows[(windows[:, 2:] == (wide, high)).all(axis=1)]
        # Where in a window each of the chart's patches would lie.
        row, column = np.divmod(np.argsort(layout.ravel()), wide)
        cell_of_patch = fitting[:, 1, None] + row, fitting[:, 0, None] + column
        measured.append(cells[cell_of_patch])
        valid.append(unclipped[cell_of_patch])
        trials += [(x, y, layout) for x, y in (fitting[:, :2] + origin).tolist()]
    scores = misfit(np.concatenate(measured), np.concatenate(valid), chart.xyz)
    best = int(np.argmin(scores))
    x, y, layout = trials[best]
    return _placement(lattice, chart, (x, y), layout, float(scores[best]))


def _sample_cells(
    lattice: Lattice, picture: npt.NDArray[np.uint8]
) -> tuple[npt.NDArray[np.int64], Floats, npt.NDArray[np.bool_]]:
    """Return the first cell's place, the cells' linear colours (NaN beyond the picture), and which are not clipped."""
    low, high = lattice.places.min(axis=0) - _MARGIN, lattice.places.max(axis=0) + _MARGIN
    gx, gy = np.meshgrid(np.arange(low[0], high[0] + 1), np.arange(low[1], high[1] + 1))
    places = np.stack([gx, gy], axis=-1).astype(np.float64)
    points = project(lattice.homography, places[..., None, :] + _CELL_SAMPLES)
    # Far outside, the perspective can turn over; such places are not on the picture.
    depth = places @ lattice.homography[2, :2] + lattice.homography[2, 2]
    col, row = np.rint(points[..., 0]), np.rint(points[..., 1])
    h, w = picture.shape[:2]
    inside = ((col >= 0) & (col < w) & (row >= 0) & (row < h)).all(axis=-1) & (depth > 0.05)
    col, row = np.clip(col, 0, w - 1).astype(np.intp), np.clip(row, 0, h - 1).astype(np.intp)
    stored = picture[row, col]
    linear = srgb_curve(np.median(stored, axis=2) / 255.0)
    linear[~inside] = np.nan
    clipped = (stored >= _CLIPPED).any(axis=-1).mean(axis=-1) > _CLIPPED_SHARE
    return low, linear, ~clipped


def _windows(
    lattice: Lattice, chart: ChartDefinition, origin: npt.NDArray[np.int64], cells: Floats
) -> npt.NDArray[np.int64]:
    """Return x, y, columns and rows of the windows that lie in the picture and hold most members, shape (n, 4)."""
    down, across = cells.shape[:2]
    occupied = np.zeros((down, across), dtype=np.int64)
    occupied[lattice.places[:, 1] - origin[1], lattice.places[:, 0] - origin[0]] = 1
    beyond = np.isnan(cells[..., 0]).astype(np.int64)
    windows, members = [np.zeros((0, 4), dtype=np.int64)], [np.zeros(0, dtype=np.int64)]
    for wide, high in {(chart.columns, chart.rows), (chart.rows, chart.columns)}:
        if down < high or across < wide:
            continue
        count = np.lib.stride_tricks.sliding_window_view(occupied, (high, wide)).sum(axis=(2, 3))
        missing = np.lib.stride_tricks.sliding_window_view(beyond, (high, wide)).sum(axis=(2, 3))
        y, x = np.nonzero((count >= _LEAST_MEMBERS) & (missing == 0))
        windows.append(np.stack([x, y, np.full_like(x, wide), np.full_like(x, high)], axis=-1))
        members.append(count[y, x])
    held = np.concatenate(members)
    fullest: int = held.max(initial=0)
    return np.concatenate(windows)[held >= _LEAST_SHARE_OF_MEMBERS * fullest]


def _layouts(chart: ChartDefinition) -> list[npt.NDArray[np.int64]]:
    """Return the eight ways to lay the chart's patches out: four turns, plain and mirrored.

    A single row looks the same mirrored and turned by half: it is taken for turned.
    """
    plain = np.arange(chart.rows * chart.columns).reshape(chart.rows, chart.columns)
    sides = (plain,) if min(plain.shape) == 1 else (plain, plain[:, ::-1])
    return [np.rot90(side, turn) for side in sides for turn in range(4)]


def _placement(
    lattice: Lattice, chart: ChartDefinition, corner: tuple[int, int], layout: npt.NDArray[np.int64], score: float
) -> Placement:
    """Turn a window's first cell and a layout of patches into a homography of the chart's own units."""
    rows, columns = np.mgrid[0 : layout.shape[0], 0 : layout.shape[1]]
    own = chart.centres[layout.ravel()]
    places = np.stack([columns + corner[0], rows + corner[1]], axis=-1).reshape(-1, 2).astype(np.float64)
    if min(layout.shape) == 1:
        own, places = _both_sides_of(own), _both_sides_of(places)
    homography = fit_homography(own, project(lattice.homography, places))
    mirrored = polygon_area(project(homography, chart.corners)) < 0
    return Placement(homography, mirrored, score, lattice.pitch, _share_round(lattice, corner, layout.shape))


def _share_round(lattice: Lattice, corner: tuple[int, int], shape: tuple[int, ...]) -> float:
    """Return the share of the places right round a window of a lattice that members take."""
    high, wide = shape
    column, row = (lattice.places - corner).T
    near = (column >= -1) & (column <= wide) & (row >= -1) & (row <= high)
    inside = (column >= 0) & (column < wide) & (row >= 0) & (row < high)
    return float(np.count_nonzero(near & ~inside) / (2 * (wide + high) + 4))


def _both_sides_of(line: Floats) -> Floats:
    """Return the points half a pitch to either side of points in one line: centres alone fix no perspective."""
    direction = (line[-1] - line[0]) / np.linalg.norm(line[-1] - line[0])
    normal = np.array([-direction[1], direction[0]]) / 2.0
    return np.concatenate([line - normal, line + normal])


def turns_apart(chart: ChartDefinition) -> float:
    """Return how badly a chart's own colours fit it when it is turned or mirrored: the least misfit of any such way.

    Parameters
    ----------
    chart : ChartDefinition

    Returns
    -------
    float
        In the measure of `Placement.score`; infinite where there is no other way.
    """
    linear = np.maximum(chart.xyz @ np.linalg.inv(SRGB_TO_XYZ_D50).T, 0.0)
    others = [o for o in _layouts(chart)[1:] if o.shape == (chart.rows, chart.columns)]
    if not others:
        return float("inf")
    measured = np.zeros((len(others), len(linear), 3))
    for trial, layout in zip(measured, others, strict=True):
        trial[layout.ravel()] = linear
    return float(misfit(measured, np.ones(measured.shape[:2], dtype=bool), chart.xyz).min())
