"""Drying and ageing curves: the change of lightness over time, one small drawing a swatch, as SVG."""

from __future__ import annotations

import math
from collections.abc import Sequence
from html import escape
from typing import Final

from swatchread.colour.screen import hex_colours
from swatchread.comparison.comparison_result import Change
from swatchread.comparison.series import Series
from swatchread.note.phrases import signed
from swatchread.report.value_map import GROUND

_WIDTH, _HEIGHT = 300, 190
_LEFT, _RIGHT, _TOP, _BOTTOM = 44, 288, 22, 150
_INK, _RULE = "#000000", "#7b7b7b"
_OPENING = (
    f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {_WIDTH} {_HEIGHT}" role="img"'
    ' font-family="system-ui, sans-serif" font-size="12">'
)
_STEPS: Final = (
    (60.0, "1 min"),
    (3600.0, "1 h"),
    (86400.0, "1 d"),
    (7 * 86400.0, "1 wk"),
    (30.44 * 86400.0, "1 mo"),
    (365.25 * 86400.0, "1 yr"),
    (3652.5 * 86400.0, "10 yr"),
)


class _Axes:
    """Time sideways, closer together the later it is (paint dries fast and ages slowly); change of L* upward."""

    def __init__(self, series: Series) -> None:
        self.timed = series.timed
        self.times = [0.0, *((c.seconds or 0.0) for c in series.comparisons)]
        bounds = [ch.L.by + sign * ch.L.u for c in series.comparisons for ch in c.changes for sign in (-1, 1)]
        self.low = min(-1.0, float(math.floor(min(bounds, default=0.0))))
        self.high = max(1.0, float(math.ceil(max(bounds, default=0.0))))
        self.places = [self.spread(t) for t in self.times] if self.timed else [float(k) for k in range(len(self.times))]

    def spread(self, seconds: float) -> float:
        """Return the place of a time on the axis, before it is scaled."""
        return math.log10(1.0 + seconds / 60.0)

    def x(self, place: float) -> float:
        """Return the abscissa of a place."""
        return _LEFT + place / max(self.places[-1], 1e-9) * (_RIGHT - _LEFT)

    def y(self, change: float) -> float:
        """Return the ordinate of a change of L*."""
        return _BOTTOM - (change - self.low) / (self.high - self.low) * (_BOTTOM - _TOP)


def curves_html(series: Series) -> str:
    """Draw each swatch's change of L* since the first reading.

    Parameters
    ----------
    series : Series

    Returns
    -------
    str
        A ``<section>`` with one ``<svg>`` a swatch, all on one scale.
    """
    axes = _Axes(series)
    drawn = "\n".join(_curve(series, name, axes) for name in series.ids)
    how = (
        "by the photos' dates; the axis is closer together the later it is"
        if axes.timed
        else "in the order given, evenly spaced, because the photos' dates are missing or run otherwise"
    )
    return (
        '<section class="curves">\n<h2>Lightness over time</h2>\n'
        f"<p>Change of L* since the first reading, {how}. Bars are one standard uncertainty; a filled dot stands clear "
        f"of the noise, an open one does not.</p>\n<div>\n{drawn}\n</div>\n</section>"
    )


def _curve(series: Series, name: str, axes: _Axes) -> str:
    points = series.curve(name)
    codes, _ = hex_colours([change.after for _, change in points])
    title = f"{name}: " + ", ".join(f"reading {k + 1} {signed(c.L.by, 1)} ± {c.L.u:.1f}" for k, c in points)
    start = f"{axes.x(0):.1f},{axes.y(0):.1f}"
    path = " ".join([start, *(f"{axes.x(axes.places[k]):.1f},{axes.y(c.L.by):.1f}" for k, c in points)])
    return "\n".join(
        [
            _OPENING,
            f"<title>{escape(title)}</title>",
            f'<rect width="{_WIDTH}" height="{_HEIGHT}" fill="{GROUND}"/>',
            *_frame(axes),
            f'<text x="{_LEFT}" y="14" font-weight="600" font-size="14">{escape(name)}</text>',
            f'<polyline points="{path}" fill="none" stroke="{_INK}" stroke-width="1.5"/>',
            *(_point(axes, k, change, code) for (k, change), code in zip(points, codes, strict=True)),
            "</svg>",
        ]
    )


def _frame(axes: _Axes) -> list[str]:
    parts = []
    for change in (axes.low, 0.0, axes.high):
        y = axes.y(change)
        parts.append(f'<path d="M{_LEFT} {y:.1f}H{_RIGHT}" stroke="{_INK if change == 0 else _RULE}"/>')
        parts.append(f'<text x="{_LEFT - 6}" y="{y + 4:.1f}" text-anchor="end">{signed(change, 0)}</text>')
    for x, words in _ticks(axes):
        parts.append(f'<path d="M{x:.1f} {_BOTTOM}v5" stroke="{_INK}"/>')
        parts.append(f'<text x="{x:.1f}" y="{_BOTTOM + 18}" text-anchor="middle">{words}</text>')
    return parts


def _ticks(axes: _Axes) -> Sequence[tuple[float, str]]:
    if not axes.timed:
        return [(axes.x(float(k)), str(k + 1)) for k in range(len(axes.times))]
    ticks = [(axes.x(axes.spread(t)), words) for t, words in _STEPS if t <= axes.times[-1]]
    kept: list[tuple[float, str]] = []
    for x, words in reversed(ticks):  # the latest are named first; what would overlap stays unnamed
        if not kept or kept[-1][0] - x > 36:
            kept.append((x, words))
    return kept


def _point(axes: _Axes, k: int, change: Change, code: str) -> str:
    x = axes.x(axes.places[k])
    low, high = axes.y(change.L.by - change.L.u), axes.y(change.L.by + change.L.u)
    fill = code if change.words else GROUND
    return (
        f'<path d="M{x:.1f} {low:.1f}V{high:.1f}" stroke="{_INK}" stroke-width="1.2"/>'
        f'<circle cx="{x:.1f}" cy="{axes.y(change.L.by):.1f}" r="3.5" fill="{fill}"'
        f' stroke="{_INK}" stroke-width="1.2"/>'
    )
