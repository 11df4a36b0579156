"""The colour of an even surface: a smooth field over a region, and how far colours lie from it."""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

from swatchread.colour.cielab import Floats
from swatchread.colour.order import median, medians
from swatchread.photo import opencv as cv2

_FIELD_SAMPLES = 3000
_DEEPEST_SHADE = 0.68
"""Share of L* + 16 that a soft shadow leaves: about half the light gone."""
LAB_SCALE = np.array([1 / 2.55, 1.0, 1.0])
"""CIELAB units per level of an 8-bit CIELAB picture."""

_SCALE = LAB_SCALE.astype(np.float32)
_LIGHT, _GREY = np.float32(2.55), np.float32(128.0)

Mask = npt.NDArray[np.bool_]
Picture = npt.NDArray[np.uint8]


def lab_of(levels: npt.ArrayLike) -> Floats:
    """Return CIELAB of 8-bit CIELAB levels (L* × 2.55, a* + 128, b* + 128), shape (..., 3)."""
    return np.asarray((np.asarray(levels, dtype=np.float64) - [0.0, 128.0, 128.0]) * LAB_SCALE)


def shrunk(paint: npt.NDArray[Any], radius: float) -> Picture:
    """Erode by a disc. Distance transforms cost the same for every radius; large kernels do not."""
    depth = cv2.distanceTransform(np.pad(paint, 1), cv2.DIST_L2, 5)[1:-1, 1:-1]
    return np.asarray(depth > radius, dtype=np.uint8)


def spread(paint: npt.NDArray[Any], radius: float) -> Picture:
    """Dilate by a disc."""
    return np.asarray(cv2.distanceTransform(1 - paint, cv2.DIST_L2, 5) <= radius, dtype=np.uint8)


def thin_pieces(marks: Picture) -> tuple[npt.NDArray[np.int32], npt.NDArray[np.int32]]:
    """Tell the pieces of what covers little of a picture: OpenCV's own figures take longest over what is empty.

    Parameters
    ----------
    marks : ndarray, shape (h, w), uint8
        0 where there is nothing; pixels that touch at a corner hang together.

    Returns
    -------
    labels : ndarray, shape (h, w), int32
        0 where there is nothing, and the number of each piece, from 1.
    stats : ndarray, shape (n + 1, 5), int32
        Left, top, width, height, area of each piece; nothing is told of the empty part, number 0.
    """
    count, found = cv2.connectedComponents(marks, connectivity=8, ltype=cv2.CV_32S)
    labels = np.asarray(found, dtype=np.int32)
    stats = np.zeros((count, 5), dtype=np.int32)
    rows, cols = places_of(marks)
    if not len(rows):
        return labels, stats
    owner = labels[rows, cols]
    order = np.argsort(owner, kind="stable")
    rows, cols = rows[order], cols[order]
    first = np.flatnonzero(np.diff(owner[order], prepend=0))
    area = np.diff(first, append=len(rows))
    left, top = np.minimum.reduceat(cols, first), rows[first]  # row by row, so that the first is the topmost
    right, bottom = np.maximum.reduceat(cols, first), rows[first + area - 1]
    stats[1:] = np.stack([left, top, right - left + 1, bottom - top + 1, area], axis=-1)
    return labels, stats


def places_of(marks: Picture) -> tuple[npt.NDArray[np.int32], npt.NDArray[np.int32]]:
    """Return the rows and columns of what is not 0, row by row; numpy takes some times as long over what is empty."""
    found: Any = cv2.findNonZero(marks)
    if found is None:
        return np.zeros(0, np.int32), np.zeros(0, np.int32)
    places = np.asarray(found, dtype=np.int32).reshape(-1, 2)
    return places[:, 1], places[:, 0]


