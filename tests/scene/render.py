"""From a spec to a photo with its truth."""

from dataclasses import dataclass

import cv2
import numpy as np

from . import camera, card, layout, light, paints, spectra, table, truth
from .canvas import Canvas
from .materials import Palette

_STRIP = 256
_NONE = np.zeros((0, 2))


@dataclass(frozen=True)
class Picture:
    """A painted scene in front of the sensor.

    `pixels` (h, w, channels) float32 are camera values under even light, optics applied; `light_map` and `share_map`
    are coarse grids of pitch `step` px; `chart` and `swatches` say what was painted where.
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

    def lit(self, rows):
        """Camera values of a slice of rows under the light that falls there, (h, w, 3) float32."""
        width = self.pixels.shape[1]
        seen = self.pixels[rows]
        if seen.shape[2] == 6:
            share = light.spread_rows(self.share_map, rows, width, self.step)[..., None]
            seen = seen[..., :3] + share * (seen[..., 3:] - seen[..., :3])
        return seen * light.spread_rows(self.light_map, rows, width, self.step)[..., None]


@dataclass(frozen=True)
class Scene:
    """A simulated photo.

    Attributes
    ----------
    spec : the factors.
    rgb : (h, w, 3) uint8 code values in the spec's colour space, as viewed (after the EXIF turn), before JPEG.
    truth : what is true of it.
    """

    spec: object
    rgb: np.ndarray
    truth: truth.Truth
    rendering: camera.Rendering
    light: light.Light
    gain_map: np.ndarray

    def light_at(self, points_px):
        """Relative irradiance with vignetting at photo points (n, 2); 1 at the chart's middle without shadow."""
        return self.light.at_px(_flipped(np.asarray(points_px, float), self.spec))

    def undo_rendering(self, rgb_float, points_px=None):
        """Code values (n, 3) in 0…1 -> camera values (`SwatchTruth.camera` × the light there).

        Exact but for noise, clipping, sharpening and quantisation. With `points_px` (n, 2) the local tone mapping is
        undone too.
        """
        gain = np.ones(np.shape(rgb_float)[:-1])
        if points_px is not None:
            points = _flipped(np.asarray(points_px, float), self.spec)
            height, width = self.rgb.shape[:2]
            x = points[..., 0] / width * self.gain_map.shape[1] - 0.5
            y = points[..., 1] / height * self.gain_map.shape[0] - 0.5
            gain = cv2.remap(self.gain_map, x.astype(np.float32), y.astype(np.float32), cv2.INTER_LINEAR,
                             borderMode=cv2.BORDER_REPLICATE).reshape(gain.shape)
        return self.rendering.undo(rgb_float, gain)

    def sensor(self):
        """Noise-free sensor values (h, w, 3) float32 of full scale, white balance not applied, unclipped; paints anew."""
        picture = paint(self.spec)
        out = picture.lit(slice(0, picture.pixels.shape[0])) * np.float32(self.rendering.exposure)
        return out[:, ::-1] if self.spec.mirrored else out


def _flipped(points_px, spec):
    """Points in a mirrored photo to the unmirrored one, and back."""
    if not spec.mirrored:
        return points_px
    return points_px * [-1, 1] + [spec.view_size[0] - 1, 0]


def _optics(pixels, spec):
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


def _mixtures(spec):
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
    """Broad sheen over the chart; returns its strength at the patch centres."""
    if spec.chart_glare <= 0:
        return
    spot, spread = table.glare_spot(spec, plan)
    for rows in (slice(i, i + _STRIP) for i in range(0, canvas.pixels.shape[0], _STRIP)):
        strip = canvas.pixels[rows]
        y, x = np.mgrid[rows.start : rows.start + strip.shape[0], : strip.shape[1]].astype(np.float32)
        near = np.exp(-((x - spot[0]) ** 2 + (y - spot[1]) ** 2) / np.float32(2 * spread**2))
        strip += (np.float32(spec.chart_glare) * near)[..., None] * palette["white"]


