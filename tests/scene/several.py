"""Several cards beside one chart, on a table or on a scanner's glass, with the truth of each card."""

from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from . import camera, card, charts, files, icc, layout, light, picture, sampling, table, view
from .canvas import Canvas
from .known import truth_of
from .layout import CHART_FRAME_MM, CHART_PITCH_MM
from .materials import Palette
from .render import Scene, developed, sharpened

_TRIES = 150  # places tried for a card before all cards are made smaller
_ALIGNED, _QUARTERS = (
    0.5,
    0.25,
)  # shares of the photos whose cards lie straight, or in quarter turns; the rest in any turn


@dataclass(frozen=True)
class SeveralSpec:
    """Factors of a photo of several cards.

    Attributes
    ----------
    base : the photo's factors (camera, light, table, chart); those of a card are not used.
    cards : each card's factors; `card_turn` is that in the photo, not against the chart.
    sizes : cell sizes of the cards over one another.
    gap : least distance between the things that lie there, in the chart's pitches.
    window : width of the table in the photo, in the chart's pitches.
    scan : a scanner's picture: seen straight from above in even light, 16 bits.
    lid : reflectance of the scanner's lid.
    """

    base: object
    cards: tuple
    sizes: tuple
    gap: float
    window: float
    scan: bool = False
    lid: float = 0.92

    @property
    def seed(self):
        return self.base.seed


def _turns(rng, count):
    """Draw the turns of the cards in one photo, degrees."""
    kind = rng.random()
    if kind < _ALIGNED:
        return rng.uniform(-3, 3, count)
    if kind < _ALIGNED + _QUARTERS:
        return 90.0 * rng.integers(0, 4, count) + rng.uniform(-5, 5, count)
    return rng.uniform(-180, 180, count)


def _card_specs(rng, base, count):
    """Draw the cards: of one stock in most photos, otherwise each of its own."""
    one_stock, turns = rng.random() < 0.6, _turns(rng, count)
    grounds = rng.choice(["white", "grey", "toned", "kraft"], count, p=[0.45, 0.2, 0.2, 0.15])
    for k in range(count):
        own = sampling.easy_spec(100 * base.seed + k + 1, (base.width, base.height))
        rows = int(rng.integers(1, 8))
        columns = int(rng.integers(1 if rows > 3 else 2, 6)) if rows > 1 else int(rng.integers(4, 7))
        kept = {name: getattr(own, name) for name in sampling.OF_THE_CARD if name != "chart_pitch_ratio"}
        yield replace(
            replace(base, **kept),
            card_seed=own.seed,
            ground=str(grounds[0 if one_stock else k]),
            rows=rows,
            columns=columns,
            missing=int(rows * columns > 5 and rng.random() < 0.3),
            torn=bool(rng.random() < 0.12),
            tape=bool(rng.random() < 0.1),
            card_turn=float(turns[k]),
        )


def several_spec(seed, size=sampling.FULL_SIZE):
    """Draw a photo of two to eight cards on a table."""
    rng = np.random.default_rng([seed, 1010])
    base = replace(sampling.easy_spec(seed, size), palette="flesh-and-earth", missing=0)
    if rng.random() < 0.3:
        base = replace(base, chart_turn=float(rng.uniform(-180, 180)))
    count = int(rng.integers(2, 9))
    width = rng.uniform(20, 32) if count < 5 else rng.uniform(26, 38)
    gap = rng.uniform(0.03, 0.15) if rng.random() < 0.3 else rng.uniform(0.15, 0.7)
    cards = tuple(_card_specs(rng, base, count))
    return SeveralSpec(base, cards, tuple(rng.uniform(0.85, 1.15, count)), float(gap), float(width))