def distance(colours: Picture, field: npt.NDArray[np.float32]) -> npt.NDArray[np.float32]:
    """Return the difference of 8-bit CIELAB colours from a field's, CIELAB units, shape (h, w)."""
    # Plane by plane: numpy is slow along an axis of three.
    planes = cv2.split(cv2.subtract(colours, field, dtype=cv2.CV_32F))
    light, red, yellow = (np.asarray(plane, dtype=np.float32) for plane in planes)
    light *= _SCALE[0]
    return np.asarray(np.sqrt(light * light + red * red + yellow * yellow), dtype=np.float32)


def in_its_light(colours: npt.NDArray[Any], field: npt.NDArray[Any]) -> tuple[npt.NDArray[Any], npt.NDArray[Any]]:
    """Return how far 8-bit CIELAB colours are from a field's in tint, under more or less light, and its share.

    In CIELAB, less light scales L* + 16, a* and b* alike.

    Parameters
    ----------
    colours : ndarray, shape (..., 3)
    field : ndarray, shape (..., 3), or (3,)

    Returns
    -------
    off : ndarray, shape (...)
        CIELAB units.
    share : ndarray, shape (...)
        Of the field's light: 1 where it is the same.
    """
    share = (colours[..., 0] / _LIGHT + 16.0) / (field[..., 0] / _LIGHT + 16.0)
    apart = (colours[..., 1:] - _GREY) - (field[..., 1:] - _GREY) * share[..., None]
    return np.sqrt(np.einsum("...k,...k->...", apart, apart)), share


def tint_distance(colours: Picture, field: npt.NDArray[np.float32]) -> npt.NDArray[np.float32]:
    """Return the difference from the field's colour under more or less light; far where it would need too much."""
    off, share = in_its_light(colours.astype(np.float32), field)
    off[(share < _DEEPEST_SHADE) | (share > 1.0 / _DEEPEST_SHADE)] = 99.0
    return np.asarray(off, dtype=np.float32)


def fit_background(bare: Mask, colours: Picture, degree: int) -> tuple[npt.NDArray[np.float32], Floats]:
    """Return a smooth polynomial per channel, fitted over the bare region, everywhere in the box; and the median."""
    h, w = bare.shape
    places = np.flatnonzero(bare)
    rows, cols = np.divmod(places[:: max(1, len(places) // _FIELD_SAMPLES)], w)
    values = colours[rows, cols].astype(np.float64)
    basis = _monomials(cols / w * 2 - 1, rows / h * 2 - 1, degree)
    weight: Floats = np.ones(len(rows))
    coefficients: Floats = np.zeros((basis.shape[1], 3))
    for _ in range(3):
        scaled = basis * weight[:, None]
        normal = scaled.T @ basis + 1e-5 * len(rows) * np.diag([0.0] + [1.0] * (basis.shape[1] - 1))
        coefficients = np.asarray(np.linalg.solve(normal, scaled.T @ values), dtype=np.float64)
        off = np.linalg.norm(values - basis @ coefficients, axis=1)
        weight = 1.0 / (1.0 + (off / (2.0 * median(off) + 0.5)) ** 2)
    # A smooth surface: evaluated on a coarse grid and enlarged.
    gy, gx = np.mgrid[0:33, 0:33] / 16.0 - 1.0
    coarse = (_monomials(gx.ravel(), gy.ravel(), degree) @ coefficients).reshape(33, 33, 3).astype(np.float32)
    map_x = np.broadcast_to(np.linspace(0, 32, w, dtype=np.float32), (h, w))
    map_y = np.broadcast_to(np.linspace(0, 32, h, dtype=np.float32)[:, None], (h, w))
    field = cv2.remap(coarse, np.ascontiguousarray(map_x), np.ascontiguousarray(map_y), cv2.INTER_LINEAR)
    return np.asarray(field, dtype=np.float32), medians(values)


def _monomials(x: Floats, y: Floats, degree: int) -> Floats:
    return np.stack([x**i * y**j for i in range(degree + 1) for j in range(degree + 1 - i)], axis=-1)
