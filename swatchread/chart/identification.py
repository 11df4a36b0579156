"""Which chart stands on a lattice, where on it, and which way round: told by colour alone.

Every placement of the chart on the lattice is tried in its four turns and their mirror images. A placement is scored by
how well one 3 × 3 matrix takes the chromaticities of its cells to the chart's, whatever the brightness of each cell, so
that a shadow or a fall-off of the light cannot hide the chart (after Finlayson, Gong & Fisher 2017, Color Homography).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from swatchread.chart.definition import ChartDefinition
from swatchread.chart.lattice import Lattice
from swatchread.colour.cielab import Floats
from swatchread.colour.order import median, medians
from swatchread.photo.geometry import fit_homography, polygon_area, project
from swatchread.photo.icc_profile import SRGB_TO_XYZ_D50, srgb_curve

_PROBE = np.stack(np.meshgrid(np.linspace(-0.22, 0.22, 5), np.linspace(-0.22, 0.22, 5)), axis=-1).reshape(-1, 2)
_ITERATIONS = 4
_HELD = 0.02
_DIM = 0.3
"""How firmly the matrix is held, in the weight of the cells, and the brightness over the usual from which a cell's
chromaticity counts half."""

_MOST_PALE = 8.0
_FLOOR = 0.004
_MARGIN = 5
_LEAST_MEMBERS = 5
_CLIPPED = 253


@dataclass(frozen=True, eq=False)
class Placement:
    """One way to lay the chart on a lattice.

    Attributes
    ----------
    homography : ndarray, shape (3, 3)
        From the chart's lattice units to pixels of the picture searched.
    mirrored : bool
    angle : float
        Trimmed mean error of the chromaticities, degrees.
    shading : float
        Robust spread of the log brightness that the matrix leaves.
    members : int
        Regions of the lattice that stand on the chart's cells.
    pitch : float
    """

    homography: Floats
    mirrored: bool
    angle: float
    shading: float
    members: int
    pitch: float

    @property
    def score(self) -> float:
        """Misfit: about 1 where a photo's own distortions end and chance begins; less is better."""
        return self.angle / _ANGLE_SCALE + self.shading / _SHADING_SCALE


_ANGLE_SCALE = 16.0
_SHADING_SCALE = 1.6


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
    origin, cells, bright = _sample(lattice, picture)
    windows = _windows(lattice, chart, origin, cells)
    if not len(windows):
        return None
    measured, valid, ways = [], [], []
    for order in _orders(chart):
        high, wide = order.shape
        fitting = windows[(windows[:, 2:] == (wide, high)).all(axis=1)]
        # Where in a window each of the chart's patches would lie.
        row, column = np.divmod(np.argsort(order.ravel()), wide)
        at = fitting[:, 1, None] + row, fitting[:, 0, None] + column
        measured.append(cells[at])
        valid.append(bright[at])
        ways += [(x, y, order) for x, y in (fitting[:, :2] + origin).tolist()]
    angle, shading = misfit(np.concatenate(measured), np.concatenate(valid), chart.xyz)
    best = int(np.argmin(angle / _ANGLE_SCALE + shading / _SHADING_SCALE))
    x, y, order = ways[best]
    return _placed(lattice, chart, (x, y), order, (float(angle[best]), float(shading[best])))


def _sample(lattice: Lattice, picture: npt.NDArray[np.uint8]) -> tuple[npt.NDArray[np.int64], Floats, Floats]:
    """Return linear mean colours of the lattice's cells and a margin; NaN where the picture ends."""
    low, high = lattice.places.min(axis=0) - _MARGIN, lattice.places.max(axis=0) + _MARGIN
    gx, gy = np.meshgrid(np.arange(low[0], high[0] + 1), np.arange(low[1], high[1] + 1))
    places = np.stack([gx, gy], axis=-1).astype(np.float64)
    points = project(lattice.homography, places[..., None, :] + _PROBE)
    # Far outside, the perspective can turn over; such places are not on the picture.
    depth = places @ lattice.homography[2, :2] + lattice.homography[2, 2]
    col, row = np.rint(points[..., 0]), np.rint(points[..., 1])
    h, w = picture.shape[:2]
    inside = ((col >= 0) & (col < w) & (row >= 0) & (row < h)).all(axis=-1) & (depth > 0.05)
    col, row = np.clip(col, 0, w - 1).astype(np.intp), np.clip(row, 0, h - 1).astype(np.intp)
    stored = picture[row, col]
    linear = srgb_curve(medians(stored, axis=2) / 255.0)
    linear[~inside] = np.nan
    clipped = (stored >= _CLIPPED).any(axis=-1).mean(axis=-1) > 0.2
    return low, linear, ~clipped


