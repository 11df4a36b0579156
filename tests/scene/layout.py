"""The plan: where the chart, the card and its swatches lie on the table, in millimetres (chart frame, y downwards)."""

from dataclasses import dataclass, field, replace

import numpy as np

from . import view as viewing
from .charts import LARGE

CHART_PITCH_MM = 45.5  # of the 24-patch classic at its common size; everything else is relative to it
CHART_FRAME_MM = 14.0  # dark surround outside the patch area
STRIP_PITCH_MM = 34.0  # of a home-made strip
LARGE_PITCH_MM = 20.0  # of the chart of 140 patches


@dataclass(frozen=True)
class Cell:
    """One painted swatch on the plan: row and column from 1, places in mm, cell size (w, h), stroke angle."""

    row: int
    column: int
    centre_mm: np.ndarray
    outline_mm: np.ndarray
    size_mm: tuple
    diameter_mm: float
    stroke: float


@dataclass(frozen=True)
class Plan:
    """What lies where. Card geometry is already turned into the chart's frame."""

    view: viewing.View
    card_mm: np.ndarray  # (4, 2) nominal corners from the card's own top left, clockwise; empty without a card
    cells: list
    empty_cells: list  # (row, column, centre_mm, size_mm) left unpainted
    chart_mm: np.ndarray  # (4, 2) outer corners of the patch area
    chart_fraction: float
    cell_mm: float
    extent_mm: np.ndarray = field(default_factory=lambda: np.zeros((0, 2)))
    second: "Plan | None" = None  # of a second card


def chart_grid(spec):
    """Rows, columns and pitch in mm of what lies in the chart's place."""
    kinds = {"strip": (*spec.strip_size, STRIP_PITCH_MM), "large": (*LARGE, LARGE_PITCH_MM)}
    return kinds.get(spec.chart_kind, (4, 6, CHART_PITCH_MM))


def chart_corners(spec):
    """Outer corners of the patch area, mm: dark skin, bluish green, black, white; the patch area starts at (0, 0)."""
    rows, columns, pitch = chart_grid(spec)
    gap = pitch * (1 - spec.chart_pitch_ratio)
    return box(np.zeros(2), np.array([columns, rows]) * pitch - gap)


def box(low, high):
    """Corners (4, 2) of an upright rectangle, clockwise from its top left."""
    return np.array([low, [high[0], low[1]], high, [low[0], high[1]]])


def chart_patches(spec):
    """Corners of the patches (n, 4, 2) in mm, row by row; of the classic chart from dark skin to black."""
    return _squares(*chart_grid(spec), spec.chart_pitch_ratio)


def _squares(rows, columns, pitch, ratio):
    side = pitch * ratio
    square = box([0, 0], [side, side])
    origin = np.array([[column, row] for row in range(rows) for column in range(columns)]) * pitch
    return origin[:, None, :] + square


def strip_chips(spec):
    """Corners of the chips (n, 4, 2) in mm of a strip beside the classic chart, on the side away from the card."""
    chips = _squares(*spec.strip_size, STRIP_PITCH_MM, spec.chart_pitch_ratio)
    size = chips.max((0, 1))
    chart = chart_corners(spec)
    gap = CHART_FRAME_MM + 0.6 * CHART_PITCH_MM
    x = chart[:, 0].mean() - size[0] / 2
    y = chart[0, 1] - gap - size[1] if spec.chart_side == "top" else chart[2, 1] + gap
    return viewing.turn(chips + [x, y], spec.strip_turn, size / 2 + [x, y])


def strip_outline(spec):
    """Corners (4, 2) in mm of the board that a strip beside the chart is stuck on."""
    chips = strip_chips(spec).reshape(-1, 4, 2)
    columns = spec.strip_size[1]
    corners = np.array([chips[0, 0], chips[columns - 1, 1], chips[-1, 2], chips[-columns, 3]])
    out = corners - corners.mean(0)
    return corners + out / np.hypot(*out.T)[:, None] * 0.35 * STRIP_PITCH_MM


