"""Plane geometry that several stages share: homographies and quadrangles, points as (x, y)."""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

from swatchread.colour.cielab import Floats
from swatchread.photo import opencv as cv2

UNIT_SQUARE: Floats = np.array([[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]])
"""Its corners, clockwise as pictures are seen."""


def project(homography: npt.NDArray[np.floating[Any]], points: npt.ArrayLike) -> Floats:
    """Map points through a homography.

    Parameters
    ----------
    homography : ndarray, shape (3, 3)
    points : array_like, shape (..., 2)

    Returns
    -------
    ndarray, shape (..., 2)
    """
    # Written out: scikit-image's transform takes 0.1 s to import, which every reading would wait for. Plane by plane,
    # because a product of many rows of two takes four times as long.
    places = np.asarray(points, dtype=np.float64)
    x, y = places[..., 0], places[..., 1]
    across, down, depth = (a * x + b * y + c for a, b, c in homography)
    mapped = np.empty(places.shape)
    np.divide(across, depth, out=mapped[..., 0])
    np.divide(down, depth, out=mapped[..., 1])
    return mapped


def rotation(angle: float) -> Floats:
    """Return the matrix that rows of points are multiplied with to see them along and across a direction.

    Parameters
    ----------
    angle : float
        Of the direction against the x axis, clockwise as pictures are seen, radians.

    Returns
    -------
    ndarray, shape (2, 2)
        Its transpose leads back.
    """
    cos, sin = np.cos(angle), np.sin(angle)
    return np.array([[cos, -sin], [sin, cos]])


def fit_homography(source: Floats, target: Floats, weights: Floats | None = None) -> Floats:
    """Return the least-squares homography from `source` to `target` points (normalised direct linear transform).

    Parameters
    ----------
    source, target : ndarray, shape (n, 2), n >= 4
    weights : ndarray, shape (n,), optional

    Returns
    -------
    ndarray, shape (3, 3), with its last element 1
    """
    normal_s, normal_t = _normaliser(source), _normaliser(target)
    s, t = project(normal_s, source), project(normal_t, target)
    zero, one = np.zeros(len(s)), np.ones(len(s))
    x, y, u, v = s[:, 0], s[:, 1], t[:, 0], t[:, 1]
    upper = np.stack([x, y, one, zero, zero, zero, -u * x, -u * y, -u], axis=1)
    lower = np.stack([zero, zero, zero, x, y, one, -v * x, -v * y, -v], axis=1)
    rows = np.concatenate([upper, lower])
    if weights is not None:
        rows = rows * np.concatenate([weights, weights])[:, None]
    _, vectors = np.linalg.eigh(rows.T @ rows)
    homography: Floats = np.linalg.inv(normal_t) @ vectors[:, 0].reshape(3, 3) @ normal_s
    homography /= homography[2, 2]
    return homography


def _normaliser(points: Floats) -> Floats:
    centre = points.mean(axis=0)
    scale = 1.0 / max(float(np.abs(points - centre).mean()), 1e-9)
    return np.array([[scale, 0, -scale * centre[0]], [0, scale, -scale * centre[1]], [0, 0, 1.0]])


def polygon_area(points: npt.ArrayLike) -> float:
    """Return the signed area of a polygon, positive when it runs clockwise on the screen (y down).

    Parameters
    ----------
    points : array_like, shape (n, 2)
    """
    return cv2.contourArea(np.asarray(points, dtype=np.float32), oriented=True)


def gap_between(one: Floats, other: Floats) -> float:
    """Return the distance between two convex polygons; 0 where they overlap.

    Parameters
    ----------
    one, other : ndarray, shape (n, 2), (m, 2)
        Corners in order.
    """
    shapes = [np.ascontiguousarray(shape, dtype=np.float32) for shape in (one, other)]
    away = [
        -cv2.pointPolygonTest(shape, point.tolist(), True)
        for shape, points in (shapes, shapes[::-1])
        for point in points
    ]
    return max(0.0, min(away))
