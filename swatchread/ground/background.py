"""The colour of a card's bare ground: a smooth surface fitted over a region, and the distances of colours from it."""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

from swatchread.colour.cielab import Floats
from swatchread.photo import opencv as cv2
from swatchread.photo.masks import Mask, Picture
from swatchread.photo.order_statistics import median, quantile
from swatchread.plane.finder_settings import settings

_FIELD_SAMPLES = 3000
"""Pixels to which the surface is fitted, at most: more change nothing and take time."""

LAB_SCALE = np.array([1 / 2.55, 1.0, 1.0])
"""CIELAB units per level of an 8-bit CIELAB picture (OpenCV's scaling)."""

_LIGHT, _GREY = np.float32(2.55), np.float32(128.0)
"""Levels of an 8-bit CIELAB picture per unit of L*, and the level of a* = b* = 0."""


def lab_of(levels: npt.ArrayLike) -> Floats:
    """Return CIELAB of 8-bit CIELAB levels (L* × 2.55, a* + 128, b* + 128), shape (..., 3)."""
    lab: Floats = (np.asarray(levels, dtype=np.float64) - [0.0, 128.0, 128.0]) * LAB_SCALE
    return lab


def distance(colours: Picture, field: npt.NDArray[np.float32]) -> npt.NDArray[np.float32]:
    """Return the difference of 8-bit CIELAB colours from a field's, CIELAB units, shape (h, w)."""
    # Plane by plane: numpy is slow along an axis of three.
    light, red, yellow = cv2.split(cv2.subtract(colours, field, dtype=cv2.CV_32F))
    light = light / _LIGHT
    apart: npt.NDArray[np.float32] = np.sqrt(light * light + red * red + yellow * yellow)
    return apart


def in_its_light(colours: npt.NDArray[Any], field: npt.NDArray[Any]) -> tuple[npt.NDArray[Any], npt.NDArray[Any]]:
    """Compare 8-bit CIELAB colours with a field's as if only the amount of light differed.

    In CIELAB, less light scales L* + 16, a* and b* alike.

    Parameters
    ----------
    colours : ndarray, shape (..., 3)
    field : ndarray, shape (..., 3), or (3,)

    Returns
    -------
    off : ndarray, shape (...)
        The difference in a* and b* that is left, CIELAB units.
    share : ndarray, shape (...)
        L* + 16 over the field's: 1 where the light is the same.
    """
    # Plane by plane: numpy is slow along an axis of two or three.
    share = (colours[..., 0] / _LIGHT + 16.0) / (field[..., 0] / _LIGHT + 16.0)
    red, yellow = ((colours[..., k] - _GREY) - (field[..., k] - _GREY) * share for k in (1, 2))
    return np.sqrt(red * red + yellow * yellow), share


def alike_in_light(colours: npt.NDArray[Any], ground: Floats) -> Mask:
    """Tell which 8-bit CIELAB colours could be a ground's under more or less light.

    Parameters
    ----------
    colours : ndarray, shape (..., 3)
    ground : ndarray, shape (3,)
        8-bit CIELAB levels.

    Returns
    -------
    ndarray of bool, shape (...)
    """
    known = settings().ground
    off, share = in_its_light(colours.astype(np.float64), ground)
    return (off < known.tint) & (share > 1.0 / known.light) & (share < known.light)


def fit_background(bare: Mask, colours: Picture) -> tuple[npt.NDArray[np.float32], Floats]:
    """Fit a plane to each channel of the colours over the bare region, robustly.

    It goes through the commonest colour, which is the ground's where writing too faint to be cut out covers the rest.

    Parameters
    ----------
    bare : ndarray, shape (h, w), bool
    colours : ndarray, shape (h, w, 3), uint8
        8-bit CIELAB.

    Returns
    -------
    field : ndarray, shape (h, w, 3), float32
        The fitted colours everywhere in the box.
    middle : ndarray, shape (3,)
        The median colour of the bare region.
    """
    h, w = bare.shape
    places = np.flatnonzero(bare)
    rows, cols = np.divmod(places[:: max(1, len(places) // _FIELD_SAMPLES)], w)
    values = colours[rows, cols].astype(np.float64)
    down, across = np.linspace(-1.0, 1.0, h), np.linspace(-1.0, 1.0, w)
    basis = np.stack([np.ones(len(rows)), down[rows], across[cols]], axis=-1)
    weight: npt.NDArray[Any] = np.ones(len(rows))
    coefficients: npt.NDArray[Any] = np.zeros((3, 3))
    for _ in range(6):
        scaled = basis * weight[:, None]
        normal = scaled.T @ basis + 1e-5 * len(rows) * np.diag([0.0, 1.0, 1.0])
        coefficients = np.linalg.solve(normal, scaled.T @ values)
        off = np.linalg.norm(values - basis @ coefficients, axis=1)
        weight = 1.0 / (1.0 + (off / (2.0 * quantile(off, 0.25) + 0.5)) ** 2)
    middle, by_row, by_column = coefficients.astype(np.float32)
    rows_of_field = middle + by_row * down.astype(np.float32)[:, None]
    columns_of_field = by_column * across.astype(np.float32)[:, None]
    # One long row after the other: numpy is slow where the axes that it adds up are as short as three.
    field = np.tile(rows_of_field, w) + columns_of_field.ravel()
    return field.reshape(h, w, 3), median(values, axis=0)
