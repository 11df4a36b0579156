"""Drying and ageing curves: the change of lightness over time, one small drawing a swatch."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any, Final

from swatchread.colour.screen import hex_colours
from swatchread.comparison.comparison_result import Change, Series
from swatchread.note.phrases import signed
from swatchread.report.drawing import Drawing, as_drawing, default_style, new_figure
from swatchread.report.value_map import GROUND, INK, RULE

if TYPE_CHECKING:
    from matplotlib.axes import Axes

_SIZE, _FRAME = (300, 190), (44, 40, 288, 168)
_LEAST_BETWEEN_TICKS: Final = 36.0 / (_FRAME[2] - _FRAME[0])
"""Share of the axis that the name of a time takes."""

_TICKS: Final = (
    (60.0, "1 min"),
    (3600.0, "1 h"),
    (86400.0, "1 d"),
    (7 * 86400.0, "1 wk"),
    (30.44 * 86400.0, "1 mo"),
    (365.25 * 86400.0, "1 yr"),
    (3652.5 * 86400.0, "10 yr"),
)
"""Seconds, and what the axis calls them."""


@default_style()
def draw_curves(series: Series) -> list[Drawing]:
    """Draw each swatch's change of L* since the first reading, all on one scale.

    Parameters
    ----------
    series : Series

    Returns
    -------
    list of Drawing
        In the order of `Series.ids`.
    """
    figure, axes = new_figure(_SIZE, _FRAME, GROUND)
    places = _places(series)
    _draw_scale(axes, series, places)
    drawings = []
    for name in series.ids:
        points = series.curve(name)
        told = f"{name}: " + ", ".join(f"reading {k + 1} {signed(c.L.by, 1)} ± {c.L.u:.1f}" for k, c in points)
        axes.set_title(name, loc="left", fontsize=14, fontweight="bold", pad=6)
        drawn = _draw_points(axes, points, places)
        drawings.append(as_drawing(figure, told))
        for artist in drawn:
            artist.remove()
    return drawings


def _spread(seconds: float) -> float:
    """Return the place of a time on the axis: closer together the later, for paint dries fast and ages slowly."""
    return math.log10(1.0 + seconds / 60.0)


def _places(series: Series) -> list[float]:
    """Return where each reading stands on the axis, the first at 0 and the last at 1."""
    if series.timed:
        spread = [0.0, *(_spread(c.seconds or 0.0) for c in series.comparisons)]
    else:
        spread = [float(k) for k in range(len(series.comparisons) + 1)]
    return [place / spread[-1] for place in spread]


def _draw_scale(axes: Axes, series: Series, places: Sequence[float]) -> None:
    changes = [change.L for comparison in series.comparisons for change in comparison.changes]
    low = min(-1, math.floor(min((c.by - c.u for c in changes), default=0)))
    high = max(1, math.ceil(max((c.by + c.u for c in changes), default=0)))
    axes.set_xlim(0, 1)
    axes.set_ylim(low, high)
    axes.set_yticks([low, 0, high], [signed(change, 0) for change in (low, 0, high)], fontsize=12)
    axes.tick_params(axis="y", length=0)
    axes.hlines([low, high], 0, 1, color=RULE, linewidth=1)
    axes.axhline(0, color=INK, linewidth=1)
    ticks = _time_ticks(series) if series.timed else [(place, str(k)) for k, place in enumerate(places, start=1)]
    axes.set_xticks([place for place, _ in ticks], [words for _, words in ticks], fontsize=12)


def _time_ticks(series: Series) -> list[tuple[float, str]]:
    """Return the times to name and their places; where names would overlap, the later one stays."""
    last = series.comparisons[-1].seconds or 0.0
    kept: list[tuple[float, str]] = []
    for seconds, words in reversed(_TICKS):
        place = _spread(seconds) / _spread(last)
        if place <= 1.0 and (not kept or kept[-1][0] - place > _LEAST_BETWEEN_TICKS):
            kept.append((place, words))
    return kept


def _draw_points(axes: Axes, points: Sequence[tuple[int, Change]], places: Sequence[float]) -> list[Any]:
    """Draw a swatch's curve; return what was drawn, so that it can be taken away again."""
    x = [places[k] for k, _ in points]
    changes = [change.L for _, change in points]
    y = [change.by for change in changes]
    colours, _ = hex_colours([change.after for _, change in points])
    fills = [colour if change.words else GROUND for colour, (_, change) in zip(colours, points, strict=True)]
    (line,) = axes.plot([0.0, *x], [0.0, *y], color=INK, linewidth=1.5)
    bars = axes.vlines(x, [c.by - c.u for c in changes], [c.by + c.u for c in changes], color=INK, linewidth=1.2)
    dots = axes.scatter(x, y, s=49, c=fills, edgecolors=INK, linewidths=1.2, zorder=3, clip_on=False)
    return [line, bars, dots]
