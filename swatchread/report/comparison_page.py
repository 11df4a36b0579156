"""A comparison as one HTML page: chips before and after side by side, the arrow map, the table, the curves.

The page needs no network and no script, and it escapes every text that comes from a file.
"""

from __future__ import annotations

from collections.abc import Sequence
from html import escape
from typing import Final

from swatchread.colour.screen import hex_colours
from swatchread.comparison.comparison_result import Amount, Change, Comparison
from swatchread.comparison.series import Series
from swatchread.note.phrases import CARE, plain, signed
from swatchread.report.arrow_map import arrow_map_svg
from swatchread.report.curves import curves_html
from swatchread.report.page_style import STYLE, styled

_POLICY = "default-src 'none'; style-src 'unsafe-inline'; base-uri 'none'; form-action 'none'"
_MOST_PLACES = 100

_STYLE: Final = styled("""
.pair { display: grid; grid-template-columns: minmax(0, 1fr) minmax(0, 1fr); }
.sample .pair { width: 3.4rem; }
.sample .pair .chip { width: 100%; }
td.sample { width: 4.4rem; }
@media (max-width: 60rem) { .sample .pair .chip { height: 1.35rem; } }
.changed { font-weight: 600; }
.curves > div { display: grid; grid-template-columns: repeat(auto-fill, minmax(15rem, 1fr)); gap: 1rem; }
.curves svg { display: block; width: 100%; height: auto; break-inside: avoid; }
@media print {
  .pair { border: HAIRLINE; }
  .pair .chip { border: 0; }
  .sample .pair { width: 10mm; }
  .sample .pair .chip { width: 100%; }
  td.sample { width: 13mm; }
  .curves > div { grid-template-columns: repeat(3, minmax(0, 1fr)); gap: 3mm; }
  .curves svg { -webkit-print-color-adjust: exact; print-color-adjust: exact; }
  .card figure { break-inside: avoid; }
}
""")

_AID = (
    "After ± stands one standard uncertainty of the difference, both photos combined; the errors that the photos share "
    "are in it. ΔE00 is CIEDE2000; after its ± stands what noise alone comes to. A verdict keeps false alarms to at "
    "most 5 in 100 unchanged swatches; one marked * holds even when all swatches of the card are judged together "
    "(Holm 1979)."
)


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
    card = plain(last.after.card_info.title)
    title = escape(f"{card}: before and after" if card else "Before and after")
    recipes = any(plain(change.recipe) for change in last.changes)
    parts = [
        '<!doctype html>\n<html lang="en">\n<head>\n<meta charset="utf-8">',
        f'<meta http-equiv="Content-Security-Policy" content="{_POLICY}">',
        '<meta name="viewport" content="width=device-width, initial-scale=1">',
        f"<title>{title}</title>\n<style>{STYLE}{_STYLE}</style>\n</head>\n<body>",
        f"<header>\n<h1>{title}</h1>\n<p>{_when(last)}</p>\n</header>",
        _answer(last),
        _remarks(last),
        '<div class="sight">',
        _card(last),
        f'<section class="map">\n<h2>Moves in value and warmth</h2>\n{arrow_map_svg(last)}</section>\n</div>',
        _table(last),
        curves_html(series) if len(series.comparisons) > 1 else "",
        f'<p class="care">{escape(CARE)}</p>' if recipes else "",
        "</body>\n</html>",
    ]
    return "\n".join(part for part in parts if part) + "\n"


def elapsed(seconds: float | None) -> str:
    """Say how far apart in time two photos are, in the unit that fits; nothing if it is not known."""
    if seconds is None:
        return ""
    for name, unit in (("years", 365.25 * 86400), ("days", 86400.0), ("hours", 3600.0), ("minutes", 60.0)):
        if abs(seconds) >= 1.5 * unit:
            return f"{abs(seconds) / unit:.1f} {name}"
    whole = f"{abs(seconds):.0f}"
    return f"{whole} second" if whole == "1" else f"{whole} seconds"


def _when(comparison: Comparison) -> str:
    ends = [
        plain(note.photo.file) + (f" ({plain(note.photo.taken).replace('T', ' ')})" if note.photo.taken else "")
        for note in (comparison.before, comparison.after)
    ]
    time = elapsed(comparison.seconds)
    return escape(f"{ends[0]} → {ends[1]}" + (f", {time} apart" if time else ""))


def _answer(comparison: Comparison) -> str:
    common, changed = comparison.common, comparison.changed
    tied = f" Tied together by {', '.join(comparison.anchors)}." if comparison.anchors else ""
    surely = f"; {len(comparison.surely)} of them hold with all swatches judged together" if changed else ""
    swatches = (
        f"<b>{len(changed)} of {common.count} swatches changed</b> as far as this pair can show{surely}.{escape(tied)}"
    )
    card = (
        f"The card as a whole: <b>{escape(common.verdict)}</b> (mean L* {_text(common.L)}, a* {_text(common.a)}, "
        f"b* {_text(common.b)} over {common.count} swatches)."
    )
    return f'<section class="answer">\n<p>{swatches}</p>\n<p>{card}</p>\n</section>'


