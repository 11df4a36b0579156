"""The page: self-contained, escaped, complete, and looked at in a real browser where there is one."""

from __future__ import annotations

import base64
import io
import re
from importlib.resources import files

import numpy as np
import pytest
from PIL import Image

from swatchread.colour.screen import hex_colours
from swatchread.note.flags_and_warnings import SWATCH_FLAGS, WARNINGS
from swatchread.note.phrases import CARE
from swatchread.report.note_page import render_page
from swatchread.report.value_map import GROUND
from tests.browser import PAPERS, PageReader, needs_browser, needs_printing, print_page, screenshot
from tests.notes import changed, sample_note, with_text_everywhere

PAYLOADS = [
    "\"><script>alert('x')</script>",
    "'><img src=x onerror=alert(1)>",
    "</style><style>*{display:none}</style>",
    "</title><base href=//evil.example/>&#x3C;script&#x3E;",
]
PNG = b"\x89PNG\r\n\x1a\n" + b"0" * 20
STYLE = "".join(
    (files("swatchread.report") / "look" / f"{part}.css").read_text("utf-8") for part in ("tokens", "sheets")
)


@pytest.mark.parametrize("payload", PAYLOADS)
def test_text_from_files_never_becomes_markup(payload):
    clean = PageReader(render_page(with_text_everywhere(sample_note(2, 2), "x")))
    hostile = PageReader(render_page(with_text_everywhere(sample_note(2, 2), payload)))
    assert hostile.tags == clean.tags
    assert [(t, n) for t, n, _ in hostile.attributes] == [(t, n) for t, n, _ in clean.attributes]
    assert payload in hostile.words, "the text itself is still shown"


def test_the_page_needs_no_network_and_no_script():
    page = render_page(sample_note())
    reader = PageReader(page)
    assert not {"script", "link", "iframe", "object", "embed", "img", "a", "form"} & set(reader.tags)
    alone = re.sub(r"data:font/woff2;base64,[\w+/=]+", "", page)  # the type stands in the page
    addresses = re.findall(r"""(?:https?:)?//[^\s"'<>]+""", alone)
    assert set(addresses) <= {"http://www.w3.org/2000/svg"}
    assert "url(" not in STYLE
    assert "@import" not in STYLE
    policy = next(v for t, n, v in reader.attributes if t == "meta" and v.startswith("default-src"))
    assert policy.startswith("default-src 'none'")


def test_the_page_says_everything_about_every_swatch():
    note = changed(sample_note(), "r2c2", writing="card.r2c2.png", lab=[34.7, -4.0, 9.9])
    words = PageReader(render_page(note)).words
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
        place, chip = f'grid-area:{swatch.row}/{swatch.column}"><svg class="chip"', f'height="1" fill="{code}"/>'
        assert chip in page.partition(place)[2][:200]
    assert "grid-area:2/2" not in page
    assert "repeat(3," in page


def test_a_note_with_an_absurd_grid_is_still_drawn():
    far = changed(sample_note(1, 1), "r1c1", id="r900000001c70000000", row=900000001, column=70000000)
    page = render_page(far)
    assert "grid-area:1/1" in page
    assert len(page) < 60_000 + 60_000  # the type


def test_warnings_come_first_with_their_remedies():
    message, remedy = WARNINGS["light_uneven"]
    warning = {"code": "light_uneven", "message": message.format(detail="18 %"), "remedy": remedy}
    words = PageReader(render_page(sample_note(warnings=[warning]))).words
    assert words.index("18 %") < words.index(remedy) < words.index("The card")
    assert "Know before you mix" not in PageReader(render_page(sample_note())).words


def test_the_line_of_care_stands_where_recipes_stand():
    assert CARE in PageReader(render_page(sample_note())).words
    bare = changed(sample_note(1, 1), "r1c1", recipe=" ")
    assert CARE not in PageReader(render_page(bare)).words


def test_handwriting_is_embedded_only_if_it_is_a_picture(tmp_path):
    note = changed(sample_note(1, 2), "r1c1", writing="a.png")
    assert "<img" not in render_page(note, tmp_path / "card.note.json")
    (tmp_path / "a.png").write_bytes(PNG)
    assert "data:image/png;base64," in render_page(note, tmp_path / "card.note.json")
    assert "<img" not in render_page(note)
    (tmp_path / "a.png").write_bytes(b"<svg onload=alert(1)>")
    assert "<img" not in render_page(note, tmp_path / "card.note.json")


