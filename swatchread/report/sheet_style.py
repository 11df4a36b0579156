"""The looks of the studio sheet: like the page's, but laid out in millimetres for the wall."""

from __future__ import annotations

from typing import Final

from swatchread.report.page_style import styled

SHEET_STYLE: Final = styled("""
:root { color-scheme: only light; }
* { box-sizing: border-box; -webkit-print-color-adjust: exact; print-color-adjust: exact; }
@page { size: PAPER; margin: 0; }
html, body { margin: 0; background: GROUND; }
body {
  width: WIDTH; margin: 0 auto; padding: 9mm 11mm; color: #000;
  -webkit-box-decoration-break: clone; box-decoration-break: clone;
  font: 10pt/1.3 system-ui, sans-serif; overflow-wrap: break-word;
}
h1 { font: 600 17pt/1.15 ui-serif, serif; margin: 0; }
header p { margin: 0.5mm 0 2.5mm; }
.scale { display: grid; grid-template-columns: repeat(9, 1fr); margin-bottom: 3mm; }
.scale div { height: 9mm; padding: 0.6mm 1.2mm; font-size: 8pt; font-weight: 600; }
.heads, .step { display: grid; grid-template-columns: 15mm repeat(3, minmax(0, 1fr)); gap: 0 4mm; }
.heads { font-weight: 600; border-bottom: 0.5mm solid #000; padding-bottom: 1mm; }
.step { break-inside: avoid; padding: 1.8mm 0 1.4mm; border-bottom: 0.2mm solid #000; }
.step h2 { font: 600 15pt/1 system-ui, sans-serif; margin: 0 0 1mm; }
.step h2 + p { margin: 0; font-size: 9pt; font-variant-numeric: tabular-nums; }
.chip { display: block; width: 100%; height: CHIP; forced-color-adjust: none; }
.none { display: block; height: CHIP; border: 0.3mm dashed #000; padding: 2mm; font-size: 9pt; }
.step figure { margin: 0; position: relative; }
.role { position: absolute; width: 1px; height: 1px; overflow: hidden; clip-path: inset(50%); }
.step figcaption { margin-top: 0.6mm; font-size: 8.5pt; line-height: 1.18; }
.recipe { font-weight: 600; }
.remarks { grid-column: 2 / -1; margin: 0.6mm 0 0; font-size: 8.5pt; }
footer { font-size: 8pt; line-height: 1.25; margin-top: 2mm; }
footer p { margin: 0 0 0.6mm; }
.care { font-weight: 600; }
@media print {
  .chip { border: HAIRLINE; }
}
@media screen and (max-width: 50rem) {
  body { width: auto; padding: 4mm; }
  .heads { display: none; }
  .role { position: static; display: block; width: auto; height: auto; clip-path: none; font-weight: 600; }
  .scale div { height: auto; min-height: 9mm; font-size: 7pt; overflow-wrap: anywhere; }
  .step { grid-template-columns: minmax(0, 1fr); gap: 2mm; }
  .remarks { grid-column: 1; }
}
""")
"""One stylesheet; PAPER, WIDTH and CHIP are filled in for A4 or Letter."""

PAPERS: Final = {"a4": ("A4 portrait", "210mm", "16mm"), "letter": ("letter portrait", "216mm", "13.5mm")}
"""Paper -> CSS page size, width, and the height of a chip that lets six steps stand on one sheet."""
