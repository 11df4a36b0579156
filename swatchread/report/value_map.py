"""The value-and-warmth map as SVG: value upward, warmth sideways, each swatch a chip in its own colour.

Position, letters and outlines carry everything that the map says; a chip's colour is only its likeness, so
the map reads in print and without colour vision.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from html import escape
from itertools import pairwise
from textwrap import wrap
from typing import Final

import numpy as np

from swatchread.colour import painter_terms
from swatchread.colour.cielab import value_of_lab
from swatchread.colour.screen import hex_colours
from swatchread.note.model import Note, Swatch, Triple
from swatchread.note.phrases import heading, plain, relative, signed
from swatchread.report.label_placement import Box, place_label
from swatchread.report.pages import OUTSIDE_MARK

GROUND: Final = "#8f8f8f"
"""The neutral ground: L* 59.4, a little lighter than mid-grey; black letters on it have 6.5 : 1 contrast."""

HALO: Final = "#b4b4b4"
"""Of the rim that shows how unsure a place on a map is."""

_WIDTH, _HEIGHT = 560, 790
_LEFT, _RIGHT, _TOP, _BOTTOM = 118, 532, 64, 640
_INK = "#000000"
_RULE = "#7b7b7b"
_BOLD = 'font-weight="600"'
_LETTER = 16.0
_OPENING = (
    f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {_WIDTH} {_HEIGHT}" role="img"'
    ' aria-labelledby="map-title map-desc" font-family="system-ui, sans-serif"'
    f' font-size="{_LETTER:g}" fill="{_INK}">'
)
_FRAME: Final = Box(_LEFT, _TOP - 10, _WIDTH, _BOTTOM - 2)
"""Where chips and labels may stand on the drawing."""

# Half-width of a chip and height of its id, by how many swatches share the map.
_CHIP_SIZES = ((18, 13.0, 16.0), (36, 10.0, 14.0))
_CROWDED = (7.0, 12.0)


@dataclass(frozen=True)
class _Scale:
    """Where a value and a warmth stand on the drawing."""

    low: float
    high: float

    def x(self, warmth: float) -> float:
        """Return the abscissa of a warmth."""
        return _LEFT + (warmth - self.low) / (self.high - self.low) * (_RIGHT - _LEFT)

    def y(self, value: float) -> float:
        """Return the ordinate of a value, 0 to 10."""
        return _BOTTOM - value / 10 * (_BOTTOM - _TOP)

    def reach(self, sigma_value: float, sigma_warmth: float) -> tuple[float, float]:
        """Return an uncertainty as half-axes on the drawing: sideways, upward."""
        return (
            sigma_warmth / (self.high - self.low) * (_RIGHT - _LEFT),
            sigma_value / 10 * (_BOTTOM - _TOP),
        )


@dataclass(frozen=True)
class _Chip:
    swatch: Swatch
    x: float
    y: float
    reach_x: float
    reach_y: float
    half: float
    colour: str
    in_gamut: bool

    @property
    def box(self) -> Box:
        """The chip with its halo."""
        half_x, half_y = self.half + self.reach_x, self.half + self.reach_y
        return Box(self.x - half_x, self.y - half_y, self.x + half_x, self.y + half_y)

    @property
    def label(self) -> str:
        """The id, marked where the screen falls short."""
        return self.swatch.id + ("" if self.in_gamut else OUTSIDE_MARK)


def warmth_uncertainty(swatch: Swatch) -> float:
    """Return the standard uncertainty of a swatch's warmth, carried over from that of a* and b*."""
    told = swatch.uncertainty
    return _warmth_uncertainty(swatch.lab, (told.L, told.a, told.b))


@lru_cache(maxsize=1024)  # asked for by the map, its description and the table
def _warmth_uncertainty(lab: Triple, sigma: Triple) -> float:
    return float(painter_terms.warmth_uncertainty(np.array([lab]), np.diag(sigma)[None] ** 2)[0])


def value_uncertainty(swatch: Swatch) -> float:
    """Return the standard uncertainty of a swatch's value, carried over from that of L* (ASTM D1535)."""
    return swatch.uncertainty.L * _value_slope(swatch.lab[0])


@lru_cache(maxsize=1024)
def _value_slope(lightness: float) -> float:
    step = 0.1
    lightness = min(max(lightness, step), 100.0 - step)  # the scale ends at black and at white
    low, high = value_of_lab(np.array([[lightness - step, 0.0, 0.0], [lightness + step, 0.0, 0.0]]))
    return float(high - low) / (2 * step)


