"""Comparisons and their summary as tables for the terminal."""

from __future__ import annotations

from rich.console import Group, RenderableType
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from swatchread.comparison.across_cards import Across, Effect
from swatchread.comparison.comparison_result import Amount, Comparison
from swatchread.comparison.series import Series
from swatchread.note.phrases import CARE, plain, signed
from swatchread.report.comparison_page import elapsed, short_verdict

_HEADS = ("", "ΔL*", "±", "ΔC*", "Δh", "Δb*", "value", "warmth", "ΔE00", "±", "verdict")


def series_table(series: Series) -> RenderableType:
    """Lay out a comparison, or one after the other those of a series, each with the first reading."""
    parts: list[RenderableType] = []
    for comparison in series.comparisons:
        parts += [*_comparison(comparison), Text()]
    if any(plain(change.recipe) for c in series.comparisons for change in c.changes):
        parts.append(Text(CARE))
    return Group(*parts)


def across_table(across: Across) -> RenderableType:
    """Lay out which tubes, grounds and media shift most."""
    if not across.effects:
        why = f"{across.cards} cards have two readings or more; an answer takes three with the same tube, ground or"
        return Text(f"The archive does not carry an answer yet: {why} medium.")
    table = _plain_table(("", "", "", "shift", "95 % interval", "cards", "swatches", "days", ""), {3, 5, 6, 7})
    for effect in across.effects:
        table.add_row(*map(Text, _effect_cells(effect)))
    parts: list[RenderableType] = [
        table,
        Text(
            "A tube's shift is beyond that of the other swatches of its cards; "
            "a ground's or a medium's is the mean of its cards."
        ),
        Text("* stands clear of the noise, corrected for all effects of its kind (Holm)."),
    ]
    if across.too_few:
        words = ", ".join(f"{name} ({count})" for _, name, count in across.too_few)
        parts.append(Text(f"Too few cards to tell: {words}."))
    return Group(*parts)


def _comparison(comparison: Comparison) -> list[RenderableType]:
    time = elapsed(comparison.seconds)
    title = f"{plain(comparison.before.photo.file)} → {plain(comparison.after.photo.file)}"
    table = _plain_table(_HEADS, set(range(1, 10)))
    for change in comparison.changes:
        star = " *" if change.words and change.p_card < 0.05 else ""
        cells = (
            change.id,
            signed(change.L.by, 1),
            f"{change.L.u:.1f}",
            signed(change.C.by, 1),
            signed(change.h.by, 0),
            signed(change.b.by, 1),
            signed(change.value.by),
            signed(change.warmth.by),
            f"{change.de00.by:.1f}",
            f"{change.de00.u:.1f}",
            short_verdict(change) + star,
        )
        table.add_row(*map(Text, cells))
    common = comparison.common
    tied = f" Tied together by {', '.join(comparison.anchors)}." if comparison.anchors else ""
    means = f"mean L* {_text(common.L)}, a* {_text(common.a)}, b* {_text(common.b)}"
    surely = f"; {len(comparison.surely)} of them (*) hold with all judged together" if comparison.changed else ""
    lines = (
        f"The card as a whole: {common.verdict} ({means}).",
        f"{len(comparison.changed)} of {common.count} swatches changed as far as this pair can show{surely}.{tied}",
    )
    parts: list[RenderableType] = [Text(title + (f", {time} apart" if time else ""), style="bold"), Text(), table]
    parts += [Text(), *map(Text, lines)]
    if comparison.remarks:
        parts += [Text(), Text("Know before you believe it", style="bold")]
        parts += [Padding(Text(plain(remark)), (0, 0, 0, 2)) for remark in comparison.remarks]
    return parts


def _effect_cells(effect: Effect) -> tuple[str, ...]:
    return (
        effect.kind,
        plain(effect.name),
        effect.quantity,
        signed(effect.by, 1),
        f"{signed(effect.low, 1)} to {signed(effect.high, 1)}",
        str(effect.cards),
        str(effect.swatches),
        "" if effect.days is None else f"{effect.days:.0f}",
        "*" if effect.clear else "",
    )


def _text(amount: Amount) -> str:
    return f"{signed(amount.by, 1)} ± {amount.u:.1f}"


def _plain_table(heads: tuple[str, ...], numbers: set[int]) -> Table:
    table = Table(box=None, pad_edge=False, padding=(0, 1, 0, 0), header_style="underline")
    for place, name in enumerate(heads):
        table.add_column(name, justify="right" if place in numbers else "left", no_wrap=place in numbers or place == 0)
    return table
