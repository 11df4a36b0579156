"""How badly measured colours fit a chart's, whatever the light and its unevenness.

One 3 × 3 matrix is to take the chromaticities of the cells to the chart's, whatever the brightness of each cell, so
that a shadow or uneven light cannot hide the chart (after Finlayson, Gong & Fisher 2017, Color Homography).
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from swatchread.colour.cielab import Floats
from swatchread.photo.icc_profile import SRGB_TO_XYZ_D50

ANGLE_SCALE = 16.0
"""Mean chromaticity error that adds 1 to the misfit, degrees; set so that the search's limits stand near 1."""

SHADING_SCALE = 1.6
"""Spread of the brightness left unexplained that adds 1 to the misfit, natural log; set like `ANGLE_SCALE`."""

_CLIPPED_WEIGHT = 0.05
"""Weight of a clipped cell, whose chromaticity is wrong; not 0, so that enough cells are left."""

_ITERATIONS = 4
"""Rounds of the reweighted fit; chosen by trial."""

_DAMPING = 0.02
"""How firmly the matrix is held to the identity, in shares of the weight of all cells."""

_DIM = 0.3
"""Brightness, in medians, at which a cell's chromaticity counts half: dark cells are mostly noise and stray light."""

_ROBUST_ANGLE = 8.0
"""Chromaticity error at which a cell counts half in the fit, degrees: a covered patch is further off."""

_SHADE_RANGE = (0.05, 20.0)
"""Limits of the brightness factor of one cell."""

_TRIMMED = 6
"""One cell in this many, the worst, is left out of the misfit: patches may be covered or glint."""

_MOST_VIVID = 8.0
"""Largest factor by which pale colours are made more vivid: beyond it they are mostly noise."""

_FLOOR = 0.004
"""Added to linear values before a ratio is taken, so that black patches say little of the light."""


def misfit(measured: Floats, valid: npt.NDArray[np.bool_], xyz: Floats) -> Floats:
    """Score how badly measured cells fit a chart's patches.

    The score adds the trimmed mean error of the chromaticities and the spread of the brightness that is left
    unexplained, each in its own scale.

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
    ndarray, shape (t,)
    """
    reference = np.maximum(xyz @ np.linalg.inv(SRGB_TO_XYZ_D50).T, 0.002)
    size_r = np.sqrt(_dot(reference, reference))
    unit_r = reference / size_r[:, None]
    balanced = _made_as_vivid((measured + 2e-4) / _cast(measured, reference)[:, None], reference)
    size_m = np.sqrt(_dot(balanced, balanced))
    unit_m = balanced / size_m[..., None]
    dim = size_m / (size_m + _DIM * np.median(size_m, axis=1)[:, None])
    angle, length = _fit_matrix(unit_m, unit_r, np.where(valid, 1.0, _CLIPPED_WEIGHT) * dim)
    brightness = np.log(size_r) - np.log(size_m) - np.log(length)
    off = np.abs(brightness - np.median(brightness, axis=1)[:, None])
    keep = angle.shape[1] - max(1, angle.shape[1] // _TRIMMED)
    angle, off = np.sort(angle, axis=1)[:, :keep], np.sort(off, axis=1)[:, :keep]
    score: Floats = angle.mean(axis=1) / ANGLE_SCALE + off.mean(axis=1) / SHADING_SCALE
    return score


def _fit_matrix(unit_m: Floats, unit_r: Floats, base: Floats) -> tuple[Floats, Floats]:
    """Fit one matrix a trial from measured to reference directions, whatever the brightness of each cell.

    Parameters
    ----------
    unit_m : ndarray, shape (t, n, 3)
        Directions of the measured colours.
    unit_r : ndarray, shape (n, 3)
        Directions of the chart's colours.
    base : ndarray, shape (t, n)
        Weight of each cell before its error counts.

    Returns
    -------
    angle, length : ndarray, shape (t, n)
        Error of each direction after the matrix, degrees; and how much the matrix lengthens it.
    """
    angle = np.degrees(np.arccos(np.clip(_dot(unit_m, unit_r), -1.0, 1.0)))
    shade, length = np.ones_like(angle), np.ones_like(angle)
    for _ in range(_ITERATIONS):
        weight = base / (1.0 + (angle / _ROBUST_ANGLE) ** 2)
        source = unit_m * (shade * weight)[..., None]
        target = unit_r * weight[..., None]
        # The cast is taken away already, so the matrix is near the identity.
        held = _DAMPING * (weight**2).sum(axis=1)[:, None, None] * np.eye(3)
        transposed = np.swapaxes(source, 1, 2)
        mapped = unit_m @ np.linalg.solve(transposed @ source + held, transposed @ target + held)
        length = np.sqrt(_dot(mapped, mapped)) + 1e-9
        along = _dot(mapped, unit_r)
        shade = np.clip(along / length**2, *_SHADE_RANGE)
        angle = np.degrees(np.arccos(np.clip(along / length, -1.0, 1.0)))
    return angle, length


def _cast(measured: Floats, reference: Floats) -> Floats:
    """Return the gain of each channel in each trial, shape (t, 3): the median over the cells.

    A median, because covered or glinting cells tell of another gain. Without this step, a strong cast leaves hardly any
    blue, and the matrix takes many rounds to find.
    """
    ratio = np.log((measured + _FLOOR) / (reference + _FLOOR))
    gain: Floats = np.exp(np.median(ratio - ratio.mean(axis=2, keepdims=True), axis=1))
    return gain


def _made_as_vivid(balanced: Floats, reference: Floats) -> Floats:
    """Return colours that were paler than the chart's, made as vivid as those, shape (t, n, 3).

    The channels of a raw file overlap; those of a layered sensor overlap so far that every colour is nearly grey.
    """
    grey = balanced.mean(axis=2, keepdims=True)
    from_grey = balanced - grey
    wanted = reference - reference.mean(axis=1, keepdims=True)
    usual = np.median(np.sqrt(_dot(from_grey, from_grey)) / grey[..., 0], axis=1)
    gain = np.median(np.sqrt(_dot(wanted, wanted)) / reference.mean(axis=1)) / np.maximum(usual, 1e-6)
    vivid: Floats = grey + from_grey * np.clip(gain, 1.0, _MOST_VIVID)[:, None, None]
    return vivid


def _dot(one: Floats, other: Floats) -> Floats:
    """Return dot products along the last axis."""
    product: Floats = np.einsum("...i,...i->...", one, other)
    return product
