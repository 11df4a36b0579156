"""The value-and-warmth map as SVG: value upward, warmth sideways, each swatch a chip in its own colour.

Position, letters and outlines carry all that the map says; the chip's colour is only a likeness. So the map can be
read in black and white, and without colour vision.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from textwrap import wrap
from typing import Any, Final

import numpy as np

from swatchread.colour import painter_terms
from swatchread.colour.cielab import value_of_lab
from swatchread.colour.screen import hex_colours
from swatchread.note.model import Note, Swatch
from swatchread.note.phrases import heading, plain, relative, signed
from swatchread.report.label_placement import Box, place_label
from swatchread.report.pages import OUTSIDE_MARK, render

GROUND: Final = "#969696"
"""The neutral ground: L* 62, a little lighter than mid-grey; black letters on it have 7.1 : 1 contrast."""

HALO: Final = "#b9b9b9"
"""Of the rim that shows how unsure a place on a map is."""

INK: Final = "#000000"
RULE: Final = "#838383"
"""Of the lines that a reader measures against: they stay behind the paint."""

_SIZE: Final = (440, 660)
"""Width and height of the drawing; its other lengths are in the same units. A phone shows it about as large as that."""

_FRAME: Final = Box(98, 56, 416, 540)
"""Where values and warmths stand."""

_MARGIN, _LEAST_SPAN = 0.4, 4
"""Steps of value left free at both ends of the scale, and that it covers at least (choice)."""

_RUN_STEP = 0.2
"""Steps of value between two points of the run's line."""

_LABELS: Final = Box(_FRAME.left, _FRAME.top - 10, _SIZE[0], _FRAME.bottom - 2)
"""Where chips and labels may stand."""

_CHIP_SIZES: Final = ((18, 11.0, 15.0), (36, 8.5, 13.5), (math.inf, 6.0, 12.0))
"""For at most so many swatches: half the side of a chip, and the height of its id."""


@dataclass(frozen=True)
class _Scale:
    """Where a value and a warmth stand on the drawing: from its lowest to its highest warmth, and value."""

    low: float
    high: float
    dark: int
    light: int

    def x(self, warmth: float) -> float:
        """Return the abscissa of a warmth."""
        return _FRAME.left + (warmth - self.low) / (self.high - self.low) * _FRAME.width

    def y(self, value: float) -> float:
        """Return the ordinate of a value."""
        return _FRAME.bottom - (value - self.dark) / (self.light - self.dark) * _FRAME.height

    def half_axes(self, sigma_value: float, sigma_warmth: float) -> tuple[float, float]:
        """Return an uncertainty as half-axes on the drawing: sideways, upward."""
        upward = sigma_value / (self.light - self.dark) * _FRAME.height
        return sigma_warmth / (self.high - self.low) * _FRAME.width, upward


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
    def area(self) -> float:
        """How unsure the reading is: the area of its halo, but for a constant."""
        return self.reach_x * self.reach_y

    @property
    def label(self) -> str:
        """The id, marked where the screen falls short."""
        return self.swatch.id + ("" if self.in_gamut else OUTSIDE_MARK)


def warmth_uncertainty(swatch: Swatch) -> float:
    """Return the standard uncertainty of a swatch's warmth, carried over from that of a* and b*."""
    told = swatch.uncertainty
    covariance = np.diag((told.L, told.a, told.b)) ** 2
    return float(painter_terms.warmth_uncertainty(np.array([swatch.lab]), covariance[None])[0])


def value_uncertainty(swatch: Swatch) -> float:
    """Return the standard uncertainty of a swatch's value, carried over from that of L* (ASTM D1535)."""
    step = 0.1
    lightness = min(max(swatch.lab[0], step), 100.0 - step)  # the scale ends at black and at white
    low, high = value_of_lab(np.array([[lightness - step, 0.0, 0.0], [lightness + step, 0.0, 0.0]]))
    return swatch.uncertainty.L * (float(high - low) / (2 * step))