def _windows(
    lattice: Lattice, chart: ChartDefinition, origin: npt.NDArray[np.int64], cells: Floats
) -> npt.NDArray[np.int64]:
    """Return x, y, columns and rows of the windows that lie in the picture and hold most members, shape (n, 4)."""
    occupied = np.zeros(cells.shape[:2], dtype=np.int64)
    occupied[lattice.places[:, 1] - origin[1], lattice.places[:, 0] - origin[0]] = 1
    ended = np.isnan(cells[..., 0]).astype(np.int64)
    windows, members = [np.zeros((0, 4), dtype=np.int64)], [np.zeros(0, dtype=np.int64)]
    for wide, high in {(chart.columns, chart.rows), (chart.rows, chart.columns)}:
        count = _box_sums(occupied, wide, high)
        y, x = np.nonzero((count >= _LEAST_MEMBERS) & (_box_sums(ended, wide, high) == 0))
        windows.append(np.stack([x, y, np.full_like(x, wide), np.full_like(x, high)], axis=-1))
        members.append(count[y, x])
    held = np.concatenate(members)
    return np.asarray(np.concatenate(windows)[held >= 0.6 * held.max(initial=0)])


def _box_sums(values: npt.NDArray[np.int64], wide: int, high: int) -> npt.NDArray[np.int64]:
    """Return the sums over all boxes of a size, by the place of their first corner; empty where none has room."""
    h, w = values.shape
    if h < high or w < wide:
        return np.zeros((0, 0), dtype=np.int64)
    total = np.pad(values, ((1, 0), (1, 0))).cumsum(axis=0).cumsum(axis=1)
    return np.asarray(total[high:, wide:] - total[:-high, wide:] - total[high:, :-wide] + total[:-high, :-wide])


def _orders(chart: ChartDefinition) -> list[npt.NDArray[np.int64]]:
    """Return the eight ways to lay the chart's patches out: four turns, plain and mirrored.

    A single row reads alike mirrored and turned by half: it is taken for turned.
    """
    plain = np.arange(chart.rows * chart.columns).reshape(chart.rows, chart.columns)
    sides = (plain,) if min(plain.shape) == 1 else (plain, plain[:, ::-1])
    return [np.rot90(side, turn) for side in sides for turn in range(4)]


