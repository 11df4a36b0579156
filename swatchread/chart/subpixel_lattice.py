"""Sub-pixel lattice: the centre of each patch from its four edges, then one perspective through all centres."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from swatchread.chart.definition import ChartDefinition
from swatchread.colour.cielab import Floats
from swatchread.photo import opencv as cv2
from swatchread.photo.geometry import fit_homography, project

_ALONG = np.linspace(-0.28, 0.28, 7)
"""Where the profiles across an edge lie along it, lattice units from its middle."""

_ACROSS = np.linspace(0.30, 0.56, 27)
"""Where an edge is looked for, lattice units from the patch's centre: patches fill 65 to 100 % of the pitch."""

_ROUNDS = 2
"""Rounds of looking for the edges and fitting the perspective."""

_LEAST_SEEN, _LEAST_SHARE_SEEN = 8, 0.6
"""A chart is refined if this many of its patches show their edges, or this share of a small chart's patches."""

_ROBUST_OFFSET = 0.04
"""Offset from the other patches at which a patch counts half, lattice units: a covered one shows edges not its own."""

_FAINTEST_EDGE = 6.0
"""Least step at an edge, 8-bit levels summed over the channels."""

_SIDE_TOLERANCE = 0.16
"""Largest difference of a patch's side from the chart's patch share, lattice units."""

_SHARE_RANGE = (0.6, 0.98)
"""Limits of the patch share that a picture can show."""


def refine(homography: Floats, chart: ChartDefinition, picture: npt.NDArray[np.uint8]) -> tuple[Floats, float, Floats]:
    """Refine a chart's homography on the edges of its patches.

    Parameters
    ----------
    homography : ndarray, shape (3, 3)
        From lattice units to pixels, good to about a fifth of the pitch.
    chart : ChartDefinition
    picture : ndarray, shape (h, w, 3), uint8, RGB

    Returns
    -------
    homography : ndarray, shape (3, 3)
    patch_share : float
        Side of a patch over the pitch, as it shows in this picture.
    residual : ndarray, shape (n, 2)
        Where the patches' centres were seen less where they should be, lattice units; NaN for unseen ones.
    """
    share = chart.patch_share
    residual = np.full((len(chart.centres), 2), np.nan)
    for _ in range(_ROUNDS):
        offset, sides = _patch_offsets(homography, chart, picture)
        seen = np.isfinite(offset).all(axis=1)
        if seen.sum() < min(_LEAST_SEEN, _LEAST_SHARE_SEEN * seen.size):
            return homography, share, residual
        off = offset[seen] - np.median(offset[seen], axis=0)
        weight = 1.0 / (1.0 + (np.hypot(*off.T) / _ROBUST_OFFSET) ** 2)
        share = float(np.clip(np.nanmedian(sides), *_SHARE_RANGE))
        place, target = chart.centres[seen], chart.centres[seen] + offset[seen]
        if min(chart.rows, chart.columns) == 1:
            place, target, weight = _sides_of(place, target, sides[seen], weight)
        homography = fit_homography(place, project(homography, target), weight)
    offset, _ = _patch_offsets(homography, chart, picture)
    return homography, share, offset


def _sides_of(place: Floats, seen: Floats, sides: Floats, weight: Floats) -> tuple[Floats, Floats, Floats]:
    """Return the middles of a row's patch sides, as expected and as seen, with weights.

    Centres in one line do not fix the perspective. The patches of a single row are taken for squares as large as they
    show along the row or across it.
    """
    usual = np.median(sides)
    directions = np.array([[-0.5, 0.0], [0.5, 0.0], [0.0, -0.5], [0.0, 0.5]])
    expected = (place[:, None] + directions * usual).reshape(-1, 2)
    shown = (seen[:, None] + directions * sides[:, None]).reshape(-1, 2)
    return expected, shown, np.repeat(weight, len(directions))


def _patch_offsets(homography: Floats, chart: ChartDefinition, picture: npt.NDArray[np.uint8]) -> tuple[Floats, Floats]:
    """Return how far each patch's centre is from its place, and the sides of the patches, lattice units.

    A centre is the middle between opposite edges, so that it does not depend on the size of the patch.
    """
    along, across = np.meshgrid(_ALONG, _ACROSS, indexing="ij")
    left, right = np.stack([-across, along], -1), np.stack([across, along], -1)
    upper, lower = np.stack([along, -across], -1), np.stack([along, across], -1)
    probes = np.stack([left, right, upper, lower])
    points = project(homography, chart.centres[:, None, None, None, :] + probes)
    profile = _colours(picture, points)
    step = np.abs(np.diff(profile, axis=-2)).sum(axis=-1)
    # The outermost edge beyond a gap belongs to the neighbour: nearer edges count more.
    step = step * np.linspace(1.0, 0.55, step.shape[-1])
    strength = np.median(step, axis=2)
    middle = (_ACROSS[1:] + _ACROSS[:-1]) / 2.0
    edge = _peak(strength, middle)
    found = strength.max(axis=-1) > _FAINTEST_EDGE
    edge[~found] = np.nan
    offset = np.stack([(edge[:, 1] - edge[:, 0]) / 2.0, (edge[:, 3] - edge[:, 2]) / 2.0], axis=-1)
    sides = np.stack([edge[:, 1] + edge[:, 0], edge[:, 3] + edge[:, 2]], axis=-1)
    odd = np.abs(sides - chart.patch_share) > _SIDE_TOLERANCE
    offset[odd.any(axis=1)] = np.nan
    sides[odd] = np.nan
    return offset, sides


def _peak(strength: Floats, place: Floats) -> Floats:
    """Return the centre of gravity of each profile around its maximum."""
    top = strength.argmax(axis=-1)
    near = np.abs(np.arange(len(place)) - top[..., None]) <= 3
    weight = np.where(near, np.maximum(strength - 0.3 * strength.max(axis=-1, keepdims=True), 0.0), 0.0)
    centre: Floats = (weight * place).sum(axis=-1) / np.maximum(weight.sum(axis=-1), 1e-9)
    return centre


def _colours(picture: npt.NDArray[np.uint8], points: Floats) -> Floats:
    flat = points.reshape(-1, points.shape[-2] * points.shape[-3], 2).astype(np.float32)
    sampled = cv2.remap(picture, flat[..., 0], flat[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    return sampled.reshape(*points.shape[:-1], 3).astype(np.float64)