def test_the_marked_photo_and_the_title_stand_on_the_page(tmp_path):
    note, note_file = sample_note(1, 2), tmp_path / "card.note.json"
    assert "<img" not in render_page(note, note_file)
    (tmp_path / "card.writing").mkdir()
    Image.new("RGB", (300, 40), (0, 255, 0)).save(tmp_path / "card.writing" / "title.jpg")
    Image.new("RGB", (2400, 1800), (0, 0, 255)).save(tmp_path / "card.marked.jpg")
    page = render_page(note, note_file)
    assert [name for name in ('class="title"', 'class="marked"') if name in page] == ['class="title"', 'class="marked"']
    sizes = [
        Image.open(io.BytesIO(base64.b64decode(data))).size
        for data in re.findall(r"data:image/jpeg;base64,([^\"]+)", page)
    ]
    assert sizes[0] == (300, 40)
    assert sizes[1] == (1200, 900)
    (tmp_path / "card.marked.jpg").write_bytes(b"\xff\xd8\xff no picture")
    assert 'class="marked"' not in render_page(note, note_file)


def test_no_colour_but_the_paints():
    grey = r"#(?:000|fff|([0-9a-f]{2})\1\1)\b"
    assert re.fullmatch(grey, GROUND)
    assert f"--ground: {GROUND};" in STYLE
    for found in re.findall(r"#[0-9a-f]{3,8}\b", STYLE):
        assert re.fullmatch(grey, found), found


def test_the_page_is_whole():
    text = render_page(sample_note())
    assert text.startswith("<!doctype html>")
    assert text.endswith("</html>\n")


@needs_browser
@pytest.mark.parametrize("width", [1200, 500])
def test_a_browser_shows_the_chips_on_the_neutral_ground(tmp_path, width):
    note = sample_note(3, 2)
    seen = screenshot(render_page(note), tmp_path, width)
    assert seen.shape[1] == width
    assert tuple(seen[2, 2]) == tuple(bytes.fromhex(GROUND[1:]))
    assert tuple(seen[2, -3]) == tuple(bytes.fromhex(GROUND[1:])), "nothing sticks out sideways"
    for code in hex_colours([s.lab for s in note.swatches])[0]:
        assert (seen == np.frombuffer(bytes.fromhex(code[1:]), np.uint8)).all(axis=2).sum() > 3000


@needs_printing
@pytest.mark.parametrize("paper", PAPERS)
def test_the_page_prints_on_both_papers(tmp_path, paper):
    printed = print_page(render_page(sample_note()), tmp_path, paper)
    assert 1 <= len(printed.pages) <= 3
    for size in printed.sizes:
        assert size == pytest.approx(PAPERS[paper], abs=1)
    assert all(len(page) > 200 for page in printed.pages), "no sheet for a line or two"
    lightness = sample_note().swatches[0].lab[0]
    assert f"{lightness:.1f} ± " in " ".join(printed.pages), "what the screen folds away is printed"


def _page_with_crops(folder, width, height):
    """Write a page of a note whose crops are nothing but green, which the page itself never shows."""
    Image.new("RGB", (width, height), (0, 255, 0)).save(folder / "crop.png")
    note = sample_note(2, 2)
    swatches = tuple(s.model_copy(update={"writing": "crop.png"}) for s in note.swatches)
    return render_page(note.model_copy(update={"swatches": swatches}), folder / "card.note.json")


@needs_printing
def test_handwriting_is_large_enough_to_be_read(tmp_path):
    """Three lines as `read` crops them from a 12-megapixel photo, margins of a line among them.

    On a laptop at arm's length a line should be as high as the page's own (25 pixels), on paper as it was written
    (5 mm; common practice); and no crop may push the page wider than a small window.
    """
    page = _page_with_crops(tmp_path, 210, 155)
    green = (screenshot(page, tmp_path, 1280, 2600) == (0, 255, 0)).all(axis=2)
    assert green.any(axis=1).sum() / 2 >= 4 * 25  # of two rows of swatches
    heights = print_page(page, tmp_path).picture_heights
    assert len(heights) >= 1
    assert min(heights) >= 3 * 5
    page = _page_with_crops(tmp_path, 1200, 155)
    green = (screenshot(page, tmp_path, 500, 3000) == (0, 255, 0)).all(axis=2)
    assert green.any()
    assert not green[:, -8:].any()