def misfit(measured: Floats, valid: npt.NDArray[np.bool_], xyz: Floats) -> tuple[Floats, Floats]:
    """Score how well measured cells can be a chart's patches.

    Parameters
    ----------
    measured : ndarray, shape (t, n, 3)
        Linear RGB of the patches, in the chart's order, one trial a row.
    valid : ndarray, shape (t, n), bool
        Cells that are not clipped.
    xyz : ndarray, shape (n, 3)
        The chart's tristimulus values.

    Returns
    -------
    angle : ndarray, shape (t,)
        Trimmed mean error of the chromaticities, degrees.
    shading : ndarray, shape (t,)
        Robust spread (natural log) of the brightness that is left unexplained.
    """
    reference = np.maximum(xyz @ np.linalg.inv(SRGB_TO_XYZ_D50).T, 0.002)
    size_r = np.sqrt(_dot(reference, reference))
    unit_r = reference / size_r[:, None]
    balanced = _as_vivid((measured + 2e-4) / _cast(measured, reference)[:, None], reference)
    size_m = np.sqrt(_dot(balanced, balanced))
    unit_m = balanced / size_m[..., None]
    base = np.where(valid, 1.0, 0.05) * (size_m / (size_m + _DIM * medians(size_m, axis=1)[:, None]))
    error = np.degrees(np.arccos(np.clip(_dot(unit_m, unit_r), -1.0, 1.0)))
    shade, length = np.ones_like(size_m), np.ones_like(size_m)
    for _ in range(_ITERATIONS):
        weight = base / (1.0 + (error / 8.0) ** 2)
        source = unit_m * (shade * weight)[..., None]
        target = unit_r * weight[..., None]
        # Once the cast is taken away, the matrix is near one that changes nothing.
        held = _HELD * (weight**2).sum(axis=1)[:, None, None] * np.eye(3)
        transposed = np.swapaxes(source, 1, 2)
        mapped = unit_m @ np.linalg.solve(transposed @ source + held, transposed @ target + held)
        length = np.sqrt(_dot(mapped, mapped)) + 1e-9
        along = _dot(mapped, unit_r)
        shade = np.clip(along / length**2, 0.05, 20.0)
        error = np.degrees(np.arccos(np.clip(along / length, -1.0, 1.0)))
    keep = error.shape[1] - max(1, error.shape[1] // 6)
    angle = np.sort(error, axis=1)[:, :keep].mean(axis=1)
    brightness = np.log(size_r) - np.log(size_m) - np.log(length)
    centred = np.abs(brightness - medians(brightness, axis=1)[:, None])
    shading = np.sort(centred, axis=1)[:, :keep].mean(axis=1)
    return angle, shading


def _cast(measured: Floats, reference: Floats) -> Floats:
    """Return the gain of each channel that a trial's cells tell of, shape (t, 3).

    The usual one: what is covered, or glints, tells of another. Without it a strong cast leaves nothing of the blue,
    and the matrix takes long to find.
    """
    ratio = np.log((measured + _FLOOR) / (reference + _FLOOR))
    return np.exp(medians(ratio - ratio.mean(axis=2, keepdims=True), axis=1))


def _as_vivid(balanced: Floats, reference: Floats) -> Floats:
    """Return colours that were paler than the chart's as vivid as these, shape (t, n, 3).

    The channels of a raw file overlap, those of a sensor in layers so far that all is nearly grey.
    """
    grey = balanced.mean(axis=2, keepdims=True)
    apart = balanced - grey
    wanted = reference - reference.mean(axis=1, keepdims=True)
    usual = medians(np.sqrt(_dot(apart, apart)) / grey[..., 0], axis=1)
    gain = median(np.sqrt(_dot(wanted, wanted)) / reference.mean(axis=1)) / np.maximum(usual, 1e-6)
    return np.asarray(grey + apart * np.clip(gain, 1.0, _MOST_PALE)[:, None, None])


def _dot(one: Floats, other: Floats) -> Floats:
    """Return products summed over a last axis of three: numpy's own sum is slow along so short an axis."""
    product = one * other
    return np.asarray(product[..., 0] + product[..., 1] + product[..., 2])


def _placed(
    lattice: Lattice,
    chart: ChartDefinition,
    corner: tuple[int, int],
    order: npt.NDArray[np.int64],
    figures: tuple[float, float],
) -> Placement:
    """Turn a window and an order of patches into a homography of the chart's own units."""
    rows, columns = np.mgrid[0 : order.shape[0], 0 : order.shape[1]]
    own, places = (
        chart.centres[order.ravel()],
        np.stack([columns + corner[0], rows + corner[1]], axis=-1).reshape(-1, 2),
    )
    if min(order.shape) == 1:
        own, places = _beside(own), _beside(places.astype(np.float64))
    homography = fit_homography(own, project(lattice.homography, places))
    outline = project(homography, chart.corners)
    inside = (lattice.places >= corner).all(axis=1) & (
        lattice.places < [corner[0] + order.shape[1], corner[1] + order.shape[0]]
    ).all(axis=1)
    return Placement(homography, polygon_area(outline) < 0, figures[0], figures[1], int(inside.sum()), lattice.pitch)


def _beside(line: Floats) -> Floats:
    """Return the points half a pitch to either side of points in one line: centres alone fix no perspective."""
    way = (line[-1] - line[0]) / np.linalg.norm(line[-1] - line[0])
    normal = np.array([-way[1], way[0]]) / 2.0
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
    others = [o for o in _orders(chart)[1:] if o.shape == (chart.rows, chart.columns)]
    if not others:
        return float("inf")
    measured = np.zeros((len(others), len(linear), 3))
    for trial, order in zip(measured, others, strict=True):
        trial[order.ravel()] = linear
    angle, shading = misfit(measured, np.ones(measured.shape[:2], dtype=bool), chart.xyz)
    return float((angle / _ANGLE_SCALE + shading / _SHADING_SCALE).min())