def _outline(rng, spec, diameter, stroke):
    """Outline of one swatch about (0, 0): a wobbly circle, square or drawn-out stroke, 72 points."""
    t = np.linspace(0, 2 * np.pi, 72, endpoint=False)
    power, stretch = {"round": (2.0, 1.0), "square": (5.5, 1.0), "smeared": (3.0, 1.0)}[spec.shape]
    if spec.shape == "smeared":
        stretch = rng.uniform(1.25, 1.7)
    radius = (np.abs(np.cos(t)) ** power + np.abs(np.sin(t)) ** power) ** (-1 / power)
    wobble = sum(
        rng.normal(0, 0.028 / order**0.7) * np.cos(order * t + rng.uniform(0, 2 * np.pi)) for order in range(2, 14)
    )
    radius = radius * (1 + wobble) * diameter / 2
    points = np.stack([radius * np.cos(t), radius * np.sin(t)], axis=1)
    if spec.shape == "square":
        return viewing.turn(points, rng.normal(0, 4))
    points *= [stretch**0.4, stretch**-0.6] if spec.shape == "smeared" else [1, 1]
    return viewing.turn(points, stroke if spec.shape == "smeared" else 0.0)


def _cell_size(spec, cell_mm):
    """Width and height of one cell: writing takes its room beside or below the paint."""
    width = cell_mm * (1.9 if spec.writing == "beside" else 1.0)
    height = cell_mm * (1.42 if spec.writing == "below" else 1.0)
    return width, height


