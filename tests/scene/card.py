"""The card: ground, torn edge, pencil frames, tape, swatches and handwriting."""

from functools import cache

import cv2
import numpy as np

from . import hands, handwriting, paints, paintwork
from .canvas import coverage, tile
from .layout import CHART_PITCH_MM
from .view import turn


def _edge(spec, corners_mm):
    """Outline of the card, mm: straight, or torn along two sides."""
    rng = np.random.default_rng([spec.of_card, 41])
    sides = []
    torn = set(rng.permutation(4)[:2].tolist()) if spec.torn else set()
    for side in range(4):
        start, end = corners_mm[side], corners_mm[(side + 1) % 4]
        if side not in torn:
            sides.append(start[None])
            continue
        count = 90
        t = np.linspace(0, 1, count, endpoint=False)[:, None]
        rough = np.cumsum(rng.normal(0, 0.18, count))
        rough = (rough - np.linspace(rough[0], rough[-1], count)) * 0.5 + rng.normal(0, 0.3, count)
        inward = np.array([-(end - start)[1], (end - start)[0]]) / np.hypot(*(end - start))
        depth = np.clip(2.5 + rough * 1.2, 0.0, 0.12 * CHART_PITCH_MM)
        sides.append(start + t * (end - start) + depth[:, None] * inward)
    return np.vstack(sides)


@cache
def _grain_tile(ground):
    """Make the wrapping surface pattern of a ground, its size in mm and its strength; kept between scenes."""
    rng = np.random.default_rng(483)
    if ground == "canvas":
        t = np.linspace(0, 2 * np.pi * 64, 1024, endpoint=False)
        weave = np.sin(t)[None, :] * np.sign(np.sin(t / 2))[:, None] + np.sin(t)[:, None]
        return (0.5 * weave + 0.5 * tile(rng, 1024, 1.5, 1.5)).astype(np.float32), 64 * 1.6, 0.022
    if ground == "kraft":
        fibre = tile(rng, 512, 10, 0.9) + tile(rng, 512, 0.9, 10) + tile(rng, 512, 12, 12)
        return fibre.astype(np.float32), 150.0, 0.022
    return (tile(rng, 512, 1.2, 1.2) + 0.6 * tile(rng, 512, 25, 25)).astype(np.float32), 170.0, 0.006


def _grain(spec, canvas, where, rng):
    """Surface of the ground as a relative pattern (h, w) float32, mean near 0."""
    pattern, size_mm, strength = _grain_tile(spec.ground)
    return strength * canvas.texture(pattern, where, size_mm, rng.uniform(-500, 500, 2), angle=spec.card_turn)


def lay_card(canvas, spec, plan, palette):
    """Ground with its edge, contact shadow and surface."""
    rng = np.random.default_rng([spec.of_card, 42])
    edge = _edge(spec, plan.card_mm)
    shade = np.random.default_rng([spec.seed, 43])
    canvas.cast_shadow(edge, 0.06 * CHART_PITCH_MM, 0.5, shade.normal(0, 1.2, 2))
    found = coverage(canvas.view.project(edge), canvas.size, 2)
    if found is None:
        return
    where, alpha = found
    ground = palette.of(paints.ground_reflectance(spec.ground))
    if spec.torn:  # the torn lip shows the paper's core
        canvas.polygon(edge, palette.of(0.5 * paints.ground_reflectance("white") + 0.4), 1.0, 2)
        middle = edge.mean(0)
        inner = edge + (middle - edge) / np.hypot(*(middle - edge).T)[:, None] * rng.uniform(0.5, 2.2, (len(edge), 1))
        where, alpha = coverage(canvas.view.project(inner), canvas.size, 2)
    grain = _grain(spec, canvas, where, rng)
    canvas.blend(where, alpha, ground * (1 + grain[..., None]))


def _pencil_frame(canvas, spec, cell, palette):
    row, column, centre, size = cell
    rng = np.random.default_rng([spec.of_card, 44, row, column])
    w = min(size) * 0.97
    corners = np.array([[-w, -w], [w, -w], [w, w], [-w, w], [-w, -w]]) / 2 + rng.normal(0, 0.012 * w, (5, 2))
    strokes = [centre + turn(corners[i : i + 2] * rng.uniform(1.0, 1.04), spec.card_turn) for i in range(4)]
    canvas.strokes(strokes, 0.8, palette["pencil"], 0.45)


def _label(canvas, spec, cell, recipe, ink):
    """Handwriting beside or below a swatch."""
    rng = np.random.default_rng([spec.of_card, 45, cell.row, cell.column])
    side = min(cell.size_mm)
    if spec.writing == "beside":
        box = (0.54 * side, -0.36 * side, 0.78 * side, 0.72 * side)
    else:
        box = (-0.44 * side, 0.53 * side, 0.9 * side, 0.34 * side)
    if spec.hand:
        box = (0.56 * side, -0.42 * side, 0.8 * side, 0.84 * side)
        _stamp(canvas, spec, (rng, hands.recipe_lines(recipe), box), cell.centre_mm, ink)
        return
    lines = handwriting.recipe_lines(recipe)[: 3 if spec.writing == "beside" else 2]
    strokes = [cell.centre_mm + turn(s, spec.card_turn) for s in handwriting.write(rng, lines, box)]
    canvas.strokes(strokes, *ink)


