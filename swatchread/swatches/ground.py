"""The card's bare ground: the quiet surface in which the swatches lie like islands.

A ground is a region that is flat but for its holes. Its colour is described by a smooth field, so that falling light
is not taken for paint, and everything on the card that stands off that field is a mark: paint, writing, tape.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
import numpy.typing as npt

from swatchread.colour import Floats
from swatchread.swatches.plane import Plane

_STRENGTHS = (4, 7, 11, 16)
"""Edge strengths (8-bit levels of the smoothed picture) that end a surface: paper needs little, canvas more."""

_LEAST_SHARE = 0.004
_MOST_SURFACES = 7
_FIELD_DEGREE = 3
_FIELD_SAMPLES = 3000

Mask = npt.NDArray[np.bool_]


@dataclass(frozen=True, eq=False)
class Surface:
    """A quiet region of the plane that may be a card's ground.

    Attributes
    ----------
    bare : ndarray, shape (h, w), bool
        The region itself.
    card : ndarray, shape (h, w), bool
        The region with its holes and bays: where swatches may lie.
    off : ndarray, shape (h, w), float32
        Colour difference of every pixel from the ground's smooth field (CIELAB-like units); 0 off the card.
    noise : float
        Robust spread of `off` over the bare ground.
    box : tuple of int
        x, y, width, height of the card in the plane: the arrays above are cut to it.
    lab : ndarray, shape (3,)
        Mean colour of the ground, 8-bit CIELAB scaled to CIELAB units, as balanced by the chart.
    """

    bare: Mask
    card: Mask
    off: npt.NDArray[np.float32]
    noise: float
    box: tuple[int, int, int, int]
    lab: Floats


def lab_picture(picture: npt.NDArray[np.uint8]) -> npt.NDArray[np.uint8]:
    """Return an sRGB-like picture as 8-bit CIELAB (L* × 2.55, a* + 128, b* + 128), lightly smoothed."""
    return np.asarray(cv2.cvtColor(cv2.medianBlur(picture, 5), cv2.COLOR_RGB2LAB), dtype=np.uint8)


def find_surfaces(plane: Plane, lab: npt.NDArray[np.uint8]) -> list[Surface]:
    """Return the quiet surfaces of a plane that could carry swatches, the largest first.

    Parameters
    ----------
    plane : Plane
    lab : ndarray, shape (h, w, 3), uint8
        From `lab_picture`.

    Returns
    -------
    list of Surface
    """
    gradient = cv2.morphologyEx(lab, cv2.MORPH_GRADIENT, np.ones((3, 3), np.uint8)).max(axis=2)
    gradient[plane.outside] = 255
    least = _LEAST_SHARE * float((~plane.outside).sum())
    surfaces: list[Surface] = []
    seen: list[tuple[Mask, tuple[int, int, int, int]]] = []
    for strength in _STRENGTHS:
        flat = (gradient < strength).astype(np.uint8)
        count, labels, stats, _ = cv2.connectedComponentsWithStats(flat, connectivity=4)
        areas = stats[1:, cv2.CC_STAT_AREA]
        for index in np.argsort(-areas)[:_MOST_SURFACES] + 1:
            if stats[index, cv2.CC_STAT_AREA] < least or count <= 1:
                continue
            x, y, w, h = (int(v) for v in stats[index, :4])
            bare = labels[y : y + h, x : x + w] == index
            if _already(bare, (x, y, w, h), seen):
                continue
            seen.append((bare, (x, y, w, h)))
            surface = _described(bare, (x, y, w, h), lab, plane.outside)
            if surface is not None:
                surfaces.append(surface)
    return sorted(surfaces, key=lambda s: -int(s.card.sum()))


def _already(bare: Mask, box: tuple[int, int, int, int], seen: list[tuple[Mask, tuple[int, int, int, int]]]) -> bool:
    """Tell whether a weaker edge strength has given the same surface, but for a few pixels."""
    area = int(bare.sum())
    for other, place in seen:
        close = max(abs(a - b) for a, b in zip(box, place, strict=True)) <= 4
        if close and int(other.sum()) > 0.85 * area:
            return True
    return False


def _described(bare: Mask, box: tuple[int, int, int, int], lab: npt.NDArray[np.uint8], outside: Mask) -> Surface | None:
    x, y, w, h = box
    card = _with_bays(bare)
    if card.mean() < 0.2 or min(w, h) < 24:
        return None
    inside = slice(y, y + h), slice(x, x + w)
    card &= ~outside[inside]
    colours = lab[inside]
    field, centre = _field(bare, colours)
    scale = np.array([1 / 2.55, 1.0, 1.0], dtype=np.float32)
    off = np.sqrt((((colours.astype(np.float32) - field) * scale) ** 2).sum(axis=2))
    noise = 1.4826 * float(np.median(off[bare])) / 1.5
    off[~card] = 0.0
    middle = (centre - [0.0, 128.0, 128.0]) * scale
    return Surface(bare, card, off, noise, box, middle)


def _with_bays(bare: Mask) -> Mask:
    """Fill the holes of a region, and the bays that swatches near its edge cut into it."""
    contours, _ = cv2.findContours(bare.astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    outline = np.concatenate(contours)
    hull = cv2.convexHull(outline)
    box = cv2.boxPoints(cv2.minAreaRect(outline))
    canvas = np.zeros(bare.shape, dtype=np.uint8)
    if cv2.contourArea(hull) > 0.9 * cv2.contourArea(box):
        cv2.fillConvexPoly(canvas, np.rint(box).astype(np.int32), 1)
    else:
        cv2.fillConvexPoly(canvas, hull, 1)
    return canvas.astype(bool)


def _field(bare: Mask, colours: npt.NDArray[np.uint8]) -> tuple[npt.NDArray[np.float32], Floats]:
    """Fit a smooth polynomial per channel over the bare region, and return it everywhere in the box."""
    rows, cols = np.nonzero(bare)
    step = max(1, len(rows) // _FIELD_SAMPLES)
    rows, cols = rows[::step], cols[::step]
    h, w = bare.shape
    values = colours[rows, cols].astype(np.float64)
    degree = _FIELD_DEGREE if bare.mean() > 0.25 else 1
    basis = _monomials(cols / w * 2 - 1, rows / h * 2 - 1, degree)
    weight: Floats = np.ones(len(rows))
    coefficients: Floats = np.zeros((basis.shape[1], 3))
    for _ in range(3):
        scaled = basis * weight[:, None]
        normal = scaled.T @ basis + 1e-3 * len(rows) * np.diag([0.0] + [0.01] * (basis.shape[1] - 1))
        coefficients = np.asarray(np.linalg.solve(normal, scaled.T @ values), dtype=np.float64)
        off = np.linalg.norm(values - basis @ coefficients, axis=1)
        weight = 1.0 / (1.0 + (off / (2.0 * np.median(off) + 0.5)) ** 2)
    # The polynomial separates, so it is evaluated on a coarse grid and enlarged.
    gy, gx = np.mgrid[0:33, 0:33] / 16.0 - 1.0
    coarse = (_monomials(gx.ravel(), gy.ravel(), degree) @ coefficients).reshape(33, 33, 3).astype(np.float32)
    map_x = np.broadcast_to(np.linspace(0, 32, w, dtype=np.float32), (h, w))
    map_y = np.broadcast_to(np.linspace(0, 32, h, dtype=np.float32)[:, None], (h, w))
    field = cv2.remap(coarse, np.ascontiguousarray(map_x), np.ascontiguousarray(map_y), cv2.INTER_LINEAR)
    return np.asarray(field, dtype=np.float32), np.median(values, axis=0)


def _monomials(x: Floats, y: Floats, degree: int) -> Floats:
    return np.stack([x**i * y**j for i in range(degree + 1) for j in range(degree + 1 - i)], axis=-1)