def _grid(spec, cell_mm):
    """Cell centres of the paint (rows, columns, 2) in the card's own frame and the card's size, mm."""
    width, height = _cell_size(spec, cell_mm)
    gutter = 0.9 * cell_mm if spec.two_blocks else 0.0

    def places(count, step, *, split):
        return np.arange(count) * step + gutter * split * (np.arange(count) >= (count + 1) // 2)

    xs = places(spec.columns, width, split=spec.columns >= 2)
    ys = places(spec.rows, height, split=spec.columns < 2)
    border = spec.margin * cell_mm
    centres = np.stack(np.meshgrid(xs, ys), axis=-1) + border + cell_mm / 2
    size = np.array([xs[-1] + width, ys[-1] + height]) + 2 * border
    return centres, size


def card_cells(spec, cell_mm):
    """Cells in the card's own frame, the empty ones, and the card's size."""
    rng = np.random.default_rng([spec.of_card, 11])
    centres, size = _grid(spec, cell_mm)
    missing = set(rng.permutation(spec.rows * spec.columns)[: spec.missing].tolist())
    cells, empty = [], []
    for index, (row, column) in enumerate(np.ndindex(spec.rows, spec.columns)):
        spread = np.clip(rng.normal(0, spec.place_scatter, 2), -2 * spec.place_scatter, 2 * spec.place_scatter)
        grow = np.clip(rng.normal(0, spec.size_scatter), -2 * spec.size_scatter, 1.5 * spec.size_scatter)
        stroke = float(rng.choice([0, 90, 20, -25]) + rng.normal(0, 8))
        diameter = cell_mm * spec.fill * (1 + grow)
        centre = centres[row, column] + spread * cell_mm
        outline = _outline(rng, spec, diameter, stroke)
        # Neighbours may touch but not run into one another: no paint leaves its own square.
        outline *= min(1.0, cell_mm / 2 / np.abs(outline + spread * cell_mm).max())
        if index in missing:
            empty.append((row + 1, column + 1, centre, _cell_size(spec, cell_mm)))
            continue
        cells.append(Cell(row + 1, column + 1, centre, outline + centre, _cell_size(spec, cell_mm), diameter, stroke))
    return cells, empty, size


def _place(spec, cell_mm):
    """Card moved beside the chart, in the chart's frame: (move, corners)."""
    size = _grid(spec, cell_mm)[1]
    rng = np.random.default_rng([spec.seed, 12])
    corners = box(np.zeros(2), size)
    turned = viewing.turn(corners, spec.card_turn, size / 2)
    chart = chart_corners(spec)
    low, high = chart.min(0) - CHART_FRAME_MM, chart.max(0) + CHART_FRAME_MM
    gap, slide = CHART_PITCH_MM * rng.uniform(0.1, 0.7), rng.uniform(-0.35, 0.35)
    box_low, box_high = turned.min(0), turned.max(0)
    middle = (low + high) / 2 - (box_low + box_high) / 2
    longer = max(*(box_high - box_low), *(high - low))
    offset = {
        "right": (low[0] - gap - box_high[0], middle[1] + slide * 0.4 * longer),
        "left": (high[0] + gap - box_low[0], middle[1] + slide * 0.4 * longer),
        "bottom": (middle[0] + slide * 0.4 * longer, low[1] - gap - box_high[1]),
        "top": (middle[0] + slide * 0.4 * longer, high[1] + gap - box_low[1]),
    }[spec.chart_side]

    def move(points):
        return viewing.turn(points, spec.card_turn, size / 2) + offset

    return move, move(corners)


def second_card_spec(spec):
    """Return the spec of the second card: its own paint, about as many cells, the same ground."""
    rng = np.random.default_rng([spec.seed, 15])
    more, wider = rng.integers(-1, 2, 2).tolist()
    size = {"rows": max(2, spec.rows + more), "columns": max(2, spec.columns + wider)}
    return replace(spec, **size, card_seed=spec.of_card + 7_000_003, missing=0, title="", second_card=False)


def _second_place(spec, cell_mm, card_mm):
    """Second card beside the first, not on the chart's side, in the chart's frame: (move, corners)."""
    rng = np.random.default_rng([spec.seed, 16])
    size = _grid(second_card_spec(spec), cell_mm)[1]
    card_turn = spec.card_turn + rng.uniform(-1.5, 1.5)
    corners = viewing.turn(box(np.zeros(2), size), card_turn, size / 2)
    axis = 1 if spec.chart_side in ("left", "right") else 0
    gap, before = CHART_PITCH_MM * rng.uniform(0.15, 0.6), rng.random() < 0.5
    offset = card_mm.min(0) - corners.min(0) + rng.uniform(-0.1, 0.1) * np.ptp(card_mm, axis=0)
    # The side towards the chart lies no nearer to the chart than the first card's.
    low, high = card_mm.min(0) - corners.min(0), card_mm.max(0) - corners.max(0)
    offset = np.maximum(offset, low) if spec.chart_side in ("left", "top") else np.minimum(offset, high)
    far = card_mm[:, axis].min() - gap - corners[:, axis].max()
    offset[axis] = far if before else card_mm[:, axis].max() + gap - corners[:, axis].min()

    def move(points):
        return viewing.turn(points, card_turn, size / 2) + offset

    return move, corners + offset


def _cards(spec, cell_mm):
    """Corners (4 or 8, 2) in mm of the cards."""
    card_mm = _place(spec, cell_mm)[1]
    return np.vstack([card_mm, _second_place(spec, cell_mm, card_mm)[1]]) if spec.second_card else card_mm


def _outer(spec, card_mm):
    chart = chart_corners(spec)
    frame = chart + np.sign(chart - chart.mean(0)) * CHART_FRAME_MM
    shown = [*([frame] if spec.chart_present else []), *([card_mm] if spec.card_present else [])]
    if spec.strip_beside:
        shown.append(strip_outline(spec))
    return np.concatenate(shown) if shown else frame


def _aim(spec, outer_mm, border=None):
    """View of the outline: at the chart's wanted width, or (with a `border`) from where it just fits."""
    if border is None:
        wanted = spec.chart_fraction * spec.view_size[0]
        distance = viewing.distance_for_width(spec, outer_mm, chart_corners(spec)[:2], wanted)
    else:
        distance = viewing.distance_to_fit(spec, outer_mm, border)
    return viewing.aim_at(spec, outer_mm, distance), distance


def _fraction(spec, view):
    """Length of the chart's upper side over the photo's width."""
    top = view.project(chart_corners(spec)[:2])
    return float(np.hypot(*(top[1] - top[0]))) / spec.view_size[0]


def _step_back(spec, cell_mm, outer):
    """Step back until a too large card fits, with smaller cells if the chart would fall under 1/8 of the width."""
    for smaller in (1.0, 0.85, 0.7, 0.6) if spec.cell_pitch is None else (1.0,):
        view, distance = _aim(spec, outer(smaller * cell_mm), 0.02)
        if _fraction(spec, view) >= 1 / 8:
            break
    return smaller * cell_mm, view, distance


def _choose(spec):
    """Cell size, view and distance: the largest cell that lets all fit at the wanted chart width, or a step back."""
    rng = np.random.default_rng([spec.seed, 14])

    def outer(cell):
        return _outer(spec, _cards(spec, cell))

    pinned = (spec.cell_pitch or 1.0) * CHART_PITCH_MM
    if not spec.chart_present:
        cell_mm = pinned
        return cell_mm, *_aim(spec, outer(cell_mm), rng.uniform(0.04, 0.14))
    low, high = 0.45 * CHART_PITCH_MM, rng.uniform(1.2, 3.2) * CHART_PITCH_MM
    if spec.cell_pitch:
        low = high = pinned
    view, _distance = _aim(spec, outer(low))
    if viewing.slack(view, outer(low)) < 0:
        return _step_back(spec, low, outer)
    for _ in range(7 if spec.card_present else 0):
        middle = np.sqrt(low * high)
        view, _ = _aim(spec, outer(middle))
        low, high = (middle, high) if viewing.slack(view, outer(middle)) >= 0 else (low, middle)
    return low, *_aim(spec, outer(low))


def _cut_off(spec, view, chart):
    """Move the view so that a share of the chart leaves the frame on its nearer side."""
    if spec.chart_cut <= 0:
        return view
    seen, size = view.project(chart), np.asarray(view.size, float)
    middle, half = seen.mean(0), (seen.max(0) - seen.min(0)) / 2
    off = middle / size - 0.5
    axis = int(np.abs(off[1]) > np.abs(off[0]))
    edge = half[axis] * (2 * spec.chart_cut - 1)
    wanted = size[axis] - 1 + edge if off[axis] > 0 else -edge
    move = np.eye(3)
    move[axis, 2] = wanted - middle[axis]
    return viewing.View(move @ view.homography, 0.0, view.size)


def _cut_card(spec, view, places):
    """Move the view so that the first lines of the card on one of its sides leave the frame.

    `places` are (row, column, centre) of all its cells.
    """
    if spec.card_cut <= 0:
        return view
    which = 0 if spec.card_cut_side in ("top", "bottom") else 1
    last = (spec.rows, spec.columns)[which]
    first, second = (1, 2) if spec.card_cut_side in ("top", "left") else (last, last - 1)
    lines = [view.project(np.array([p[2] for p in places if p[which] == n])).mean(0) for n in (first, second)]
    inward = lines[1] - lines[0]
    axis = int(np.argmax(np.abs(inward)))
    move = np.eye(3)
    edge = lines[0] + (spec.card_cut - 0.5) * inward
    move[axis, 2] = (0 if inward[axis] > 0 else view.size[axis] - 1) - edge[axis]
    return viewing.View(move @ view.homography, 0.0, view.size)


def moved_cells(move, cells, empty):
    """Cells and empty cells taken from the card's own frame to the chart's."""
    cells = [replace(cell, centre_mm=move(cell.centre_mm), outline_mm=move(cell.outline_mm)) for cell in cells]
    return cells, [(row, column, move(centre), size) for row, column, centre, size in empty]


def make_plan(spec):
    """Lay everything out for a spec and aim the camera."""
    cell_mm, view, distance = _choose(spec)
    move, card_mm = _place(spec, cell_mm)
    cells, empty, _ = card_cells(spec, cell_mm)
    outer = _outer(spec, _cards(spec, cell_mm))
    moved = viewing.off_centre(spec, view, outer, distance)
    if not spec.chart_present or _fraction(spec, moved) >= min(_fraction(spec, view), 1 / 8):
        view = moved
    chart = chart_corners(spec)
    view = _cut_off(spec, view, chart)
    cells, empty = moved_cells(move, cells, empty)
    view = _cut_card(spec, view, [(c.row, c.column, c.centre_mm) for c in cells] + [e[:3] for e in empty])
    present = spec.card_present
    plan = Plan(
        view=view,
        card_mm=card_mm if present else np.zeros((0, 2)),
        cells=cells if present else [],
        empty_cells=empty if present else [],
        chart_mm=chart,
        chart_fraction=_fraction(spec, view) if spec.chart_present else 0.0,
        cell_mm=cell_mm,
        extent_mm=outer,
    )
    if not spec.second_card:
        return plan
    move, second_mm = _second_place(spec, cell_mm, card_mm)
    *places, _ = card_cells(second_card_spec(spec), cell_mm)
    cells, empty = moved_cells(move, *places)
    return replace(plan, second=replace(plan, card_mm=second_mm, cells=cells, empty_cells=empty))