def scan_spec(seed, size=(3508, 2480)):
    """Draw a scan of two to eight cards: no perspective, even light, little noise."""
    rng = np.random.default_rng([seed, 1011])
    made = several_spec(seed, size)
    flat = {
        "light": str(rng.choice(["LED-B3", "FL11", "LED-V1"])), "fall_off": float(rng.uniform(0, 0.03)),
        "vignetting": 0.0, "white_balance": "correct", "white_balance_error": 0.0, "exposure": 0.1, "iso": 30.0,
        "tone": "plain", "saturation": 1.0, "local_tone": 0.0, "sharpening": 0.0, "space": "sRGB", "tubes": 0,
        "brushes": 0, "tilt": 0.0, "distortion": 0.0,
        "chart_turn": float(90 * rng.integers(0, 4) + rng.uniform(-2, 2)),
    }  # fmt: skip
    cards = tuple(replace(own, **flat) for own in made.cards)
    lid = float(rng.choice([0.92, 0.80, 0.55, 0.05]))
    return replace(made, base=replace(made.base, **flat), cards=cards, scan=True, lid=lid)


def _apart(one, other, gap):
    """Whether two convex outlines lie at least so far apart along the normal of some side."""
    for shape in (one, other):
        sides = np.roll(shape, -1, axis=0) - shape
        normals = np.stack([sides[:, 1], -sides[:, 0]], axis=-1) / np.hypot(*sides.T)[:, None]
        a, b = one @ normals.T, other @ normals.T
        if np.maximum(b.min(0) - a.max(0), a.min(0) - b.max(0)).max() >= gap:
            return True
    return False


def _frame(spec):
    """Corners of the chart with its frame about the patch area's first corner, mm."""
    corners = layout.chart_corners(spec)
    return corners + np.sign(corners - corners.mean(0)) * CHART_FRAME_MM


def _find_place(rng, shape, taken, window, gap):
    """Draw a move that lays a shape into the window (width, height), apart from what lies there; None if none is."""
    low, room = -shape.min(0), window - np.ptp(shape, axis=0)
    if (room < 0).any():
        return None
    for offset in low + rng.random((_TRIES, 2)) * room:
        if all(_apart(shape + offset, other, gap) for other in taken):
            return offset
    return None


def _lay_out(spec):
    """Window, the chart's place and turn, each card's place in the window, and the cells' size; all mm."""
    rng = np.random.default_rng([spec.seed, 71])
    base, gap = spec.base, spec.gap * CHART_PITCH_MM
    window = spec.window * CHART_PITCH_MM * np.array([1.0, base.view_size[1] / base.view_size[0]])
    frame = view.turn(_frame(base), base.chart_turn)
    for cell_mm in CHART_PITCH_MM * np.geomspace(1.3, 0.3, 40):
        chart = _find_place(rng, frame, [], window, gap)
        if chart is None:
            raise ValueError("the chart does not fit the photo")
        taken, places = [frame + chart], {}
        sizes = [layout.card_cells(own, cell_mm * size)[2] for own, size in zip(spec.cards, spec.sizes, strict=True)]
        for k in sorted(range(len(sizes)), key=lambda k: -sizes[k].prod()):
            shape = view.turn(layout.box(np.zeros(2), sizes[k]), spec.cards[k].card_turn)
            places[k] = _find_place(rng, shape, taken, window, gap)
            if places[k] is None:
                break
            taken.append(shape + places[k])
        else:
            return window, chart, places, cell_mm
    raise ValueError("the cards do not fit the photo")


def make_plans(spec):
    """Lay everything out; returns a plan for each card, all of one view."""
    window, chart, places, cell_mm = _lay_out(spec)
    base = spec.base

    def to_chart(points):
        return view.turn(points - chart, -base.chart_turn)

    outer = to_chart(layout.box(np.zeros(2), window))
    seen = _scanned(spec, outer) if spec.scan else view.aim_at(base, outer, view.distance_to_fit(base, outer, -0.02))
    corners = layout.chart_corners(base)
    top = seen.project(corners[:2])
    fraction = float(np.hypot(*(top[1] - top[0]))) / base.view_size[0]
    plans = []
    for k, (own, size) in enumerate(zip(spec.cards, spec.sizes, strict=True)):
        cells, empty, extent = layout.card_cells(own, cell_mm * size)

        def move(points, own=own, k=k):
            return to_chart(view.turn(points, own.card_turn) + places[k])

        card_mm = move(layout.box(np.zeros(2), extent))
        cells, empty = layout.moved_cells(move, cells, empty)
        plans.append(layout.Plan(seen, card_mm, cells, empty, corners, fraction, cell_mm * size, outer))
    return plans


