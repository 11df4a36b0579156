"""A comparison as one HTML page: chips before and after side by side, the arrow map, the table, the curves."""

from __future__ import annotations

from typing import Any

from swatchread.colour.screen import hex_colours
from swatchread.comparison.comparison_result import Change, Comparison, Series
from swatchread.note.phrases import plain
from swatchread.report.arrow_map import draw_arrow_map
from swatchread.report.curves import draw_curves
from swatchread.report.pages import grid_lines, render

_UNITS = (("years", 365.25 * 86400), ("days", 86400.0), ("hours", 3600.0), ("minutes", 60.0))


def render_comparison(series: Series) -> str:
    """Write a comparison, or a series of them, as a self-contained HTML page.

    Parameters
    ----------
    series : Series
        The last reading is shown against the first; with three and more readings the curves follow.

    Returns
    -------
    str
        HTML, to be written as UTF-8.
    """
    last = series.comparisons[-1]
    items = change_items(last)
    card = plain(last.after.card_info.title)
    return render(
        "report/templates/comparison.html",
        title=f"{card}: before and after" if card else "Before and after",
        when=_when(last),
        last=last,
        columns=max(item["column"] for item in items),
        items=items,
        map=draw_arrow_map(last),
        curves=draw_curves(series) if len(series.comparisons) > 1 else (),
        timed=series.timed,
        has_recipe=any(plain(change.recipe) for change in last.changes),
    )


def change_items(comparison: Comparison) -> list[dict[str, Any]]:
    """Return what a page shows of each swatch of a comparison, in the comparison's order.

    Parameters
    ----------
    comparison : Comparison

    Returns
    -------
    list of dict
        The change, its place in the grid, its two colours, its verdict, and whether that stands clear.
    """
    changes = comparison.changes
    places = {s.id: (s.row, s.column) for s in comparison.before.swatches}
    rows = grid_lines([places[change.id][0] for change in changes])
    columns = grid_lines([places[change.id][1] for change in changes])
    before, _ = hex_colours([change.before for change in changes])
    after, _ = hex_colours([change.after for change in changes])
    return [
        {
            "change": change,
            "row": rows[places[change.id][0]],
            "column": columns[places[change.id][1]],
            "before": one,
            "after": other,
            "verdict": short_verdict(change),
            "surely": is_sure(change),
        }
        for change, one, other in zip(changes, before, after, strict=True)
    ]


def elapsed(seconds: float | None) -> str:
    """Say how far apart in time two photos are, in the unit that fits; nothing if it is not known."""
    if seconds is None:
        return ""
    for name, unit in _UNITS:
        if abs(seconds) >= 1.5 * unit:
            return f"{abs(seconds) / unit:.1f}".removesuffix(".0") + f" {name}"
    whole = f"{abs(seconds):.0f}"
    return f"{whole} second" if whole == "1" else f"{whole} seconds"


def short_verdict(change: Change) -> str:
    """Return the verdict on a swatch in few words, for where many stand together."""
    return change.verdict if change.words or change.anchor else "no change shown"


def is_sure(change: Change) -> bool:
    """Tell whether a change holds even when all swatches of the card are judged together."""
    return bool(change.words) and change.p_card < 0.05


def _when(comparison: Comparison) -> str:
    ends = [
        plain(note.photo.file) + (f" ({plain(note.photo.taken).replace('T', ' ')})" if note.photo.taken else "")
        for note in (comparison.before, comparison.after)
    ]
    time = elapsed(comparison.seconds)
    return f"{ends[0]} → {ends[1]}" + (f", {time} apart" if time else "")
