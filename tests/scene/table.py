"""The table, the chart and the other things lying about."""

from functools import cache

import cv2
import numpy as np

from .canvas import coverage, tile
from .layout import (
    CHART_FRAME_MM,
    CHART_PITCH_MM,
    STRIP_PITCH_MM,
    box,
    chart_grid,
    chart_patches,
    strip_chips,
    strip_outline,
)
from .spectra import GRID_NM
from .view import turn


@cache
def _wood_grain(which):
    """One of a few wrapping wood grains, kept between scenes: long filters are slow."""
    rng = np.random.default_rng([482, which])
    return tile(rng, 512, 70, 1.6) + 0.8 * tile(rng, 512, 140, 7) + 0.5 * tile(rng, 512, 12, 0.8)


@cache
def _clouds(which):
    """Fine grain (0) and slow clouds (1), wrapping, kept between scenes."""
    return tile(np.random.default_rng([484, which]), 512, (1, 60)[which], (1, 60)[which])


def _tile_colours(rng, palette, kind):
    """Make a wrapping tile of camera values (512, 512, channels) and its size in mm."""
    if kind == "wood":
        grain = _wood_grain(int(rng.integers(4)))
        share = np.clip(0.45 + 0.16 * grain, 0, 1)
        a, b = palette["wood light"], palette["wood dark"]
        return a + share[..., None].astype(np.float32) * (b - a) * rng.uniform(0.4, 1.0), 420.0
    if kind in ("dark", "white"):
        a, b = (
            (palette["slate"], palette["slate light"])
            if kind == "dark"
            else (palette["laminate"], palette["laminate shade"])
        )
        share = np.clip(0.5 + 0.13 * _clouds(1) + 0.12 * _clouds(0), 0, 1)
        return a + share[..., None].astype(np.float32) * (b - a), 300.0
    if kind == "even":
        colour = palette.of(rng.uniform(0.1, 0.65) * (1 + 0.15 * rng.uniform(-1, 1) * np.linspace(-1, 1, GRID_NM.size)))
        return colour * (1 + 0.004 * (_clouds(1) + _clouds(0)))[..., None].astype(np.float32), 300.0
    # Busy: a printed cloth with checks and spots.
    cloth = np.empty((512, 512, palette.channels), np.float32)
    cloth[:] = palette["rag"]
    checks = rng.integers(2, 5) * 2
    side = 512 // (2 * checks)
    for row, column in np.ndindex(2 * checks, 2 * checks):
        if (row + column) % 2:
            cloth[row * side : (row + 1) * side, column * side : (column + 1) * side] = palette.tube(
                rng, rng.uniform(0.2, 6)
            )
    for _ in range(30):
        x, y, r = [*rng.integers(22, 490, 2).tolist(), int(rng.integers(5, 18))]
        spot = np.zeros((2 * r + 3, 2 * r + 3), np.uint8)
        cv2.circle(spot, (r + 1, r + 1), r, 255, -1, cv2.LINE_AA)
        part = cloth[y - r - 1 : y + r + 2, x - r - 1 : x + r + 2]
        part += (spot[..., None] / np.float32(255)) * (palette.tube(rng, rng.uniform(0, 4)) - part)
    cloth *= (1 + 0.05 * _clouds(0))[..., None].astype(np.float32)
    return cloth, 260.0