def _scanned(spec, outer_mm):
    """Return a view without perspective that the window fills."""
    base = spec.base
    a, scale = np.radians(base.chart_turn), base.view_size[0] / (spec.window * CHART_PITCH_MM)
    matrix = np.array([[np.cos(a), -np.sin(a), 0], [np.sin(a), np.cos(a), 0], [0, 0, 1 / scale]]) * scale
    corner = (matrix[:2, :2] @ outer_mm.T).min(1)
    matrix[:2, 2] = -corner - 0.5
    return view.View(matrix, 0.0, base.view_size)


def _paint(spec, plans):
    """Paint everything; returns one picture a card."""
    base, palette = spec.base, Palette(spec.base)
    canvas = Canvas(plans[0].view, palette.channels)
    if spec.scan:
        canvas.pixels[:] = palette["white"] * spec.lid
    else:
        table.lay_table(canvas, base, palette)
    free = table.FreePlaces(canvas)
    for plan in plans:
        free.take(plan.card_mm)
    free.take(plans[0].chart_mm.mean(0) + (plans[0].chart_mm - plans[0].chart_mm.mean(0)) * 1.2)
    table.scatter(canvas, base, palette, free)
    owns = []
    for own, plan in zip(spec.cards, plans, strict=True):
        turned, mixtures = replace(own, card_turn=own.card_turn - base.chart_turn), picture.mixtures_of(own)
        card.lay_card(canvas, turned, plan, palette)
        owns.append((own, plan, mixtures, *card.paint_card(canvas, turned, plan, (mixtures, palette))))
    chart = charts.reflectances(base)
    table.lay_chart(canvas, base, (palette.of(chart), palette["frame"]))
    lit, step = light.make_light(base, plans[0]), light.map_step(base)
    pixels, maps = picture.optics(canvas.pixels, base), light.light_maps(lit, step)
    covered = np.zeros(len(chart), bool)
    return [
        picture.Picture(
            own, plan, lit, pixels, *maps, step, palette, chart, mixtures, painted, glinting, covered, picture.NOWHERE
        )
        for own, plan, mixtures, painted, glinting in owns
    ]


@dataclass(frozen=True)
class SeveralScene:
    """A photo of several cards: `rgb` is uint8, of a scan uint16; `truths` holds one `Truth` a card."""

    spec: SeveralSpec
    rgb: np.ndarray
    truths: tuple


def draw(spec):
    """Draw a photo of several cards.

    Parameters
    ----------
    spec : SeveralSpec

    Returns
    -------
    SeveralScene
    """
    pictures = _paint(spec, make_plans(spec))
    rendering = camera.draw_rendering(spec.base)
    top, kind = (65535, np.uint16) if spec.scan else (255, np.uint8)
    rgb = developed(replace(pictures[0], spec=spec.base), rendering, top).astype(kind)
    rgb = rgb if spec.scan else sharpened(rgb, spec.base)
    return SeveralScene(spec, rgb, tuple(truth_of(one, rendering) for one in pictures))


def save(scene, path):
    """Write the photo as .jpg, or a scan as .tif of 16 bits with its profile; returns the path."""
    if not scene.spec.scan:
        return files.save(Scene(scene.spec.base, scene.rgb, scene.truths[0], None, None, None), path)
    import tifffile

    path = Path(path)
    tifffile.imwrite(path, scene.rgb, photometric="rgb", iccprofile=icc.profile(scene.spec.base.space))
    return path
