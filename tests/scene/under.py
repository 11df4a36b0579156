"""What card and chart lie on besides the table: one sheet of paper under both, or another surface under the card."""

import cv2
import numpy as np

from . import shade
from .canvas import coverage, tile
from .layout import CHART_PITCH_MM, box
from .paints import edge
from .spec import TABLES
from .spectra import GRID_NM
from .table import surface
from .view import turn


def sheet_reflectance(kind):
    """Reflectance (71,) of a sheet of plain paper. Invented, smooth; no fluorescence."""
    one = np.ones(GRID_NM.size)
    return {
        "white": 0.80 - 0.08 / (1 + np.exp((GRID_NM - 405) / 8)),
        "grey": 0.30 * one + edge(540, 80, -0.006, 0.006),
        "buff": edge(520, 60, 0.33, 0.58),
        "black": 0.05 * one,
    }[kind]


def _lay_sheet(canvas, spec, plan, palette):
    """One sheet of paper, larger than what lies on it by a few cm; its far sides may leave the photo."""
    rng = np.random.default_rng([spec.seed, 58])
    low, high = plan.extent_mm.min(0), plan.extent_mm.max(0)
    more = rng.uniform(0.25, 1.2, (2, 2)) * CHART_PITCH_MM
    outline = turn(box(low - more[0], high + more[1]), rng.uniform(-1.5, 1.5), (low + high) / 2)
    canvas.cast_shadow(outline, 0.03 * CHART_PITCH_MM, 0.35, rng.normal(0, 0.8, 2))
    found = coverage(canvas.view.project(outline), canvas.size, 2)
    if found is not None:
        grain = (tile(rng, 512, 1.3, 1.3) + 0.6 * tile(rng, 512, 40, 40)).astype(np.float32)
        pattern = 0.005 * canvas.texture(grain, found[0], 190.0, rng.uniform(-500, 500, 2), rng.uniform(0, 360))
        canvas.blend(*found, palette.of(sheet_reflectance(spec.sheet)) * (1 + pattern[..., None]))


def _lay_apart(canvas, spec, plan, palette):
    """Another kind of table on the card's side of a line between card and chart."""
    rng = np.random.default_rng([spec.seed, 59])
    line = shade.between(rng, plan.card_mm, shade.frame_mm(plan))
    kind = rng.choice([name for name in (*TABLES, "even") if name != spec.table])
    step = 4
    width, height = canvas.size
    y, x = np.mgrid[0 : height + step : step, 0 : width + step : step]
    inside = line.inside(canvas.view.unproject(np.stack([x, y], axis=-1).reshape(-1, 2))).reshape(x.shape)
    across = cv2.resize(inside.astype(np.float32), None, fx=step, fy=step, interpolation=cv2.INTER_LINEAR)
    across = across[:height, :width] * np.float32(canvas.view.px_per_mm(line.point_mm))
    canvas.pixels *= 1 - 0.3 * np.exp(-np.abs(across) / (0.06 * CHART_PITCH_MM))[..., None]  # the step's own shadow
    alpha = np.clip(across + 0.5, 0, 1)
    canvas.blend(np.s_[:, :], alpha, surface(rng, canvas.view, palette, kind))


def lay_under(canvas, spec, plan, palette):
    """Lay what the spec puts under card and chart, besides the table."""
    if spec.under == "sheet":
        _lay_sheet(canvas, spec, plan, palette)
    elif spec.under == "apart":
        _lay_apart(canvas, spec, plan, palette)
