"""Where each swatch moved, as arrows on a map of value and warmth."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

from swatchread.colour.cielab import value_of_lab
from swatchread.colour.painter_terms import VALUE_NAMES, warmth
from swatchread.colour.screen import hex_colours
from swatchread.comparison.comparison_result import Change, Comparison
from swatchread.note.phrases import heading, signed
from swatchread.report.drawing import Drawing, as_drawing, default_style, new_figure
from swatchread.report.label_placement import Box, place_label
from swatchread.report.value_map import GROUND, HALO, INK, RULE, warmth_range, warmth_ticks

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from swatchread.note.model import Triple

_SIZE, _FRAME = (560, 700), (118, 60, 532, 636)
_LABELS: Final = Box(_FRAME[0], _FRAME[1] + 2, _SIZE[0], _FRAME[3] + 10)
"""Where ids may stand."""

_HALF_CHIP, _DOT = 5.0, 4.0
"""Half the side of the later chip, and radius of the first colour's dot, in points."""

_LETTER, _SCALE_LETTER = 13.0, 16.0
"""Height of an id, and of what stands along the scales, in points."""

_LEAST_ARROW = _HALF_CHIP + 2.0
"""Moves shorter than this, in points, are drawn without an arrow: it would cover the chip."""


@dataclass(frozen=True)
class _Move:
    """A swatch's first and second place, as (warmth, value), with their screen colours."""

    change: Change
    start: tuple[float, float]
    end: tuple[float, float]
    colours: tuple[str, str]


@default_style()
def draw_arrow_map(comparison: Comparison) -> Drawing:
    """Draw how a card's swatches moved in value and warmth.

    A swatch with a verdict is an arrow from its first to its second colour; one without is its second chip alone. The
    rim round the second chip is as wide as the move is unsure.

    Parameters
    ----------
    comparison : Comparison

    Returns
    -------
    Drawing
    """
    changes = comparison.changes
    before, _ = hex_colours([c.before for c in changes])
    after, _ = hex_colours([c.after for c in changes])
    moves = [
        _Move(change, _place(change.before), _place(change.after), (first, second))
        for change, first, second in zip(changes, before, after, strict=True)
    ]
    figure, axes = new_figure(_SIZE, _FRAME, GROUND)
    _draw_scale(axes, moves)
    halos = [_halo(axes, move) for move in moves]
    # Larger halos first, so that a sure move is never buried under a doubtful one.
    for move, halo in sorted(zip(moves, halos, strict=True), key=lambda pair: -pair[1].width * pair[1].height):
        _draw_move(axes, move, halo)
    _write_ids(axes, moves, halos)
    said = "; ".join(_said(change) for change in changes)
    return as_drawing(figure, f"Moves in value and warmth: {heading(comparison.after)}. {said}")


def _place(lab: Triple) -> tuple[float, float]:
    return float(warmth(lab)), min(max(float(value_of_lab(lab)), 0.0), 10.0)


def _said(change: Change) -> str:
    return f"{change.id}: {change.verdict}, value {signed(change.value.by)}, warmth {signed(change.warmth.by)}"


def _draw_scale(axes: Axes, moves: list[_Move]) -> None:
    """Draw value upward and warmth sideways."""
    low, high = warmth_range([w for move in moves for w, _ in (move.start, move.end)])
    axes.set_xlim(low, high)
    axes.set_ylim(0, 10)
    values = [f"{name}\N{EM SPACE}{value}" for value, name in enumerate(VALUE_NAMES, start=1)]
    axes.set_yticks(range(11), ["0", *values, "10"], fontsize=_SCALE_LETTER)
    axes.tick_params(axis="y", length=0, pad=8)
    axes.grid(axis="y", color=RULE, linewidth=1)
    axes.set_axisbelow(True)
    axes.axvline(0, color=INK, linewidth=1.5)
    places, names = zip(*warmth_ticks(low, high), strict=True)
    axes.set_xticks(places, names, fontsize=_SCALE_LETTER)
    axes.tick_params(axis="x", pad=8)
    _write_beside(axes, (0.0, 8), ("← cooler", "left"))
    _write_beside(axes, (0.5, 8), ("warmth", "center"))
    _write_beside(axes, (1.0, 8), ("warmer →", "right"))
    _write_beside(axes, (-0.03, _FRAME[3] + 34), ("value ↑", "right"))
    grey = -low / (high - low)
    _write_beside(axes, (grey, _FRAME[3] + 14), ("neutral", "center"), bold=False)


def _write_beside(axes: Axes, place: tuple[float, float], words: tuple[str, str], *, bold: bool = True) -> None:
    """Write beside the frame: x as a share of its width, y in points of the figure, and how the words are aligned."""
    text, alignment = words
    weight = "bold" if bold else "normal"
    coordinates = ("axes fraction", "figure points")
    axes.annotate(text, place, xycoords=coordinates, fontsize=_SCALE_LETTER, fontweight=weight, ha=alignment)


def _halo(axes: Axes, move: _Move) -> Box:
    """Return the later chip with its uncertainty, in points."""
    x, y = axes.transData.transform(move.end)
    right, top = axes.transData.transform((move.end[0] + move.change.warmth.u, move.end[1] + move.change.value.u))
    wide, high = _HALF_CHIP + right - x, _HALF_CHIP + top - y
    return Box(x - wide, y - high, x + wide, y + high)


def _draw_move(axes: Axes, move: _Move, halo: Box) -> None:
    from matplotlib.patches import Rectangle
    from matplotlib.patheffects import withStroke

    look: dict[str, Any] = {"facecolor": (HALO, 0.6), "edgecolor": INK, "linewidth": 0.6}
    axes.add_patch(Rectangle((halo.left, halo.top), halo.width, halo.height, transform=None, **look))
    look = {"markeredgecolor": GROUND, "markeredgewidth": 1, "clip_on": False}
    axes.plot(*move.end, "s", markersize=2 * _HALF_CHIP, color=move.colours[1], **look)
    if not move.change.words:
        return
    (dot,) = axes.plot(*move.start, "o", markersize=2 * _DOT, color=move.colours[0], **look)
    dot.set_gid(f"first-{move.change.id}")
    start, end = axes.transData.transform([move.start, move.end])
    if math.dist(start, end) > _LEAST_ARROW:
        light = withStroke(linewidth=3.2, foreground="white")  # light round dark shows on any paint
        look = {"arrowstyle": "-|>,head_length=0.35,head_width=0.18", "mutation_scale": 16, "path_effects": [light]}
        look |= {"color": INK, "linewidth": 1.4, "shrinkA": 0, "shrinkB": _HALF_CHIP}
        axes.annotate("", move.end, move.start, arrowprops=look)


def _write_ids(axes: Axes, moves: list[_Move], halos: list[Box]) -> None:
    taken = [*halos, *(_way(axes, move) for move in moves if move.change.words)]
    for move, halo in zip(moves, halos, strict=True):
        box = place_label(halo, (len(move.change.id) * _LETTER * 0.57, _LETTER), taken, _LABELS)
        taken.append(box)
        axes.annotate(move.change.id, box.centre, xycoords="figure points", fontsize=_LETTER, ha="center", va="center")


def _way(axes: Axes, move: _Move) -> Box:
    """Return the room that an arrow takes, in points."""
    (x0, y0), (x1, y1) = axes.transData.transform([move.start, move.end])
    return Box(min(x0, x1) - _DOT, min(y0, y1) - _DOT, max(x0, x1) + _DOT, max(y0, y1) + _DOT)