def value_map_svg(note: Note, run: Sequence[tuple[float, float]] = ()) -> str:
    """Draw a note's swatches by value and warmth.

    Parameters
    ----------
    note : Note
    run : sequence of (value, warmth)
        The card's own run as a smooth line, dark to light; nothing is drawn for fewer than two points.

    Returns
    -------
    str
        One ``<svg>`` element, which stands alone as a file or inside a page.
    """
    scale = _Scale(*warmth_range([s.temperature.warmth for s in note.swatches] + [w for _, w in run]))
    codes, shown = hex_colours([s.lab for s in note.swatches])
    half, letter = _sizes(len(note.swatches))
    chips = [_chip(s, scale, half, c, ok) for s, c, ok in zip(note.swatches, codes, shown, strict=True)]
    line = [(scale.x(w), scale.y(v)) for v, w in run] if len(run) > 1 else []
    # Larger halos first, so that a sure reading is never buried under a doubtful one.
    painted = sorted(chips, key=lambda chip: -chip.reach_x * chip.reach_y)
    parts = [
        _OPENING,
        f'<title id="map-title">Value and warmth: {escape(heading(note))}</title>',
        f'<desc id="map-desc">{escape(_describe(chips))}</desc>',
        f'<rect width="{_WIDTH}" height="{_HEIGHT}" fill="{GROUND}"/>',
        *_axes(scale),
        *_run_line(line),
        *(_halo(chip) for chip in painted),
        *(_body(chip) for chip in painted),
        *_labels(chips, letter, [*_obstacles(line), _strip(scale.x(0))]),
        *_legend(chips, has_run=bool(line)),
        "</svg>",
    ]
    return "\n".join(parts) + "\n"


def warmth_range(warmths: Sequence[float]) -> tuple[float, float]:
    """Return the least and the greatest warmth of a map that shows these warmths, in whole quarters."""
    low = min(-0.25, math.floor((min(warmths) - 0.05) * 4) / 4)
    high = max(1.0, math.ceil((max(warmths) + 0.05) * 4) / 4)
    return low, high


def _sizes(count: int) -> tuple[float, float]:
    for most, half, letter in _CHIP_SIZES:
        if count <= most:
            return half, letter
    return _CROWDED


def _chip(swatch: Swatch, scale: _Scale, half: float, colour: str, in_gamut: bool) -> _Chip:
    reach_x, reach_y = scale.reach(value_uncertainty(swatch), warmth_uncertainty(swatch))
    value = min(max(swatch.value, 0.0), 10.0)
    x, y = scale.x(swatch.temperature.warmth), scale.y(value)
    return _Chip(swatch, x, y, reach_x, reach_y, half, colour, in_gamut)


def _describe(chips: Sequence[_Chip]) -> str:
    lines = [
        f"{chip.swatch.id}: value {chip.swatch.value:.2f} ± {value_uncertainty(chip.swatch):.2f}"
        f" ({plain(chip.swatch.value_name)}), warmth {signed(chip.swatch.temperature.warmth)}"
        f" ± {warmth_uncertainty(chip.swatch):.2f}, {relative(chip.swatch.temperature)}"
        + ("" if chip.in_gamut else ", outside the colours of an sRGB screen")
        for chip in chips
    ]
    axes = "Value runs upward from 0 to 10, warmth from cool on the left to warm on the right. "
    return axes + "; ".join(lines)


