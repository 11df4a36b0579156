"""Swatches: brush ridges, ragged edges, uneven mixing and glints, with a mean colour that stays the true one."""

from functools import cache

import cv2
import numpy as np

from .canvas import coverage, tile


@cache
def brush_tiles():
    """Ridge patterns shared by all swatches and scenes, each cut at a place of its own: streaks and dabs."""
    rng = np.random.default_rng(481)
    streak = 0.75 * tile(rng, 512, along=60, across=1.6) + 0.5 * tile(rng, 512, along=90, across=5)
    dab = 0.6 * tile(rng, 512, along=14, across=3.0) + 0.7 * tile(rng, 512, along=30, across=9)
    return [(t / t.std()).astype(np.float32) for t in (streak, dab)]


def _ridges(rng, tiles, angle, diameter_px, shape):
    """Lay a ridge pattern over a region: turned along the stroke, about thirty ridges a swatch."""
    noise = tiles[rng.integers(len(tiles))]
    scale = diameter_px / 150.0
    c, s = np.cos(np.radians(angle)) * scale, np.sin(np.radians(angle)) * scale
    matrix = np.array([[c, -s, rng.uniform(-4000, 4000)], [s, c, rng.uniform(-4000, 4000)]])
    # The smaller the swatch in the photo, the more of the ridges the pixels average out.
    soft = max(1.0, 1.0 / scale) if scale < 1 else 1.0
    height, width = shape
    field = cv2.warpAffine(noise, matrix, (width, height), flags=cv2.INTER_LINEAR, borderMode=cv2.BORDER_WRAP)
    return np.clip(field, -2.6, 2.6) / soft**0.5


def _step(x):
    x = np.clip(x, 0, 1)
    return x * x * (3 - 2 * x)


def paint_swatch(canvas, cell, colour, brush, rng_tiles):
    """Paint one swatch; the mean over its core (beyond 8 % of the diameter from the edge) is exactly `colour`.

    Returns
    -------
    (region, core mask, ridges) for glints and truth, or None outside the photo.
    """
    rng, tiles = rng_tiles
    outline = canvas.view.project(cell.outline_mm)
    found = coverage(outline, canvas.size, 4)
    if found is None:
        return None
    where, alpha = found
    diameter = max(cell.diameter_mm * canvas.view.px_per_mm(cell.centre_mm), 4.0)
    inside = cv2.distanceTransform((alpha > 0.5).astype(np.uint8), cv2.DIST_L2, 3) / np.float32(diameter)
    step = canvas.view.project(cell.centre_mm + np.array([[0, 0], [np.cos(a := np.radians(cell.stroke)), np.sin(a)]]))
    angle = np.degrees(np.arctan2(*(step[1] - step[0])[::-1]))
    ridges = _ridges(rng, tiles, angle, diameter, alpha.shape)
    ragged = _step((inside - 0.006 * (1 + 1.6 * ridges)) / 0.016)
    core = inside > 0.08
    if not core.any():
        core = alpha > 0.9
    relief = brush * ridges + 0.25 * brush * _ridges(rng, tiles, angle, 4 * diameter, alpha.shape)
    # Uneven mixing: the channels vary a little apart.
    apart = 1 + rng.normal(0, 0.12, len(colour)).astype(np.float32)
    if core.any():
        relief = relief - relief[core].mean()
    canvas.blend(where, alpha * ragged, colour * (1 + relief[..., None] * apart))
    return where, core, ridges


def add_glint(canvas, cell, painted, white, rng):
    """Specular glint on wet or glossy ridges: the light's own colour added along the ridge tops."""
    where, core, ridges = painted
    diameter = cell.diameter_mm * canvas.view.px_per_mm(cell.centre_mm)
    rows, columns = where
    middle = canvas.view.project(cell.centre_mm[None])[0] + rng.normal(0, 0.15, 2) * diameter
    y, x = np.mgrid[rows, columns].astype(np.float32)
    spread = diameter * rng.uniform(0.12, 0.22)
    near = np.exp(-((x - middle[0]) ** 2 + (y - middle[1]) ** 2) / (2 * spread**2))
    tops = _step((ridges - 0.3) / 0.8) * core
    shine = cv2.GaussianBlur((near * tops).astype(np.float32), (0, 0), max(diameter * 0.006, 0.5))
    canvas.pixels[where] += (rng.uniform(0.5, 1.6) * shine)[..., None] * white
