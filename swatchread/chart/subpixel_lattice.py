"""Sub-pixel lattice: the centre of each patch from its four edges, then one perspective through all centres."""

from __future__ import annotations

import cv2
import numpy as np
import numpy.typing as npt

from swatchread.chart.definition import ChartDefinition
from swatchread.colour.cielab import Floats
from swatchread.colour.order import median, medians
from swatchread.photo.geometry import fit_homography, project

_ALONG = np.linspace(-0.28, 0.28, 7)
_ACROSS = np.linspace(0.30, 0.56, 27)
_ROUNDS = 2
_LEAST_SEEN = 8


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
        if seen.sum() < min(_LEAST_SEEN, 0.6 * seen.size):
            return homography, share, residual
        # Robust: a covered or shaded patch shows edges that are not its own.
        off = offset[seen] - medians(offset[seen])
        weight = 1.0 / (1.0 + (np.hypot(*off.T) / 0.04) ** 2)
        share = float(np.clip(median(sides[np.isfinite(sides)]), 0.6, 0.98))
        place, target = chart.centres[seen], chart.centres[seen] + offset[seen]
        if min(chart.rows, chart.columns) == 1:
            place, target, weight = _sides_of(place, target, sides[seen], weight)
        homography = fit_homography(place, project(homography, target), weight)
    offset, _ = _patch_offsets(homography, chart, picture)
    return homography, share, offset


def _sides_of(place: Floats, seen: Floats, sides: Floats, weight: Floats) -> tuple[Floats, Floats, Floats]:
    """Return the middles of the patches' sides, as they should be and as seen: centres in one line leave a turn free.

    The patches of a single row are taken for squares as large as they show along the row or across it.
    """
    usual = median(sides)
    ways = np.array([[-0.5, 0.0], [0.5, 0.0], [0.0, -0.5], [0.0, 0.5]])
    should = (place[:, None] + ways * usual).reshape(-1, 2)
    shown = (seen[:, None] + ways * sides[:, None]).reshape(-1, 2)
    return should, shown, np.repeat(weight, len(ways))


def _patch_offsets(homography: Floats, chart: ChartDefinition, picture: npt.NDArray[np.uint8]) -> tuple[Floats, Floats]:
    """Return how far each patch's centre is from its place, and the sides of the patches, lattice units.

    Opposite edges are taken together, so that the size of the patches does not matter for their centres.
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
    strength = medians(step, axis=2)
    middle = (_ACROSS[1:] + _ACROSS[:-1]) / 2.0
    edge = _peak(strength, middle)
    found = strength.max(axis=-1) > 6.0
    edge[~found] = np.nan
    offset = np.stack([(edge[:, 1] - edge[:, 0]) / 2.0, (edge[:, 3] - edge[:, 2]) / 2.0], axis=-1)
    sides = np.stack([edge[:, 1] + edge[:, 0], edge[:, 3] + edge[:, 2]], axis=-1)
    odd = np.abs(sides - chart.patch_share) > 0.16
    offset[odd.any(axis=1)] = np.nan
    sides[odd] = np.nan
    return offset, sides


def _peak(strength: Floats, place: Floats) -> Floats:
    """Return the centre of gravity of each profile around its maximum."""
    top = strength.argmax(axis=-1)
    window = np.abs(np.arange(len(place)) - top[..., None]) <= 3
    weight = np.where(window, np.maximum(strength - 0.3 * strength.max(axis=-1, keepdims=True), 0.0), 0.0)
    return np.asarray((weight * place).sum(axis=-1) / np.maximum(weight.sum(axis=-1), 1e-9))


def _colours(picture: npt.NDArray[np.uint8], points: Floats) -> Floats:
    flat = points.reshape(-1, points.shape[-2] * points.shape[-3], 2).astype(np.float32)
    sampled = cv2.remap(picture, flat[..., 0], flat[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    return sampled.reshape(*points.shape[:-1], 3).astype(np.float64)