def surface(rng, view, palette, kind):
    """Paint a table over the whole photo, at half size, for it is nowhere measured: (height, width, channels)."""
    colours, size_mm = _tile_colours(rng, palette, kind)
    width, height = view.size
    half = (width // 2 + 1, height // 2 + 1)
    angle, scale = rng.uniform(0, 360), size_mm / colours.shape[0] * CHART_PITCH_MM / 45.5
    c, s = np.cos(np.radians(angle)) * scale, np.sin(np.radians(angle)) * scale
    lay = np.array([[c, -s, rng.uniform(-500, 500)], [s, c, rng.uniform(-500, 500)], [0, 0, 1]])
    matrix = np.diag([0.5, 0.5, 1.0]) @ view.homography @ lay
    seen = np.empty((height, width, palette.channels), np.float32)
    for first in range(0, palette.channels, 3):
        part = np.ascontiguousarray(colours[..., first : first + 3])
        small = cv2.warpPerspective(part, matrix, half, flags=cv2.INTER_LINEAR, borderMode=cv2.BORDER_WRAP)
        seen[..., first : first + 3] = cv2.resize(small, (width, height), interpolation=cv2.INTER_LINEAR)
    return seen


def lay_table(canvas, spec, palette):
    """Fill the photo with the table."""
    canvas.pixels[:] = surface(np.random.default_rng([spec.seed, 51]), canvas.view, palette, spec.table)


def _rounded(corners_mm, radius):
    """Quadrilateral with rounded corners, mm."""
    points = []
    for i in range(4):
        at, before, after = corners_mm[i], corners_mm[i - 1], corners_mm[(i + 1) % 4]
        a = at + (before - at) / np.hypot(*(before - at)) * radius
        b = at + (after - at) / np.hypot(*(after - at)) * radius
        t = np.linspace(0, 1, 7)[:, None]
        points.append((1 - t) ** 2 * a + 2 * t * (1 - t) * at + t**2 * b)
    return np.vstack(points)


def lay_chart(canvas, spec, colours_frame, place=None):
    """Draw a chart: dark rounded frame, patches, a few printed marks; `place` moves plan points (second chart)."""
    colours, frame = colours_frame
    place = place or (lambda points: points)
    patches = chart_patches(spec)
    low, high = patches.min((0, 1)) - CHART_FRAME_MM, patches.max((0, 1)) + CHART_FRAME_MM
    outer = box(low, high)
    outline = place(_rounded(outer, 0.5 * CHART_FRAME_MM))
    rng = np.random.default_rng([spec.seed, 52])
    canvas.cast_shadow(outline, 0.06 * CHART_PITCH_MM, 0.45, rng.normal(0, 1.5, 2))
    canvas.polygon(outline, frame, 1.0, 3)
    for corners, colour in zip(patches, colours, strict=True):
        canvas.polygon(place(corners), colour, 1.0, 4)
    mark = np.array([[-3.0, 0], [3, 0]])
    ticks = [
        place(corner + np.sign(corner - outer.mean(0)) * 5 + turn(mark, a))
        for corner in box(patches.min((0, 1)), patches.max((0, 1)))
        for a in (0, 90)
    ]
    canvas.strokes(ticks, 0.5, colours[-5], 0.8)
    return outline


def lay_strip(canvas, spec, colours, board):
    """Draw a home-made strip beside the chart: chips stuck on a board."""
    outline = _rounded(strip_outline(spec), 0.08 * STRIP_PITCH_MM)
    canvas.cast_shadow(outline, 0.05 * CHART_PITCH_MM, 0.4, np.random.default_rng([spec.seed, 57]).normal(0, 1.2, 2))
    canvas.polygon(outline, board, 1.0, 3)
    for corners, colour in zip(strip_chips(spec), colours, strict=True):
        canvas.polygon(corners, colour, 1.0, 4)


class FreePlaces:
    """Where nothing important lies: a coarse map of the photo."""

    STEP = 16

    def __init__(self, canvas):
        width, height = canvas.size
        self.canvas = canvas
        self.taken = np.zeros((height // self.STEP + 1, width // self.STEP + 1), np.uint8)

    def _draw(self, points_mm):
        mask = np.zeros_like(self.taken)
        points = np.round(self.canvas.view.project(points_mm) / self.STEP).astype(np.int32)
        cv2.fillPoly(mask, [points], 1)
        return mask

    def take(self, points_mm):
        """Mark an object's ground as taken."""
        self.taken |= self._draw(points_mm)

    def find(self, rng, shape_mm, tries=60):
        """Find room for a turned, moved `shape_mm` in the photo: a function moving plan points there, or None."""
        width, height = self.canvas.size
        for _ in range(tries):
            centre = self.canvas.view.unproject(rng.uniform([0, 0], [width, height])[None])[0]
            angle = rng.uniform(0, 360)

            def place(points, centre=centre, angle=angle):
                return turn(points, angle) + centre

            mask = self._draw(place(shape_mm))
            if mask.sum() > 12 and not (mask & self.taken).any():
                self.taken |= cv2.dilate(mask, np.ones((3, 3), np.uint8))
                return place
        return None


def scatter(canvas, spec, palette, free):
    """Tubes, brushes, a rag: each where there is room."""
    rng = np.random.default_rng([spec.seed, 53])
    for _ in range(spec.tubes):
        _tube(canvas, palette, rng, free)
    for _ in range(spec.brushes):
        _brush(canvas, palette, rng, free)
    if spec.rag:
        _rag(canvas, palette, rng, free)


def _tube(canvas, palette, rng, free):
    length, width = CHART_PITCH_MM * rng.uniform(1.8, 3.0), CHART_PITCH_MM * rng.uniform(0.45, 0.75)
    body = np.array([[0, -0.5], [0.82, -0.42], [0.82, 0.42], [0, 0.5]]) * [length, width]
    cap = np.array([[0.83, -0.25], [1.0, -0.22], [1.0, 0.22], [0.83, 0.25]]) * [length, width]
    place = free.find(rng, np.vstack([body, cap])[[0, 1, 5, 6, 2, 3]])
    if place is None:
        return
    colour = palette.tube(rng, rng.uniform(0, 1.0))
    canvas.cast_shadow(place(body), 0.12 * CHART_PITCH_MM, 0.6, rng.normal(0, 3, 2))
    canvas.polygon(place(_rounded(cap, 2.0)), palette["slate"])
    canvas.polygon(place(_rounded(body, 2.0)), palette["laminate"] if rng.random() < 0.5 else palette["metal"])
    band = np.array([[0.12, -0.487], [0.62, -0.44], [0.62, 0.44], [0.12, 0.487]]) * [length, width]
    canvas.polygon(place(band), colour)
    for at in (-0.2, 0.0, 0.18):
        line = np.array([[0.18, at], [0.18 + rng.uniform(0.15, 0.36), at]]) * [length, width]
        canvas.strokes([place(line)], 2.2, palette["laminate"], 0.8)
    shine = np.array([[0.02, -0.3], [0.8, -0.26], [0.8, -0.16], [0.02, -0.2]]) * [length, width]
    canvas.polygon(place(shine), palette["white"], 0.35)


def _brush(canvas, palette, rng, free):
    length = CHART_PITCH_MM * rng.uniform(4.5, 7.0)
    shape = np.array(
        [
            [0, -2],
            [0.72, -4.5],
            [0.86, -4.0],
            [0.93, -6],
            [1.0, 0],
            [0.93, 6],
            [0.86, 4.0],
            [0.72, 4.5],
            [0, 2],
        ]
    )
    shape = shape * [length, 1.0]
    place = free.find(rng, shape)
    if place is None:
        return
    canvas.cast_shadow(place(shape), 0.08 * CHART_PITCH_MM, 0.5, rng.normal(0, 3, 2))
    wood = palette["wood dark"] if rng.random() < 0.5 else palette.tube(rng)
    canvas.polygon(place(shape[[0, 1, 7, 8]]), wood)
    canvas.polygon(place(shape[[1, 2, 6, 7]]), palette["metal"])
    canvas.polygon(place(shape[[2, 3, 4, 5, 6]]), palette["bristle"])


def _rag(canvas, palette, rng, free):
    t = np.linspace(0, 2 * np.pi, 60, endpoint=False)
    radius = (
        CHART_PITCH_MM
        * 1.3
        * (1 + sum(rng.normal(0, 0.14 / k**0.5) * np.cos(k * t + rng.uniform(0, 6.3)) for k in range(1, 5)))
    )
    shape = np.stack([radius * np.cos(t), radius * np.sin(t)], 1)
    place = free.find(rng, shape)
    if place is None:
        return
    canvas.cast_shadow(place(shape), 0.15 * CHART_PITCH_MM, 0.6, rng.normal(0, 3, 2))
    found = coverage(canvas.view.project(place(shape)), canvas.size, 2)
    if found is None:
        return
    folds = canvas.texture(tile(rng, 512, 30, 10).astype(np.float32), found[0], 160.0, angle=rng.uniform(0, 360))
    stain = np.clip(canvas.texture(tile(rng, 512, 40, 40).astype(np.float32), found[0], 200.0) - 0.7, 0, 1)[..., None]
    cloth = palette["rag"] * (1 + 0.10 * folds[..., None])
    canvas.blend(found[0], found[1], cloth + stain * (palette["rag stain"] - cloth))


def lay_second_chart(canvas, spec, colours_frame, free):
    """Draw a smaller second chart where there is room; returns its patch-area corners in px, or (0, 2)."""
    rng = np.random.default_rng([spec.seed, 54])
    corners = chart_patches(spec)
    low, high = corners.min((0, 1)), corners.max((0, 1))
    area = box(low, high)
    middle, scale = area.mean(0), rng.uniform(0.3, 0.5)
    placed = free.find(rng, (area - middle) * scale * 1.15)
    if placed is None:
        return np.zeros((0, 2))

    def place(points):
        return placed((points - middle) * scale)

    lay_chart(canvas, spec, colours_frame, place)
    return canvas.view.project(place(area))


def cover_chart(canvas, spec, palette):
    """Hide some patches at the chart's border under a finger or a paint tube; returns (n,) bool."""
    rows, columns, pitch = chart_grid(spec)
    hidden = np.zeros(rows * columns, bool)
    count = min(spec.chart_covered, 4)
    if count == 0:
        return hidden
    rng = np.random.default_rng([spec.seed, 55])
    # The object comes in from outside, but never across the card.
    facing = {"right": "left", "left": "right", "top": "bottom", "bottom": "top"}[spec.chart_side]
    side = rng.choice([s for s in ("top", "bottom", "left", "right") if s != facing])
    grid = np.arange(rows * columns).reshape(rows, columns)
    line = {"top": grid[0], "bottom": grid[-1], "left": grid[:, 0], "right": grid[:, -1]}[side]
    start = rng.integers(0, len(line) - count + 1)
    chosen = line[start : start + count]
    hidden[chosen] = True
    patches = chart_patches(spec)
    low, high = patches[chosen].min((0, 1)), patches[chosen].max((0, 1))
    gap = pitch * (1 - spec.chart_pitch_ratio)
    low, high = low - 0.4 * gap, high + 0.4 * gap
    reach = 0.9 * CHART_PITCH_MM
    low = low - reach * np.array([side == "left", side == "top"])
    high = high + reach * np.array([side == "right", side == "bottom"])
    shape = _rounded(box(low, high), min(6.0, 0.4 * min(high - low)))
    canvas.cast_shadow(shape, 0.05 * CHART_PITCH_MM, 0.3)
    canvas.polygon(shape, palette["skin"] if rng.random() < 0.5 else palette.tube(rng, 0.5))
    return hidden


def glare_spot(spec, plan):
    """Middle (2,) and spread (px) of the sheen over the chart."""
    rng = np.random.default_rng([spec.seed, 56])
    corners = plan.view.project(plan.chart_mm)
    spot = rng.dirichlet([1.5] * 4) @ corners
    return spot, float(np.hypot(*(corners[1] - corners[0]))) * rng.uniform(0.1, 0.3)


def glare_at(spec, plan, points_px):
    """Sheen at photo points (n, 2), of a perfect white's light."""
    if spec.chart_glare <= 0:
        return np.zeros(len(points_px))
    spot, spread = glare_spot(spec, plan)
    return spec.chart_glare * np.exp(-((points_px - spot) ** 2).sum(-1) / (2 * spread**2))
