"""A note as one HTML page: the card's swatches in their places, the map, the table, the warnings, the facts.

The page needs no network and no script, and it escapes every text that comes from a file.
"""

from __future__ import annotations

import base64
from collections.abc import Mapping, Sequence
from html import escape
from pathlib import Path

from swatchread.colour.screen import hex_colours
from swatchread.note.model import Note, Swatch
from swatchread.note.phrases import CARE, flag_words, fused_from, has_recipe, heading, minus, plain, relative, signed
from swatchread.note.safe_files import write_text
from swatchread.report.page_style import STYLE
from swatchread.report.value_map import (
    OUTSIDE_MARK,
    value_map_svg,
    value_uncertainty,
    warmth_uncertainty,
)

_POLICY = "default-src 'none'; style-src 'unsafe-inline'; img-src data:; base-uri 'none'; form-action 'none'"
_SIGNATURES = ((b"\x89PNG\r\n\x1a\n", "image/png"), (b"\xff\xd8\xff", "image/jpeg"))
_MOST_PLACES = 100
_HEADS = ("", "Swatch", "Value", "Munsell", "L*", "a*", "b*", "ΔE00", "Warmth", "Lean")
_READING_AID = (
    "CIELAB for D50 and the 2° observer. After ± stands one standard uncertainty: about two readings in "
    "three lie within it. ΔE00 is the same for the colour as a whole (CIEDE2000). How far your chart is from its "
    "published values, usually about 0.8, comes on top, for all swatches much alike; not for a chart you had measured."
)


def render_page(
    note: Note, *, run: Sequence[tuple[float, float]] = (), writing: Mapping[str, bytes] | None = None
) -> str:
    """Write a note as a self-contained HTML page.

    Parameters
    ----------
    note : Note
    run : sequence of (value, warmth)
        The card's own run, for the map.
    writing : mapping of swatch id to bytes, optional
        PNG or JPEG crops of the handwriting; anything else is left out.

    Returns
    -------
    str
        HTML, UTF-8 when written.
    """
    title = escape(heading(note))
    codes, shown = hex_colours([s.lab for s in note.swatches])
    parts = [
        '<!doctype html>\n<html lang="en">\n<head>\n<meta charset="utf-8">',
        f'<meta http-equiv="Content-Security-Policy" content="{_POLICY}">',
        '<meta name="viewport" content="width=device-width, initial-scale=1">',
        f"<title>{title}</title>\n<style>{STYLE}</style>\n</head>\n<body>",
        _header(note),
        _warnings(note),
        '<div class="sight">',
        _card(note, codes, shown),
        f'<section class="map">\n<h2>Value and warmth</h2>\n{value_map_svg(note, run)}</section>\n</div>',
        _table(note, codes, writing or {}),
        _facts(note),
        f'<p class="care">{escape(CARE)}</p>' if has_recipe(note) else "",
        "</body>\n</html>",
    ]
    return "\n".join(part for part in parts if part) + "\n"


def save_page(
    note: Note,
    path: Path,
    *,
    run: Sequence[tuple[float, float]] = (),
    writing: Mapping[str, bytes] | None = None,
) -> None:
    """Write the page to a file; see `render_page`.

    Raises
    ------
    OutputError
        If the file cannot be written.
    """
    write_text(path, render_page(note, run=run, writing=writing))


def _text(text: str) -> str:
    return escape(plain(text))


def _header(note: Note) -> str:
    info = note.card_info
    sitter = f"Sitter {info.sitter}" if plain(info.sitter) else ""
    line = " · ".join(_text(part) for part in (sitter, info.date, info.medium, info.support) if plain(part))
    return "\n".join(
        [
            f"<header>\n<h1>{escape(heading(note))}</h1>",
            f"<p>{line}</p>" if line else "",
            f"<p>{_text(info.note)}</p>" if plain(info.note) else "",
            "</header>",
        ]
    )


def _warnings(note: Note) -> str:
    if not note.warnings:
        return ""
    items = [f"<li>{_text(w.message)}. {_text(w.remedy)}.</li>" for w in note.warnings]
    joined = "\n".join(items)
    return f'<section class="known">\n<h2>Know before you mix</h2>\n<ul>\n{joined}\n</ul>\n</section>'


def _card(note: Note, codes: Sequence[str], shown: Sequence[bool]) -> str:
    row_at, _ = _places([s.row for s in note.swatches])
    column_at, column_count = _places([s.column for s in note.swatches])
    figures = [
        f'<figure style="grid-area:{row_at[s.row]}/{column_at[s.column]}">'
        f'<span class="chip" style="color:{code}"></span>'
        f"<figcaption><b>{s.id}{'' if inside else OUTSIDE_MARK}</b><br>"
        f'<span class="number">{s.value:.1f}</span> {_text(s.value_name)}</figcaption></figure>'
        for s, code, inside in zip(note.swatches, codes, shown, strict=True)
    ]
    grid = f"grid-template-columns:repeat({column_count},minmax(0,1fr))"
    remark = "" if all(shown) else f"<p>{OUTSIDE_MARK} stronger in colour than an sRGB screen can show.</p>"
    return "\n".join(
        [
            '<section>\n<h2>The card</h2>\n<div class="card" style="' + grid + '">',
            *figures,
            "</div>",
            remark + "</section>",
        ]
    )


