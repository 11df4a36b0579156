"""The page: self-contained, escaped, complete, and looked at in a real browser where there is one."""

from __future__ import annotations

import io
import re
import shutil
import subprocess
from html.parser import HTMLParser
from pathlib import Path

import numpy as np
import pytest
from PIL import Image
from pypdf import PdfReader

from swatchread.colour.screen import hex_colours
from swatchread.errors import OutputError
from swatchread.note.flags import SWATCH_FLAGS, WARNINGS
from swatchread.note.phrases import CARE
from swatchread.report.note_page import render_page, save_page
from swatchread.report.page_style import STYLE
from swatchread.report.value_map import GROUND
from tests.notes import changed, sample_note, with_text_everywhere

PAYLOADS = [
    "\"><script>alert('x')</script>",
    "'><img src=x onerror=alert(1)>",
    "</style><style>*{display:none}</style>",
    "</title><base href=//evil.example/>&#x3C;script&#x3E;",
]
PNG = b"\x89PNG\r\n\x1a\n" + b"0" * 20
BROWSER = shutil.which("chromium") or shutil.which("chromium-browser")


class _Reader(HTMLParser):
    """Collect what a browser would make of the page."""

    def __init__(self, page):
        super().__init__()
        self.tags, self.attributes, self.text = [], [], []
        self.feed(page)

    def handle_starttag(self, tag, attrs):
        self.tags.append(tag)
        self.attributes += [(tag, name, value or "") for name, value in attrs]

    def handle_data(self, data):
        self.text.append(data)

    @property
    def words(self):
        return " ".join(" ".join(self.text).split())


@pytest.mark.parametrize("payload", PAYLOADS)
def test_text_from_files_never_becomes_markup(payload):
    clean = _Reader(render_page(with_text_everywhere(sample_note(2, 2), "x")))
    hostile = _Reader(render_page(with_text_everywhere(sample_note(2, 2), payload)))
    assert hostile.tags == clean.tags
    assert [(t, n) for t, n, _ in hostile.attributes] == [(t, n) for t, n, _ in clean.attributes]
    assert payload in hostile.words, "the text itself is still shown"


def test_the_page_needs_no_network_and_no_script():
    page = render_page(sample_note())
    reader = _Reader(page)
    assert not {"script", "link", "iframe", "object", "embed", "img", "a", "form"} & set(reader.tags)
    addresses = re.findall(r"""(?:https?:)?//[^\s"'<>]+""", page)
    assert set(addresses) <= {"http://www.w3.org/2000/svg"}
    assert "url(" not in STYLE
    assert "@import" not in STYLE
    policy = next(v for t, n, v in reader.attributes if t == "meta" and v.startswith("default-src"))
    assert policy.startswith("default-src 'none'")


def test_the_page_says_everything_about_every_swatch():
    note = changed(sample_note(), "r2c2", writing="card.r2c2.png", lab=[34.7, -4.0, 9.9])
    words = _Reader(render_page(note)).words
    for swatch in note.swatches:
        for said in (swatch.id, swatch.munsell, f"{swatch.value:.1f}", swatch.value_name, swatch.recipe):
            assert said in words
        lightness, sigma = swatch.lab[0], swatch.uncertainty.L
        assert f"{lightness:.1f} ± {sigma:.1f}" in words
    assert "−4.0 ± " in words
    assert "card.r2c2.png" in words
    assert SWATCH_FLAGS["uneven"] in words
    assert "warmer than the run" in words
    for fact in (note.photo.file, "Display P3", note.chart.name, "24 patches used", "ΔE00", note.made):
        assert fact in words


def test_swatches_lie_where_they_lie_on_the_card_and_missing_ones_stay_bare():
    note = sample_note(4, 3, missing=("r2c2",))
    page = render_page(note)
    codes, _ = hex_colours([s.lab for s in note.swatches])
    for swatch, code in zip(note.swatches, codes, strict=True):
        place = f'grid-area:{swatch.row}/{swatch.column}"><span class="chip" style="color:{code}">'
        assert place in page
    assert "grid-area:2/2" not in page
    assert "repeat(3," in page


def test_a_note_with_an_absurd_grid_is_still_drawn():
    far = changed(sample_note(1, 1), "r1c1", id="r900000001c70000000", row=900000001, column=70000000)
    page = render_page(far)
    assert "grid-area:1/1" in page
    assert len(page) < 60_000


def test_warnings_come_first_with_their_remedies():
    message, remedy = WARNINGS["light_uneven"]
    warning = {"code": "light_uneven", "message": message.format(detail="18 %"), "remedy": remedy}
    words = _Reader(render_page(sample_note(warnings=[warning]))).words
    assert words.index("18 %") < words.index(remedy) < words.index("The card")
    assert "Know before you mix" not in _Reader(render_page(sample_note())).words


def test_the_line_of_care_stands_where_recipes_stand():
    assert CARE in _Reader(render_page(sample_note())).words
    bare = changed(sample_note(1, 1), "r1c1", recipe=" ")
    assert CARE not in _Reader(render_page(bare)).words


def test_handwriting_is_embedded_only_if_it_is_a_picture():
    note = changed(sample_note(1, 2), "r1c1", writing="a.png")
    assert "data:image/png;base64," in render_page(note, writing={"r1c1": PNG})
    assert "<img" not in render_page(note, writing={"r1c1": b"<svg onload=alert(1)>"})
    assert "<img" not in render_page(note, writing={"r7c7": PNG})


