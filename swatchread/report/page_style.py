"""The looks of the page: plain type on a neutral ground, no colour but the paint's."""

from __future__ import annotations

from typing import Final

from swatchread.report.value_map import GROUND

HAIRLINE_MM: Final = 0.15
"""Width of the line round a printed chip; it keeps paint apart from the ground where ink is black alone."""


def styled(sheet: str) -> str:
    """Fill in what the style sheets share: GROUND, the neutral ground, and HAIRLINE, the border of a printed chip."""
    return sheet.replace("GROUND", GROUND).replace("HAIRLINE", f"{HAIRLINE_MM}mm solid #000")


STYLE: Final = styled("""
:root { color-scheme: only light; }
* { box-sizing: border-box; }
html { background: GROUND; -webkit-text-size-adjust: 100%; text-size-adjust: 100%; }
body {
  margin: 0 auto; padding: 2.5rem 2rem 4rem; max-width: 88rem;
  background: GROUND; color: #000; font: 1.0625rem/1.5 system-ui, sans-serif;
  overflow-wrap: break-word;
}
h1, h2 { font-family: ui-serif, serif; font-weight: 600; line-height: 1.2; margin: 0; }
h1 { font-size: 2.1rem; }
h2 { font-size: 1.35rem; margin-bottom: 1rem; }
p { margin: 0.4rem 0; max-width: 46em; }
section { margin-top: 2.75rem; }
.known { border-top: 2px solid #000; border-bottom: 2px solid #000; padding: 1rem 0; }
.known ul { margin: 0; padding-left: 1.2em; }
.known li + li { margin-top: 0.5rem; }
.known h2 { margin-bottom: 0.5rem; }
.sight {
  margin-top: 2.75rem;
  display: grid; grid-template-columns: minmax(0, 1fr) minmax(0, 1fr); gap: 3rem;
}
.sight section { margin-top: 0; }
.card { display: grid; gap: 1.5rem 1.25rem; }
.card figure { margin: 0; min-width: 0; }
.chip {
  display: block; width: 100%; height: 5.5rem; background: currentColor;
  forced-color-adjust: none; -webkit-print-color-adjust: exact; print-color-adjust: exact;
}
.card figcaption { margin-top: 0.35rem; line-height: 1.3; font-size: 0.95rem; }
.card b, th[scope="row"] { font-weight: 600; }
.map svg { display: block; width: 100%; height: auto; max-width: 40rem; }
table { border-collapse: collapse; width: 100%; font-size: 0.975rem; line-height: 1.4; }
th, td { text-align: left; vertical-align: top; padding: 0.55rem 1.1rem 0.55rem 0; font-weight: 400; }
thead th { border-bottom: 2px solid #000; font-weight: 600; vertical-align: bottom; }
tbody { border-bottom: 1px solid #5e5e5e; }
.more td { padding-top: 0; }
.more p { margin: 0 0 0.2rem; }
.number { font-variant-numeric: tabular-nums; white-space: nowrap; }
.sample { width: 2.6rem; padding-right: 0.8rem; }
.sample .chip { width: 1.9rem; height: 1.9rem; }
td img { display: block; max-width: min(100%, 30rem); max-height: 7.5rem; margin: 0.3rem 0; }
dl { display: grid; grid-template-columns: max-content minmax(0, 1fr); gap: 0.3rem 1.5rem; margin: 0; }
dt { font-weight: 600; }
dd { margin: 0; }
.care { border-top: 2px solid #000; padding-top: 1rem; margin-top: 2.75rem; }
@media (max-width: 70rem) {
  .sight { grid-template-columns: minmax(0, 1fr); }
}
@media (max-width: 60rem) {
  thead { position: absolute; width: 1px; height: 1px; overflow: hidden; clip-path: inset(50%); }
  table, tbody { display: block; }
  tbody { position: relative; padding: 0.9rem 0; }
  tr { display: grid; grid-template-columns: minmax(0, 1fr) minmax(0, 1fr); }
  td, th { display: block; padding: 0.15rem 1rem 0.15rem 0; }
  td[data-name]::before { content: attr(data-name) ": "; font-weight: 600; }
  .sample { position: absolute; right: 0; padding: 0; }
  th[scope="row"], .more td { grid-column: 1 / -1; }
  .more td:empty { display: none; }
}
@media (max-width: 40rem) {
  body { padding: 1.25rem 1rem 3rem; }
  h1 { font-size: 1.65rem; }
  .card { gap: 1rem 0.75rem; }
  .chip { height: 4.25rem; }
  .card figcaption { font-size: 0.875rem; }
  .map svg { width: calc(100% + 2rem); margin-left: -1rem; }
  dl { grid-template-columns: minmax(0, 1fr); gap: 0; }
  dd { margin-bottom: 0.5rem; }
}
@media print {
  @page { margin: 14mm; }
  html, body { background: #fff; }
  body { padding: 0; max-width: none; font-size: 9.5pt; }
  h1 { font-size: 18pt; }
  h2 { font-size: 12pt; break-after: avoid; }
  section, .sight { margin-top: 6mm; }
  p { max-width: none; margin: 1mm 0; }
  .known { padding: 2mm 0; }
  .sight { grid-template-columns: minmax(0, 1fr) minmax(0, 1fr); gap: 8mm; break-inside: avoid; }
  .card {
    background: GROUND; padding: 5mm; gap: 3mm 4mm;
    -webkit-print-color-adjust: exact; print-color-adjust: exact;
  }
  .chip { border: HAIRLINE; }
  .card .chip { height: 13mm; }
  .card figcaption { font-size: 8pt; }
  .map svg {
    width: 100%; max-width: none; margin: 0;
    -webkit-print-color-adjust: exact; print-color-adjust: exact;
  }
  table { display: table; font-size: 7.5pt; }
  thead { display: table-header-group; position: static; clip-path: none; }
  tbody { display: table-row-group; break-inside: avoid; }
  tr { display: table-row; }
  th, td { display: table-cell; padding: 1mm 2mm 1mm 0; }
  td[data-name]::before { content: none; }
  .more td { padding-top: 0; }
  .more td:empty { display: table-cell; }
  .sample { position: static; padding-right: 2mm; width: 7mm; }
  .sample .chip { width: 5mm; height: 5mm; }
  td img { max-width: 80mm; max-height: 17mm; margin: 0.5mm 0; }
  dl { grid-template-columns: max-content minmax(0, 1fr); gap: 0.5mm 4mm; }
  dd { margin: 0; }
  .care { margin-top: 5mm; padding-top: 2mm; }
  .care, dl, .known { break-inside: avoid; }
}
""")
"""One stylesheet for the screen, the phone and the printer (A4 and Letter)."""