def _axes(scale: _Scale) -> list[str]:
    """Draw value upward and warmth sideways, as SVG elements."""
    parts = []
    for value in range(11):
        y = scale.y(value)
        parts.append(f'<path d="M{_LEFT} {y:.1f}H{_RIGHT}" stroke="{_RULE}"/>')
        parts.append(f'<text x="{_LEFT - 12}" y="{y + 5.5:.1f}" text-anchor="end">{value}</text>')
        if 1 <= value <= 9:
            name = painter_terms.VALUE_NAMES[value - 1]
            parts.append(f'<text x="{_LEFT - 34}" y="{y + 5.5:.1f}" text-anchor="end">{name}</text>')
    x, foot = scale.x(0), _BOTTOM + 24
    parts += [
        f'<path d="M{x:.1f} {_TOP - 8}V{_BOTTOM}" stroke="{_INK}" stroke-width="1.5"/>',
        f'<text x="{x:.1f}" y="{_TOP - 14}" text-anchor="middle">neither warm nor cool</text>',
        f'<text x="{_LEFT - 12}" y="{_TOP - 34}" text-anchor="end" {_BOLD}>value ↑</text>',
    ]
    for step in range(math.ceil(scale.low * 4), math.floor(scale.high * 4) + 1):
        at = scale.x(step / 4)
        parts.append(f'<path d="M{at:.1f} {_BOTTOM}v6" stroke="{_INK}"/>')
        # The whole range may be wide (a pure cadmium): then only every second tick is named.
        if scale.high - scale.low <= 2 or step % 2 == 0:
            text = signed(step / 4) if step else "0"
            parts.append(f'<text x="{at:.1f}" y="{foot}" text-anchor="middle">{text}</text>')
    parts += [
        f'<text x="{_LEFT}" y="{foot + 26}" {_BOLD}>← cooler</text>',
        f'<text x="{(_LEFT + _RIGHT) / 2}" y="{foot + 26}" text-anchor="middle" {_BOLD}>warmth</text>',
        f'<text x="{_RIGHT}" y="{foot + 26}" text-anchor="end" {_BOLD}>warmer →</text>',
    ]
    return parts


def _run_line(line: Sequence[tuple[float, float]]) -> list[str]:
    if not line:
        return []
    points = " ".join(f"{x:.1f},{y:.1f}" for x, y in line)
    look = f'fill="none" stroke="{_INK}" stroke-width="1.5" stroke-dasharray="2 5"'
    return [f'<polyline points="{points}" {look}/>']


def _obstacles(line: Sequence[tuple[float, float]]) -> list[Box]:
    return [
        Box(min(x0, x1) - 1, min(y0, y1) - 1, max(x0, x1) + 1, max(y0, y1) + 1) for (x0, y0), (x1, y1) in pairwise(line)
    ]


def _strip(x: float) -> Box:
    return Box(x - 2, _TOP, x + 2, _BOTTOM)


def _halo(chip: _Chip) -> str:
    box = chip.box
    return (
        f'<rect x="{box.left:.1f}" y="{box.top:.1f}" width="{box.width:.1f}" height="{box.height:.1f}"'
        f' rx="{chip.reach_x + 2:.1f}" ry="{chip.reach_y + 2:.1f}" fill="{HALO}" fill-opacity="0.75"'
        f' stroke="{_INK}" stroke-width="0.8"/>'
    )


def _body(chip: _Chip) -> str:
    side = 2 * chip.half
    return (
        f'<rect x="{chip.x - chip.half:.1f}" y="{chip.y - chip.half:.1f}" width="{side:g}" height="{side:g}"'
        f' fill="{chip.colour}" stroke="{GROUND}" stroke-width="1"/>'
    )


def _labels(chips: Sequence[_Chip], letter: float, obstacles: Sequence[Box]) -> list[str]:
    taken = [*(chip.box for chip in chips), *obstacles]
    parts = []
    for chip in chips:
        box = place_label(chip.box, (len(chip.label) * letter * 0.57, letter), taken, _FRAME)
        taken.append(box)
        x0, y0 = chip.box.nearest(box.centre)
        x1, y1 = box.nearest((x0, y0))
        if math.dist((x0, y0), (x1, y1)) > letter * 0.6:
            path = f"M{x0:.1f} {y0:.1f}L{x1:.1f} {y1:.1f}"
            parts.append(f'<path d="{path}" stroke="{_INK}" stroke-width="0.8"/>')
        parts.append(
            f'<text x="{box.left:.1f}" y="{box.bottom - letter * 0.2:.1f}" font-size="{letter:g}">'
            f"{escape(chip.label)}</text>"
        )
    return parts


def _legend(chips: Sequence[_Chip], *, has_run: bool) -> list[str]:
    lines = ["The rim round a chip is as wide as its reading is unsure (one standard uncertainty)."]
    if has_run:
        lines.append("The dotted line is the card's own run.")
    if not all(chip.in_gamut for chip in chips):
        lines.append(f"{OUTSIDE_MARK} stronger than an sRGB screen can show; value and hue are kept.")
    return [
        f'<text x="12" y="{_BOTTOM + 80 + 20 * i}" font-size="15">{escape(line)}</text>'
        for i, line in enumerate(part for line in lines for part in wrap(line, 68))
    ]
