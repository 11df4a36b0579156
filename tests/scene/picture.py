"""Painting a scene: everything up to the light that reaches the sensor."""

from dataclasses import dataclass, replace

import cv2
import numpy as np

from . import card, charts, layout, light, overlay, paints, spectra, table, under
from .canvas import Canvas
from .materials import Palette

STRIP = 256  # rows worked on at a time, so that temporaries stay in the cache
NOWHERE = np.zeros((0, 2))


@dataclass(frozen=True)
class Picture:
    """A painted scene in front of the sensor.

    `pixels` (h, w, channels) float32 are camera values under even light, optics applied; `light_map` and `share_map`
    are coarse grids of pitch `step` px; `chart` and `swatches` say what was painted where. `second_card` holds the
    second card's (spec, mixtures, painted), if there is one, and `overlay` the opacity of a white mark.
    """

    spec: object
    plan: object
    light: object
    pixels: np.ndarray
    light_map: np.ndarray
    share_map: np.ndarray
    step: int
    palette: Palette
    chart_reflectance: np.ndarray
    mixtures: dict
    painted: dict
    glinting: set
    covered: np.ndarray
    second_chart_px: np.ndarray
    second_card: tuple = ()
    overlay: np.ndarray | None = None

    def lit(self, rows, columns=None):
        """Camera values of a slice of rows (and columns) under the light that falls there, (h, w, 3) float32."""
        columns = columns or slice(0, self.pixels.shape[1])
        seen = self.pixels[rows, columns]
        if seen.shape[2] == 6:
            share = light.spread(self.share_map, rows, columns, self.step)[..., None]
            seen = under_both(seen, share)
        return seen * light.spread(self.light_map, rows, columns, self.step)[..., None]


def under_both(values, share):
    """Camera values (..., 3) where the second light has a `share`, of values (..., 3) or (..., 6) under each light."""
    return values[..., :3] + share * (values[..., 3:] - values[..., :3]) if values.shape[-1] == 6 else values


def optics(pixels, spec):
    """Lens blur, defocus and motion."""
    pixels = cv2.GaussianBlur(pixels, (0, 0), 0.7)
    radius = spec.defocus * spec.scale
    if radius > 0.5:
        size = int(np.ceil(radius)) * 2 + 1
        y, x = np.mgrid[:size, :size] - size // 2
        disc = np.clip(radius + 0.5 - np.hypot(x, y), 0, 1).astype(np.float32)
        pixels = cv2.filter2D(pixels, -1, disc / disc.sum())
    length = spec.motion * spec.scale
    if length > 1:
        angle = np.random.default_rng([spec.seed, 61]).uniform(0, np.pi)
        size = int(np.ceil(length)) * 2 + 1
        y, x = np.mgrid[:size, :size] - size // 2
        along, across = x * np.cos(angle) + y * np.sin(angle), y * np.cos(angle) - x * np.sin(angle)
        line = np.clip(length / 2 + 0.5 - np.abs(along), 0, 1) * np.clip(1 - np.abs(across), 0, 1)
        pixels = cv2.filter2D(pixels, -1, (line / line.sum()).astype(np.float32))
    return pixels


def mixtures_of(spec):
    """Mixture by (row, column), lightness shifts applied."""
    rng = np.random.default_rng([spec.of_card, 62])
    made = paints.paint_card(rng, spec.palette, (spec.rows, spec.columns), spec.ground)
    if spec.lightness_shift:
        shifts = np.resize(spec.lightness_shift, len(made))
        made = [
            m._replace(reflectance=spectra.shift_lightness(m.reflectance, s)) for m, s in zip(made, shifts, strict=True)
        ]
    cells = np.ndindex(spec.rows, spec.columns)
    return {(row + 1, column + 1): mixture for (row, column), mixture in zip(cells, made, strict=True)}


def _glare(canvas, spec, plan, palette):
    """Broad sheen over the chart, added in camera values."""
    if spec.chart_glare <= 0:
        return
    spot, spread = table.glare_spot(spec, plan)
    width, height = canvas.size
    left, top = (max(int(s - 4 * spread), 0) for s in spot)
    part = canvas.pixels[top : min(int(spot[1] + 4 * spread), height), left : min(int(spot[0] + 4 * spread), width)]
    down, across = (
        np.exp(-((np.arange(n) + start - middle) ** 2) / (2 * spread**2)).astype(np.float32)
        for n, start, middle in ((part.shape[0], top, spot[1]), (part.shape[1], left, spot[0]))
    )
    part += (np.float32(spec.chart_glare) * down[:, None] * across)[..., None] * palette["white"]


def _paint_second(canvas, spec, plan, palette):
    """Paint the second card; returns its (spec, mixtures, painted)."""
    own = layout.second_card_spec(spec)
    mixtures = mixtures_of(own)
    card.lay_card(canvas, own, plan.second, palette)
    painted, _ = card.paint_card(canvas, replace(own, glints=0), plan.second, (mixtures, palette))
    return own, mixtures, painted


def paint(spec):
    """Paint everything in camera values under even light."""
    plan = layout.make_plan(spec)
    palette = Palette(spec)
    canvas = Canvas(plan.view, palette.channels)
    table.lay_table(canvas, spec, palette)
    under.lay_under(canvas, spec, plan, palette)
    free = table.FreePlaces(canvas)
    if spec.card_present:
        free.take(plan.card_mm)
    if plan.second:
        free.take(plan.second.card_mm)
    if spec.chart_present:
        middle = plan.chart_mm.mean(0)
        free.take(middle + (plan.chart_mm - middle) * 1.2)
    strip = spectra.strip_reflectances(spec.strip_size, spec.strip_seed)
    chart = charts.reflectances(spec)
    if spec.strip_beside:
        free.take(layout.strip_outline(spec))
    table.scatter(canvas, spec, palette, free)
    second = NOWHERE
    if spec.second_chart:
        second = table.lay_second_chart(canvas, spec, (palette.of(chart), palette["frame"]), free)
    mixtures, painted, glinting = mixtures_of(spec), {}, set()
    if spec.card_present:
        card.lay_card(canvas, spec, plan, palette)
        painted, glinting = card.paint_card(canvas, spec, plan, (mixtures, palette))
    second_card = _paint_second(canvas, spec, plan, palette) if plan.second else ()
    covered = np.zeros(len(chart), bool)
    if spec.strip_beside:
        table.lay_strip(canvas, spec, palette.of(strip), palette["metal"])
    if spec.chart_present:
        table.lay_chart(canvas, spec, (palette.of(chart), palette["metal" if spec.chart_kind == "strip" else "frame"]))
        covered = table.cover_chart(canvas, spec, palette)
        _glare(canvas, spec, plan, palette)
    lit = light.make_light(spec, plan)
    step = light.map_step(spec)
    seen = (spec, plan, lit, optics(canvas.pixels, spec), *light.light_maps(lit, step), step)
    return Picture(
        *seen, palette, chart, mixtures, painted, glinting, covered, second, second_card, overlay.opacity(spec, plan)
    )
