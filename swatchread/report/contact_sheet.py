"""A contact sheet: found swatches side by side with their recipes, to print and pin beside the easel."""

from __future__ import annotations

from base64 import b64encode
from collections.abc import Sequence
from html import escape
from pathlib import Path
from typing import Final

from swatchread.archive.results import Found
from swatchread.colour.screen import hex_colours
from swatchread.note.handwriting_files import read_writing
from swatchread.note.phrases import CARE, minus, plain, swatches
from swatchread.report.page_style import styled
from swatchread.report.value_map import OUTSIDE_MARK

NO_RECIPE: Final = "no recipe"
TRUST: Final = "A screen or printer that is not calibrated shows other colours: mix to the numbers."
BEYOND: Final = f"{OUTSIDE_MARK} stronger in colour than an sRGB screen can show."
_POLICY = "default-src 'none'; style-src 'unsafe-inline'; img-src data:; base-uri 'none'; form-action 'none'"

STYLE: Final = styled("""
:root { color-scheme: only light; }
* { box-sizing: border-box; }
html, body { background: GROUND; }
body { margin: 0 auto; padding: 2rem; max-width: 76rem; color: #000; font: 1rem/1.4 system-ui, sans-serif; }
h1 { font: 600 1.8rem/1.2 ui-serif, serif; margin: 0 0 0.3rem; }
p { margin: 0.3rem 0; max-width: 48em; }
ol { list-style: none; margin: 2rem 0; padding: 0;
  display: grid; grid-template-columns: repeat(auto-fill, minmax(15rem, 1fr)); gap: 2rem 1.75rem; }
li { break-inside: avoid; min-width: 0; overflow-wrap: anywhere; }
.chip { display: block; height: 6rem; background: currentColor;
  forced-color-adjust: none; -webkit-print-color-adjust: exact; print-color-adjust: exact; }
.recipe { font-weight: 600; margin-top: 0.5rem; }
.facts { font-size: 0.9rem; font-variant-numeric: tabular-nums; }
img { display: block; max-width: 100%; max-height: 7.5rem; margin-top: 0.4rem; }
.care { border-top: 2px solid #000; padding-top: 0.8rem; }
@page { margin: 12mm; }
@media print {
  html { background: #fff; }
  body { padding: 0; max-width: none; font-size: 8.5pt; background: #fff; }
  h1 { font-size: 15pt; }
  ol { grid-template-columns: repeat(4, minmax(0, 1fr)); gap: 5mm 4mm; margin: 5mm 0; }
  li { background: GROUND; padding: 3mm; -webkit-print-color-adjust: exact; print-color-adjust: exact; }
  .chip { height: 15mm; border: HAIRLINE; }
  .facts { font-size: 7pt; }
  img { max-height: 17mm; }
  .care { break-inside: avoid; }
}
""")
"""For the screen and for paper, A4 and Letter alike: four to a row, none broken over a page."""


def contact_sheet(found: Sequence[Found], question: str) -> str:
    """Lay found swatches out as one self-contained HTML page, without network and scripts.

    Parameters
    ----------
    found : sequence of Found
        In the order to show.
    question : str
        What was asked, in words; stands under the title.

    Returns
    -------
    str
        HTML, to be written as UTF-8.
    """
    codes, shown = hex_colours([one.lab for one in found]) if found else ([], [])
    items = [_item(one, code, inside) for one, code, inside in zip(found, codes, shown, strict=True)]
    beyond = f"<p>{BEYOND}</p>" if not all(shown) else ""
    recipes = any(plain(one.recipe) for one in found)
    return "\n".join(
        [
            '<!doctype html>\n<html lang="en">\n<head>\n<meta charset="utf-8">',
            f'<meta http-equiv="Content-Security-Policy" content="{_POLICY}">',
            '<meta name="viewport" content="width=device-width, initial-scale=1">',
            f"<title>Found swatches</title>\n<style>{STYLE}</style>\n</head>\n<body>",
            f"<h1>{swatches(len(found))}</h1>\n<p>{_text(question)}</p>",
            f"<p>{TRUST}</p>",
            f"<ol>\n{''.join(items)}</ol>",
            beyond,
            f'<p class="care">{escape(CARE)}</p>' if recipes else "",
            "</body>\n</html>\n",
        ]
    )


def facts_of(one: Found, inside: bool) -> list[str]:
    """Return what stands under a swatch's recipe, a line each; `inside` where a screen can show it."""
    mark = "" if inside else f" {OUTSIDE_MARK}"
    asked = "" if one.de00 is None else f"ΔE00 {one.de00:.1f}, alike {percent(one.same)}"
    lines = [
        f"card {one.card}, {one.swatch}{mark}",
        asked,
        f"value {one.value:.1f}, {plain(one.munsell)}",
        f"L*a*b* {', '.join(minus(x) for x in one.lab)}\u00a0±\u00a0{one.uncertainty_de00:.1f}",
        f"{plain(one.temperature)}; beside its card {plain(one.relative)}",
    ]
    return [line for line in lines if line]


def card_of(one: Found) -> str:
    """Name the card a swatch is on, or its photo."""
    named = " · ".join(plain(part) for part in (one.title, one.sitter, one.date, one.medium) if plain(part))
    return named or plain(one.photo)


def _item(one: Found, code: str, inside: bool) -> str:
    facts = "<br>".join(escape(line) for line in facts_of(one, inside))
    return (
        f'<li><span class="chip" style="color:{code}"></span>'
        f'<p class="recipe">{_text(one.recipe) or NO_RECIPE}</p>{_writing(one)}'
        f'<p class="facts">{facts}</p><p class="facts">{escape(card_of(one))}</p></li>\n'
    )


def percent(probability: float | None) -> str:
    """Write a probability for people: "12 %", "under 1 %", "over 99 %"."""
    if probability is None:
        return ""
    if probability < 0.01:
        return "under 1 %"
    return "over 99 %" if probability > 0.99 else f"{100 * probability:.0f} %"


def crop_of(one: Found) -> tuple[bytes, str] | None:
    """Return bytes and media type of a swatch's cropped handwriting, or None."""
    return read_writing(Path(one.writing).parent, Path(one.writing).name) if one.writing else None


def _writing(one: Found) -> str:
    crop = crop_of(one)
    if crop is None:
        return ""
    data, kind = crop
    return f'<img alt="handwriting beside {one.swatch}" src="data:{kind};base64,{b64encode(data).decode("ascii")}">'


def _text(text: str) -> str:
    return escape(plain(text))