def value_map_svg(note: Note) -> str:
    """Draw a note's swatches by value and warmth.

    Parameters
    ----------
    note : Note

    Returns
    -------
    str
        One ``<svg>`` element, which stands alone as a file or inside a page.
    """
    warmths = [s.temperature.warmth for s in note.swatches]
    scale = _Scale(*warmth_range(warmths), *_value_range([s.value for s in note.swatches]))
    run = _run_line(note, scale)
    codes, shown = hex_colours([s.lab for s in note.swatches])
    half, letter = next(sizes for most, *sizes in _CHIP_SIZES if len(note.swatches) <= most)
    chips = [_chip(s, scale, half, c, ok) for s, c, ok in zip(note.swatches, codes, shown, strict=True)]
    return render(
        "report/templates/value_map.svg",
        title=heading(note),
        told=_describe(chips),
        width=_SIZE[0],
        height=_SIZE[1],
        frame=_FRAME,
        scale=scale,
        values=[
            (value, painter_terms.VALUE_NAMES[value - 1] if 1 <= value <= 9 else "")
            for value in range(scale.dark, scale.light + 1)
        ],
        run=run,
        warmths=warmth_ticks(scale.low, scale.high),
        chips=chips,
        letter=letter,
        labels=_labels(chips, letter, scale),
        legend=_legend(chips, has_run=bool(run)),
        ground=GROUND,
        halo=HALO,
        ink=INK,
        rule=RULE,
    )


def _value_range(values: Sequence[float]) -> tuple[int, int]:
    """Return the lowest and the highest whole value of a map that shows these values."""
    inside = [min(max(value, 0.0), 10.0) for value in values]
    dark, light = max(math.floor(min(inside) - _MARGIN), 0), min(math.ceil(max(inside) + _MARGIN), 10)
    while light - dark < _LEAST_SPAN:
        dark, light = max(dark - 1, 0), min(light + 1, 10)
    return dark, light


def _run_line(note: Note, scale: _Scale) -> list[list[tuple[float, float]]]:
    """Return the pieces of the line that "warmer" and "cooler" are told from, as places on the drawing."""
    value = np.array([s.value for s in note.swatches])
    warmth = np.array([s.temperature.warmth for s in note.swatches])
    at = np.arange(max(value.min(), scale.dark), min(value.max(), scale.light), _RUN_STEP)
    run = painter_terms.run_at(value, warmth, at) if len(at) else np.empty(0)
    shown = np.isfinite(run) & (run >= scale.low) & (run <= scale.high)
    pieces = np.split(np.arange(len(at)), np.flatnonzero(np.diff(shown)) + 1) if len(at) else []
    return [
        [(round(scale.x(float(run[k])), 1), round(scale.y(float(at[k])), 1)) for k in piece]
        for piece in pieces
        if len(piece) > 1 and shown[piece[0]]
    ]


def warmth_range(warmths: Sequence[float]) -> tuple[float, float]:
    """Return the least and the greatest warmth of a map that shows these warmths, in whole quarters."""
    low = min(0.0, math.floor((min(warmths) - 0.05) * 4) / 4)
    high = max(0.5, math.ceil((max(warmths) + 0.05) * 4) / 4)
    return low, high


def warmth_ticks(low: float, high: float) -> list[tuple[float, str]]:
    """Return every quarter of warmth with its name; on a wide scale (a pure cadmium) only every half has one."""
    quarters = range(math.ceil(low * 4), math.floor(high * 4) + 1)
    every = 1 if high - low <= 2 else 2
    return [(k / 4, (signed(k / 4) if k else "0") if k % every == 0 else "") for k in quarters]


def _chip(swatch: Swatch, scale: _Scale, half: float, colour: str, in_gamut: bool) -> _Chip:
    reach_x, reach_y = scale.half_axes(value_uncertainty(swatch), warmth_uncertainty(swatch))
    value = min(max(swatch.value, scale.dark), scale.light)
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


def _labels(chips: Sequence[_Chip], letter: float, scale: _Scale) -> list[dict[str, Any]]:
    """Place the ids; one that stands far from its chip gets a line to it, as x, y, x, y."""
    grey = Box(scale.x(0) - 2, _FRAME.top, scale.x(0) + 2, _FRAME.bottom)  # the line between cool and warm
    taken = [*(chip.box for chip in chips), grey]
    labels = []
    for chip in chips:
        box = place_label(chip.box, (len(chip.label) * letter * 0.57, letter), taken, _LABELS)
        taken.append(box)
        near = chip.box.nearest(box.centre)
        far = box.nearest(near)
        leader = [round(x, 1) for x in (*near, *far)] if math.dist(near, far) > letter * 0.6 else []
        labels.append({"text": chip.label, "box": box, "leader": leader})
    return labels


def _legend(chips: Sequence[_Chip], *, has_run: bool) -> list[str]:
    lines = ["The wider a chip's rim, the less sure its reading (rim: one standard uncertainty)."]
    if has_run:
        lines.append("Dashed line: the run that warmer and cooler are told from.")
    if not all(chip.in_gamut for chip in chips):
        lines.append(f"{OUTSIDE_MARK} stronger than an sRGB screen can show; value and hue are kept.")
    return [part for line in lines for part in wrap(line, 66)]