def test_no_colour_but_the_paints():
    grey = r"#(?:000|fff|([0-9a-f]{2})\1\1)\b"
    assert re.fullmatch(grey, GROUND)
    for found in re.findall(r"#[0-9a-f]{3,8}\b", STYLE):
        assert re.fullmatch(grey, found), found


def test_the_page_is_written_whole(tmp_path):
    save_page(sample_note(), tmp_path / "card.note.html")
    text = (tmp_path / "card.note.html").read_text(encoding="utf-8")
    assert text.startswith("<!doctype html>")
    assert text.endswith("</html>\n")
    (tmp_path / "file").write_text("")
    with pytest.raises(OutputError):
        save_page(sample_note(), tmp_path / "file" / "card.note.html")


def _browse(folder, *arguments):
    subprocess.run(
        [
            *(BROWSER, "--headless", "--no-sandbox", "--disable-gpu", "--no-first-run"),
            *("--disable-background-networking", "--hide-scrollbars", f"--user-data-dir={folder}/profile"),
            *arguments,
        ],
        check=True,
        capture_output=True,
        timeout=60,
    )


@pytest.mark.skipif(BROWSER is None, reason="Chromium is not installed: the page was not looked at")
@pytest.mark.parametrize("width", [1200, 500])
def test_a_browser_shows_the_chips_on_the_neutral_ground(tmp_path, width):
    note = sample_note(3, 2)
    save_page(note, tmp_path / "page.html")
    page, shot = (tmp_path / "page.html").as_uri(), tmp_path / "shot.png"
    _browse(tmp_path, f"--window-size={width},1500", f"--screenshot={shot}", page)
    seen = np.asarray(Image.open(shot).convert("RGB"))
    assert seen.shape[1] == width
    assert tuple(seen[2, 2]) == tuple(bytes.fromhex(GROUND[1:]))
    assert tuple(seen[2, -3]) == tuple(bytes.fromhex(GROUND[1:])), "nothing sticks out sideways"
    for code in hex_colours([s.lab for s in note.swatches])[0]:
        assert (seen == np.frombuffer(bytes.fromhex(code[1:]), np.uint8)).all(axis=2).sum() > 3000


@pytest.mark.skipif(BROWSER is None, reason="Chromium is not installed: the page was not printed")
@pytest.mark.parametrize(("paper", "points"), [("A4", (595, 842)), ("letter", (612, 792))])
def test_the_page_prints_on_both_papers(tmp_path, paper, points):
    page = render_page(sample_note()).replace("margin: 14mm", f"margin: 14mm; size: {paper}")
    (tmp_path / "page.html").write_text(page, encoding="utf-8")
    out = tmp_path / "page.pdf"
    _browse(tmp_path, f"--print-to-pdf={out}", "--no-pdf-header-footer", Path(tmp_path / "page.html").as_uri())
    pdf = out.read_bytes()
    boxes = re.findall(rb"/MediaBox\s*\[\s*0 0 ([\d.]+) ([\d.]+)\s*\]", pdf)
    assert 1 <= len(boxes) <= 3
    for width, height in boxes:
        assert (float(width), float(height)) == pytest.approx(points, abs=1)


def _crop(width, height):
    """Return a crop of nothing but green, which the page itself never shows."""
    out = io.BytesIO()
    Image.new("RGB", (width, height), (0, 255, 0)).save(out, "PNG")
    return out.getvalue()


@pytest.mark.skipif(BROWSER is None, reason="Chromium is not installed: the page was not looked at")
def test_handwriting_is_large_enough_to_be_read(tmp_path):
    """Three lines as `read` crops them from a 12-megapixel photo, margins of a line among them.

    On a laptop at arm's length a line should be as high as the page's own (25 pixels), on paper as it was written
    (5 mm; common practice); and no crop may push the page wider than a small window.
    """
    note = sample_note(2, 2)
    save_page(note, tmp_path / "page.html", writing={s.id: _crop(210, 155) for s in note.swatches})
    page, shot, out = (tmp_path / "page.html").as_uri(), tmp_path / "shot.png", tmp_path / "page.pdf"
    _browse(tmp_path, "--window-size=1280,2600", f"--screenshot={shot}", page)
    seen = np.asarray(Image.open(shot).convert("RGB"))
    rows = (seen == (0, 255, 0)).all(axis=2).any(axis=1)
    assert rows.sum() / len(note.swatches) >= 4 * 25
    _browse(tmp_path, f"--print-to-pdf={out}", "--no-pdf-header-footer", page)
    assert min(_printed_heights(out)) >= 3 * 5
    save_page(note, tmp_path / "page.html", writing={s.id: _crop(1200, 155) for s in note.swatches})
    _browse(tmp_path, "--window-size=500,3000", f"--screenshot={shot}", page)
    seen = np.asarray(Image.open(shot).convert("RGB"))
    assert (seen == (0, 255, 0)).all(axis=2).any()
    assert not (seen[:, -8:] == (0, 255, 0)).all(axis=2).any()


def _printed_heights(path):
    """Return how high each picture of a PDF is printed, mm."""
    found = []

    def met(operator, _, matrix, __):
        if operator == b"Do":
            found.append(abs(matrix[3]) * 25.4 / 72)

    for page in PdfReader(path).pages:
        page.extract_text(visitor_operand_before=met)
    assert found
    return found