def _stamp(canvas, spec, words, origin, ink):
    """Write lines in a typeface into a box (x, y, width, height, mm) about an origin, as large as fits."""
    rng, lines, (x, y, width, height) = words
    drawn = hands.write_ink(rng, spec.hand, lines)
    scale = min(width / drawn.shape[1], height / drawn.shape[0])
    wide, high = drawn.shape[1] * scale, drawn.shape[0] * scale
    corners = np.array([[x, y], [x + wide, y], [x, y + high]])
    canvas.stamp(drawn, origin + turn(corners, spec.card_turn), *ink[1:])


def _title(canvas, spec, plan, ink):
    """Write the card's title in the margin at its head."""
    rng = np.random.default_rng([spec.of_card, 50])
    cell, border = plan.cell_mm, spec.margin * plan.cell_mm
    width = np.hypot(*(plan.card_mm[1] - plan.card_mm[0])) - 2 * border
    box = (border, 0.22 * border, min(width, 4.5 * cell), 0.6 * border)
    if spec.hand:
        box = (border, 0.12 * border, width, 0.78 * border)
        _stamp(canvas, spec, (rng, spec.title.split("\n"), box), plan.card_mm[0], ink)
        return
    strokes = [plan.card_mm[0] + turn(s, spec.card_turn) for s in handwriting.write(rng, [spec.title], box)]
    canvas.strokes(strokes, *ink)


def _touch(outline_mm, other_mm):
    """Whether a convex outline comes near another shape's points (or holds them)."""
    reach = np.vstack([other_mm, other_mm.mean(0)])[:, None].astype(np.float32)
    hull = outline_mm.astype(np.float32)[:, None]
    return max(cv2.pointPolygonTest(hull, tuple(map(float, p[0])), measureDist=True) for p in reach) > -1.0


def _tape(canvas, spec, plan, palette):
    """Lay up to two strips of masking tape over corners of the card, never over paint."""
    rng = np.random.default_rng([spec.of_card, 46])
    for corner in rng.permutation(4)[:2]:
        at = plan.card_mm[corner]
        to = plan.card_mm[(corner + rng.choice([1, 3])) % 4]
        middle = at + (to - at) * rng.uniform(0.0, 0.15)
        along = (plan.card_mm.mean(0) - at) / np.hypot(*(plan.card_mm.mean(0) - at))
        across = np.array([-along[1], along[0]])
        length, width = CHART_PITCH_MM * rng.uniform(0.5, 0.9), CHART_PITCH_MM * rng.uniform(0.28, 0.4)
        strip = np.array([[-0.55, -0.5], [0.45, -0.5], [0.45, 0.5], [-0.55, 0.5]]) * [width, length]
        outline = middle + strip[:, :1] * along + strip[:, 1:] * across
        near = [c for c in plan.cells if _touch(outline, c.outline_mm)]
        if not near:
            canvas.polygon(outline, palette["masking"], 0.9)


def paint_card(canvas, spec, plan, mixtures_palette):
    """Everything on the card; returns {(row, column): (region, core)} of the painted swatches."""
    mixtures, palette = mixtures_palette
    rng = np.random.default_rng([spec.of_card, 47])
    tiles = paintwork.brush_tiles()
    if spec.pencil_frames:
        painted_cells = [(cell.row, cell.column, cell.centre_mm, cell.size_mm) for cell in plan.cells]
        for cell in [*painted_cells, *plan.empty_cells]:
            _pencil_frame(canvas, spec, cell, palette)
    inks = [(0.55, palette["pencil"], 0.6), (0.65, palette["ink black"], 0.9), (0.65, palette["ink blue"], 0.85)]
    ink = inks[rng.integers(3)]
    if spec.writing != "none":
        ink = (ink[0] * min(plan.cells[0].size_mm) / CHART_PITCH_MM if plan.cells else ink[0], *ink[1:])
        for cell in plan.cells:
            _label(canvas, spec, cell, mixtures[cell.row, cell.column].recipe, ink)
    if spec.title and spec.margin > 0.2:
        _title(canvas, spec, plan, ink)
    painted = {}
    for cell in plan.cells:
        mixture = mixtures[cell.row, cell.column]
        done = paintwork.paint_swatch(canvas, cell, palette.of(mixture.reflectance), spec.brush, (rng, tiles))
        painted[cell.row, cell.column] = done
    if spec.tape:
        _tape(canvas, spec, plan, palette)
    shine = np.random.default_rng([spec.seed, 49])
    glinting = shine.permutation(len(plan.cells))[: spec.glints]
    for index in glinting:
        cell = plan.cells[index]
        if painted[cell.row, cell.column] is not None:
            paintwork.add_glint(canvas, cell, painted[cell.row, cell.column], palette["white"], shine)
    return painted, {(plan.cells[i].row, plan.cells[i].column) for i in glinting}