def paint(spec):
    """Paint everything in camera values under even light."""
    plan = layout.make_plan(spec)
    palette = Palette(spec)
    canvas = Canvas(plan.view, palette.channels)
    table.lay_table(canvas, spec, palette)
    free = table.FreePlaces(canvas)
    if spec.card_present:
        free.take(plan.card_mm)
    if spec.chart_present:
        middle = plan.chart_mm.mean(0)
        free.take(middle + (plan.chart_mm - middle) * 1.2)
    chart = spectra.aged_chart(np.random.default_rng([spec.seed, 63]), spec.chart_batch)
    table.scatter(canvas, spec, palette, free)
    second = _NONE
    if spec.second_chart:
        second = table.lay_second_chart(canvas, spec, (palette.of(chart), palette["frame"]), free)
    mixtures, painted, glinting = _mixtures(spec), {}, set()
    if spec.card_present:
        card.lay_card(canvas, spec, plan, palette)
        painted, glinting = card.paint_card(canvas, spec, plan, (mixtures, palette))
    covered = np.zeros(24, bool)
    if spec.chart_present:
        table.lay_chart(canvas, spec, (palette.of(chart), palette["frame"]))
        covered = table.cover_chart(canvas, spec, palette)
        _glare(canvas, spec, plan, palette)
    lit = light.make_light(spec, plan)
    step = max(2, round(8 * spec.scale))
    light_map, share_map = light.light_maps(lit, step)
    return Picture(
        spec, plan, lit, _optics(canvas.pixels, spec), light_map, share_map, step, palette, chart, mixtures, painted,
        glinting, covered, second,
    )


def _noise(rng, sensor, spec):
    """Shot and read noise after a camera's denoising: correlated over neighbours, weaker than at the sensor."""
    full_well = 6000.0 * 100.0 / spec.iso
    sigma = np.sqrt(np.maximum(sensor, 0) / np.float32(full_well) + np.float32((2.5 / full_well) ** 2))
    grain = rng.standard_normal(sensor.shape, np.float32)
    if spec.denoise > 0:
        # A 3×3 binomial mean leaves 0.375 of the deviation; stronger denoising takes more.
        grain = cv2.GaussianBlur(grain, (3, 3), 0.85) * np.float32(1.25 - spec.denoise)
    return sensor + sigma * grain