def _remarks(comparison: Comparison) -> str:
    if not comparison.remarks:
        return ""
    items = "\n".join(f"<li>{escape(plain(remark))}</li>" for remark in comparison.remarks)
    return f'<section class="known">\n<h2>Know before you believe it</h2>\n<ul>\n{items}\n</ul>\n</section>'


def _card(comparison: Comparison) -> str:
    places = {s.id: (s.row, s.column) for s in comparison.before.swatches}
    rows = _lines([places[c.id][0] for c in comparison.changes])
    columns = _lines([places[c.id][1] for c in comparison.changes])
    before, _ = hex_colours([c.before for c in comparison.changes])
    after, _ = hex_colours([c.after for c in comparison.changes])
    figures = []
    for change, one, other in zip(comparison.changes, before, after, strict=True):
        row, column = places[change.id]
        look = ' class="changed"' if change.words else ""
        figures.append(
            f'<figure style="grid-area:{rows[row]}/{columns[column]}">'
            f'<span class="pair"><span class="chip" style="color:{one}"></span>'
            f'<span class="chip" style="color:{other}"></span></span>'
            f'<figcaption><b>{change.id}</b> <span class="number">ΔL* {signed(change.L.by, 1)}</span><br>'
            f"<span{look}>{escape(short_verdict(change))}</span></figcaption></figure>"
        )
    grid = f"grid-template-columns:repeat({max(columns.values())},minmax(0,1fr))"
    return "\n".join(
        [
            "<section>\n<h2>Before (left) and after (right)</h2>",
            f'<div class="card" style="{grid}">',
            *figures,
            "</div>\n</section>",
        ]
    )


def short_verdict(change: Change) -> str:
    """Return the verdict on a swatch in few words, for where many stand together."""
    return change.verdict if change.words or change.anchor else "no change shown"


def _lines(numbers: Sequence[int]) -> dict[int, int]:
    """Give each row or column its grid line; of a note that claims a huge grid the gaps are left out."""
    most = max(numbers)
    return {n: n for n in numbers} if most <= _MOST_PLACES else {n: k for k, n in enumerate(sorted(set(numbers)), 1)}


def _table(comparison: Comparison) -> str:
    heads = ("", "Swatch", "Verdict", "ΔL*", "ΔC*", "Δh", "Δb*", "Value", "Warmth", "ΔE00")
    head = "".join(f'<th role="columnheader" scope="col">{name}</th>' for name in heads)
    before, _ = hex_colours([c.before for c in comparison.changes])
    after, _ = hex_colours([c.after for c in comparison.changes])
    rows = [
        f'<tbody role="rowgroup">{_row(change, colours, len(heads))}</tbody>'
        for change, *colours in zip(comparison.changes, before, after, strict=True)
    ]
    return "\n".join(
        [
            '<section>\n<h2>Swatch by swatch</h2>\n<table role="table">',
            f'<thead role="rowgroup"><tr role="row">{head}</tr></thead>',
            *rows,
            f"</table>\n<p>{_AID}</p>\n</section>",
        ]
    )


def _row(change: Change, colours: Sequence[str], span: int) -> str:
    chips = "".join(f'<span class="chip" style="color:{code}"></span>' for code in colours)
    star = " *" if change.words and change.p_card < 0.05 else ""
    other = f" ({change.id_after})" if change.id_after != change.id else ""
    cells = [
        f'<td role="cell" class="sample"><span class="pair">{chips}</span></td>',
        f'<th role="rowheader" scope="row">{change.id}{other}</th>',
        f'<td role="cell" data-name="Verdict">{escape(change.verdict)}{star}</td>',
        *(
            f'<td role="cell" data-name="{name}"><span class="number">{_text(amount, digits)}</span></td>'
            for name, amount, digits in (
                ("ΔL*", change.L, 1),
                ("ΔC*", change.C, 1),
                ("Δh", change.h, 0),
                ("Δb*", change.b, 1),
                ("Value", change.value, 2),
                ("Warmth", change.warmth, 2),
            )
        ),
        f'<td role="cell" data-name="ΔE00"><span class="number">{change.de00.by:.1f} ± {change.de00.u:.1f}</span></td>',
    ]
    more = ""
    if plain(change.recipe):
        more = (
            f'<tr role="row" class="more"><td role="cell"></td><td role="cell" colspan="{span - 1}">'
            f"<p>Recipe: {escape(plain(change.recipe))}</p></td></tr>"
        )
    return f'<tr role="row">{"".join(cells)}</tr>{more}'


def _text(amount: Amount, digits: int = 1) -> str:
    return f"{signed(amount.by, digits)} ± {amount.u:.{digits}f}"