def _places(numbers: Sequence[int]) -> tuple[dict[int, int], int]:
    """Give each row or column its grid line; a note that claims a huge grid is drawn without its gaps."""
    most = max(numbers)
    if most <= _MOST_PLACES:
        return {n: n for n in numbers}, most
    ranks = {n: i for i, n in enumerate(sorted(set(numbers)), start=1)}
    return ranks, len(ranks)


def _table(note: Note, codes: Sequence[str], writing: Mapping[str, bytes]) -> str:
    head = "".join(f'<th scope="col" role="columnheader">{name}</th>' for name in _HEADS)
    rows = [
        f'<tbody role="rowgroup">{_row(s, code)}{_more(s, writing.get(s.id))}</tbody>'
        for s, code in zip(note.swatches, codes, strict=True)
    ]
    return "\n".join(
        [
            '<section>\n<h2>The swatches</h2>\n<table role="table">',
            f'<thead role="rowgroup"><tr role="row">{head}</tr></thead>',
            *rows,
            f"</table>\n<p>{_READING_AID}</p>\n</section>",
        ]
    )


def _row(swatch: Swatch, code: str) -> str:
    u, t = swatch.uncertainty, swatch.temperature
    value = f"{swatch.value:.2f} ± {value_uncertainty(swatch):.2f}"
    warmth = f"{signed(t.warmth)} ± {warmth_uncertainty(swatch):.2f}"
    lab = [f"{minus(x)} ± {sigma:.1f}" for x, sigma in zip(swatch.lab, (u.L, u.a, u.b), strict=True)]
    cells = [
        f'<td role="cell" class="sample"><span class="chip" style="color:{code}"></span></td>',
        f'<th role="rowheader" scope="row">{swatch.id}</th>',
        _cell("Value", f"{_number(value)}<br>{_text(swatch.value_name)}"),
        _cell("Munsell", _number(_text(swatch.munsell))),
        *(_cell(name, _number(x)) for name, x in zip(("L*", "a*", "b*"), lab, strict=True)),
        _cell("ΔE00", _number(f"± {u.de00:.1f}")),
        _cell("Warmth", f"{_number(warmth)} {t.name}<br>{escape(relative(t))}"),
        _cell("Lean", swatch.lean),
    ]
    return f'<tr role="row">{"".join(cells)}</tr>'


def _more(swatch: Swatch, crop: bytes | None) -> str:
    """Put what is said in words on a line of its own, as wide as the table."""
    lines = [
        f"Recipe: {_text(swatch.recipe)}" if plain(swatch.recipe) else "",
        _writing(swatch, crop),
        f"Remarks: {escape('; '.join(flag_words(swatch)))}" if swatch.flags else "",
    ]
    words = "".join(f"<p>{line}</p>" for line in lines if line)
    if not words:
        return ""
    span = len(_HEADS) - 1
    return f'<tr role="row" class="more"><td role="cell"></td><td role="cell" colspan="{span}">{words}</td></tr>'


def _cell(name: str, content: str) -> str:
    return f'<td role="cell" data-name="{name}">{content}</td>'


def _number(text: str) -> str:
    return f'<span class="number">{text}</span>'


def _writing(swatch: Swatch, crop: bytes | None) -> str:
    for signature, kind in _SIGNATURES:
        if crop is not None and crop.startswith(signature):
            data = base64.b64encode(crop).decode("ascii")
            return f'<img alt="handwriting beside {swatch.id}" src="data:{kind};base64,{data}">'
    return f"Writing: {_text(swatch.writing)}" if swatch.writing else ""


def _facts(note: Note) -> str:
    photo, chart, ground = note.photo, note.chart, note.card.ground
    left_out = ", ".join(plain(name) for name in chart.patches_left_out)
    fit = chart.fit
    facts = {
        "Photo": f"{photo.file}, {photo.width} × {photo.height} pixels, {photo.profile}",
        "Fused from": fused_from(note),
        "Taken": (photo.taken or "").replace("T", " "),
        "Camera": photo.camera or "",
        "Chart": f"{chart.name}, {chart.patches_used} patches used" + (f", left out: {left_out}" if left_out else ""),
        "Colour fit": f"{fit.model}; ΔE00 on patches left out of the fit {fit.cross_validated_de00:.1f}, "
        f"on the fitted ones {fit.mean_de00:.1f} (at most {fit.max_de00:.1f})",
        "Ground": f"value {ground.value:.1f}, L* a* b* " + " / ".join(minus(x) for x in ground.lab),
        "Read": f"{note.made} by {note.tool.name} {note.tool.version}",
        "Screen": "Chips show sRGB colours on a neutral ground of L* 59; a screen that is not calibrated "
        "shows others. The numbers are the measurement.",
    }
    rows = "\n".join(f"<dt>{name}</dt><dd>{_text(text)}</dd>" for name, text in facts.items() if plain(text))
    return f"<section>\n<h2>Photo, chart and ground</h2>\n<dl>\n{rows}\n</dl>\n</section>"