def _gain_map(picture):
    """Local tone mapping: slow areas darker than the mean are lifted, brighter ones held back."""
    spec, height = picture.spec, picture.pixels.shape[0]
    if spec.local_tone <= 0:
        return np.ones((8, 8), np.float32)
    rows = [picture.lit(slice(i, min(i + _STRIP, height))) for i in range(0, height, _STRIP)]
    green = np.vstack([cv2.resize(r[..., 1], (64, max(1, len(r) * 64 // r.shape[1])), interpolation=cv2.INTER_AREA)
                       for r in rows])
    slow = cv2.GaussianBlur(np.log(np.maximum(green, 0.02)), (0, 0), 7)
    return np.clip(np.exp(-spec.local_tone * (slow - slow.mean())), 0.65, 1.5).astype(np.float32)


def draw(spec):
    """Draw a scene.

    Parameters
    ----------
    spec : SceneSpec

    Returns
    -------
    Scene
    """
    picture = paint(spec)
    rendering = camera.draw_rendering(spec)
    rng = np.random.default_rng([spec.seed, 64])
    table_16 = rendering.table
    gain_map = _gain_map(picture)
    height, width = picture.pixels.shape[:2]
    whole_gain = cv2.resize(gain_map, (width, height)) if spec.local_tone > 0 else None
    rgb = np.empty((height, width, 3), np.uint8)
    for first in range(0, height, _STRIP):
        rows = slice(first, min(first + _STRIP, height))
        sensor = _noise(rng, picture.lit(rows) * np.float32(rendering.exposure), spec)
        code = rendering.develop(sensor, table_16, None if whole_gain is None else whole_gain[rows])
        rgb[rows] = np.clip(code * 255 + 0.5, 0, 255)
    if spec.sharpening > 0:
        soft = cv2.GaussianBlur(rgb, (0, 0), 1.2)
        rgb = cv2.addWeighted(rgb, 1 + spec.sharpening, soft, -spec.sharpening, 0)
    if spec.mirrored:
        rgb = np.ascontiguousarray(rgb[:, ::-1])
    return Scene(spec, rgb, _truth(picture, rendering), rendering, picture.light, gain_map)


def _clipped(picture, rendering, where, mask):
    """Share of a region's masked pixels that the sensor or the rendering clips."""
    rows, columns = where
    sensor = picture.lit(rows)[:, columns][mask] * rendering.exposure
    balanced = sensor * rendering.gains
    linear = np.minimum(balanced, 1) @ rendering.matrix.T
    code = rendering.tone(np.clip(linear, 0, 1)) @ rendering._push.T
    bad = (balanced >= 1).any(-1) | (linear <= 0).any(-1) | (code >= 254.5 / 255).any(-1) | (code <= 0.5 / 255).any(-1)
    return float(bad.mean()) if bad.size else 0.0


def _at_reference(picture, values):
    """Camera values (..., channels) under the light at the reference place: (..., 3)."""
    if values.shape[-1] == 3:
        return values
    place = picture.plan.view.project(picture.light.reference_mm[None])
    share = picture.light.second_share_at(place)[0]
    return (1 - share) * values[..., :3] + share * values[..., 3:]


def _swatch_truth(picture, rendering, cell):
    mixture = picture.mixtures[cell.row, cell.column]
    centre = picture.plan.view.project(cell.centre_mm[None])
    painted = picture.painted[cell.row, cell.column]
    return truth.SwatchTruth(
        id=f"r{cell.row}c{cell.column}",
        row=cell.row,
        column=cell.column,
        centre_px=_flipped(centre, picture.spec)[0],
        outline_px=_flipped(picture.plan.view.project(cell.outline_mm), picture.spec),
        lab=spectra.lab_of(mixture.reflectance),
        reflectance=mixture.reflectance,
        recipe=mixture.recipe,
        is_flesh_or_earth=mixture.is_flesh_or_earth,
        camera=_at_reference(picture, picture.palette.of(mixture.reflectance)),
        light=float(picture.light.at_px(centre)[0]),
        clipped=1.0 if painted is None else _clipped(picture, rendering, painted[0], painted[1]),
        glint=(cell.row, cell.column) in picture.glinting,
    )


def _chart_truth(picture, rendering):
    """Truth fields of the chart."""
    spec, plan = picture.spec, picture.plan
    patches = plan.view.project(layout.chart_patches(spec).reshape(-1, 2)).reshape(24, 4, 2)
    centres = plan.view.project(layout.chart_patches(spec).mean(1))
    inside = ((patches >= 0) & (patches <= np.asarray(plan.view.size) - 1)).all((1, 2))
    clipped = np.zeros(24)
    for i in np.flatnonzero(inside):
        low, high = np.ceil(patches[i].min(0)).astype(int), np.floor(patches[i].max(0)).astype(int)
        quarter = np.maximum((high - low) // 4, 1)
        where = (slice(low[1] + quarter[1], high[1] - quarter[1]), slice(low[0] + quarter[0], high[0] - quarter[0]))
        clipped[i] = _clipped(picture, rendering, where, ...)
    return {
        "chart_present": spec.chart_present,
        "chart_corners_px": _flipped(plan.view.project(plan.chart_mm), spec) if spec.chart_present else _NONE,
        "chart_patches_px": _flipped(centres, spec),
        "chart_outlines_px": _flipped(patches, spec),
        "chart_lab": spectra.lab_of(picture.chart_reflectance),
        "chart_camera": _at_reference(picture, picture.palette.of(picture.chart_reflectance)),
        "chart_light": picture.light.at_px(centres),
        "chart_covered": picture.covered | ~inside,
        "chart_glare": table.glare_at(spec, plan, centres),
        "chart_clipped": clipped,
        "chart_fraction": plan.chart_fraction,
        "second_chart_px": _flipped(picture.second_chart_px, spec),
    }


def _truth(picture, rendering):
    spec, plan = picture.spec, picture.plan
    return truth.Truth(
        size_px=spec.view_size,
        card_present=spec.card_present,
        card_corners_px=_flipped(plan.view.project(plan.card_mm), spec) if spec.card_present else _NONE,
        ground=spec.ground,
        ground_lab=spectra.lab_of(paints.ground_reflectance(spec.ground)),
        rows=spec.rows,
        columns=spec.columns,
        swatches=tuple(_swatch_truth(picture, rendering, cell) for cell in plan.cells),
        missing=tuple(f"r{row}c{column}" for row, column, _, _ in plan.empty_cells),
        rendering=rendering.as_dict(),
        spec=spec,
        **_chart_truth(picture, rendering),
    )
