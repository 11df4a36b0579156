"""Where each swatch moved, as arrows on the value-and-warmth map, as SVG."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from html import escape
from typing import Final

from swatchread.colour.cielab import value_of_lab
from swatchread.colour.painter_terms import warmth
from swatchread.colour.screen import hex_colours
from swatchread.comparison.comparison_result import Change, Comparison
from swatchread.note.phrases import heading, signed
from swatchread.report.label_placement import Box, place_label
from swatchread.report.value_map import GROUND, MAP_FRAME, MAP_OPENING, MAP_SIZE, Scale, map_axes, map_scale

_INK: Final = "#000000"
_HALO: Final = "#b4b4b4"
_HALF, _DOT, _LETTER = 5.0, 4.0, 13.0
_HEAD = 7.0


@dataclass(frozen=True)
class _Move:
    change: Change
    start: tuple[float, float]
    end: tuple[float, float]
    reach: tuple[float, float]
    colours: tuple[str, str]

    @property
    def box(self) -> Box:
        """The later chip with its halo."""
        (x, y), (rx, ry) = self.end, self.reach
        return Box(x - _HALF - rx, y - _HALF - ry, x + _HALF + rx, y + _HALF + ry)


def arrow_map_svg(comparison: Comparison) -> str:
    """Draw how a card's swatches moved in value and warmth.

    A swatch with a verdict is an arrow from its first to its second colour; one without is its second chip alone. The
    rim round the second chip is as wide as the move is unsure.

    Parameters
    ----------
    comparison : Comparison

    Returns
    -------
    str
        One ``<svg>`` element.
    """
    changes = comparison.changes
    scale = map_scale([float(warmth(lab)) for c in changes for lab in (c.before, c.after)])
    moves = _moves(changes, scale)
    chips = sorted(moves, key=lambda m: -m.reach[0] * m.reach[1])
    taken = [m.box for m in moves]
    parts = [
        MAP_OPENING,
        f'<title id="map-title">Moves in value and warmth: {escape(heading(comparison.after))}</title>',
        f'<desc id="map-desc">{escape("; ".join(_said(m.change) for m in moves))}</desc>',
        f'<rect width="{MAP_SIZE[0]}" height="{MAP_SIZE[1]}" fill="{GROUND}"/>',
        *map_axes(scale),
        *(_halo(m) for m in chips),
        *(line for m in chips for line in _drawn(m)),
        *_labels(moves, taken),
        *_legend(),
        "</svg>",
    ]
    return "\n".join(parts) + "\n"


def _moves(changes: Sequence[Change], scale: Scale) -> list[_Move]:
    before, _ = hex_colours([c.before for c in changes])
    after, _ = hex_colours([c.after for c in changes])
    moves = []
    for change, *colours in zip(changes, before, after, strict=True):
        places = []
        for lab in (change.before, change.after):
            value = min(max(float(value_of_lab(lab)), 0.0), 10.0)
            places.append((scale.x(float(warmth(lab))), scale.y(value)))
        reach = scale.reach(change.value.u, change.warmth.u)
        moves.append(_Move(change, places[0], places[1], reach, (colours[0], colours[1])))
    return moves


def _said(change: Change) -> str:
    return f"{change.id}: {change.verdict}, value {signed(change.value.by)}, warmth {signed(change.warmth.by)}"


def _halo(move: _Move) -> str:
    box = move.box
    return (
        f'<rect x="{box.left:.1f}" y="{box.top:.1f}" width="{box.width:.1f}" height="{box.height:.1f}" rx="4"'
        f' fill="{_HALO}" fill-opacity="0.6" stroke="{_INK}" stroke-width="0.6"/>'
    )


def _drawn(move: _Move) -> list[str]:
    (x0, y0), (x1, y1) = move.start, move.end
    parts = []
    if move.change.words:
        parts.append(
            f'<circle cx="{x0:.1f}" cy="{y0:.1f}" r="{_DOT:g}" fill="{move.colours[0]}"'
            f' stroke="{GROUND}" stroke-width="1"/>'
        )
    parts.append(
        f'<rect x="{x1 - _HALF:.1f}" y="{y1 - _HALF:.1f}" width="{2 * _HALF:g}" height="{2 * _HALF:g}"'
        f' fill="{move.colours[1]}" stroke="{GROUND}" stroke-width="1"/>'
    )
    if move.change.words:
        parts += _arrow(move.start, _edge(move.start, move.end))
    return parts


def _edge(start: tuple[float, float], end: tuple[float, float]) -> tuple[float, float]:
    """Return where the way from the start meets the square round the end, so that the arrow leaves its colour bare."""
    dx, dy = start[0] - end[0], start[1] - end[1]
    share = min(1.0, _HALF / max(abs(dx), abs(dy), 1e-9))
    return end[0] + share * dx, end[1] + share * dy


def _arrow(start: tuple[float, float], end: tuple[float, float]) -> list[str]:
    """Return a shaft and a head, light under dark so that both show on any paint."""
    length = math.dist(start, end)
    if length < 2.0:
        return []
    ux, uy = (end[0] - start[0]) / length, (end[1] - start[1]) / length
    head = min(_HEAD, 0.6 * length)
    base = (end[0] - ux * head, end[1] - uy * head)
    left = (base[0] - uy * head * 0.45, base[1] + ux * head * 0.45)
    right = (base[0] + uy * head * 0.45, base[1] - ux * head * 0.45)
    shaft = f"M{start[0]:.1f} {start[1]:.1f}L{base[0]:.1f} {base[1]:.1f}"
    point = f"M{left[0]:.1f} {left[1]:.1f}L{end[0]:.1f} {end[1]:.1f}L{right[0]:.1f} {right[1]:.1f}z"
    return [
        f'<path d="{shaft}" stroke="#ffffff" stroke-width="3.6" fill="none"/>',
        f'<path d="{shaft}" stroke="{_INK}" stroke-width="1.6" fill="none"/>',
        f'<path d="{point}" fill="{_INK}" stroke="#ffffff" stroke-width="0.8"/>',
    ]


def _labels(moves: Sequence[_Move], taken: list[Box]) -> list[str]:
    parts = []
    for move in moves:
        box = place_label(move.box, (len(move.change.id) * _LETTER * 0.57, _LETTER), taken, MAP_FRAME)
        taken.append(box)
        parts.append(
            f'<text x="{box.left:.1f}" y="{box.bottom - _LETTER * 0.2:.1f}" font-size="{_LETTER:g}">'
            f"{escape(move.change.id)}</text>"
        )
    return parts


def _legend() -> list[str]:
    lines = (
        "An arrow runs from a swatch's first colour (dot) to its second (square).",
        "A square alone: no change that this pair can show. The rim is as wide as",
        "the move is unsure (one standard uncertainty).",
    )
    foot = MAP_SIZE[1] - 70
    return [f'<text x="12" y="{foot + 20 * k}" font-size="15">{escape(line)}</text>' for k, line in enumerate(lines)]
