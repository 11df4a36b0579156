"""The sheets as PDF: read back with another library, page by page."""

import io
from dataclasses import replace
from pathlib import Path

import pytest
from PIL import Image
from typer.testing import CliRunner

from swatchread.archive.conditions import Query
from swatchread.archive.store import Archive
from swatchread.cli.main import app
from swatchread.errors import UsageError
from swatchread.note.phrases import CARE
from swatchread.report.contact_pdf import contact_pdf
from swatchread.report.fonts import choose_fonts, font_folders
from swatchread.report.plan_sheet_pdf import sheet_pdf
from swatchread.report.value_map import GROUND
from tests.archive_data import build_note, swatch_data

pypdf = pytest.importorskip("pypdf", reason="pypdf is not installed: the PDF sheets were not read back")

POLYGLOT = "2 赭石 + 1 жёлтая охра, žluť Δ אדום <script>alert(1)</script> \x1b[31m \ud800 \U0001f3a8"


def option(number, **changed):
    facts = {
        "recipe": f"{number} titanium white + 1 yellow ochre",
        "where": f"card {number} r1c1",
        "value": 3.0 + number,
        "uncertainty_de00": 0.8,
        "chip": "#806050",
        "screen_shows_it": True,
        "ink_shows_it": True,
    }
    return facts | changed


def plan(steps=6, **changed):
    return {
        "steps": [
            {
                "number": n,
                "value": 2.0 + n,
                "value_name": "middle",
                "cooler": option(n),
                "run": option(n, **changed),
                "warmer": None if n == 2 else option(n),
                "remarks": [],
            }
            for n in range(1, steps + 1)
        ],
        "spacing": 1.0,
        "remarks": [],
        "left_out_cards": "",
        "care": [CARE, "cadmium compounds: harmful if dust or spray is breathed in or swallowed."],
    }


def read(data):
    return pypdf.PdfReader(io.BytesIO(data), strict=True)


def words_of(data):
    """Return the text as one line; a PDF says nothing about where its words wrap."""
    return " ".join(" ".join(page.extract_text() for page in read(data).pages).split())


def found(count, recipe="2 titanium white + 1 red ochre", **changed):
    with Archive.open(":memory:") as archive:
        archive.add(build_note([swatch_data(1 + i // 6, 1 + i % 6, (50, 10, 15), recipe=recipe) for i in range(count)]))
        return [replace(one, **changed) for one in archive.find(Query(limit=None))]


# ISO 216 and ANSI/ASME Y14.1, in points.
@pytest.mark.parametrize(("paper", "size"), [("a4", (595.28, 841.89)), ("letter", (612, 792))])
def test_six_steps_stand_on_one_sheet_with_all_that_must_be_said(paper, size):
    data = sheet_pdf(plan(), "Palette for K", "90 recorded mixtures", paper)
    (page,) = read(data).pages
    assert [float(x) for x in page.mediabox[2:]] == pytest.approx(size, abs=0.3)
    text = words_of(data)
    for words in (
        "Palette for K",
        "Mix from dark to light",
        "low dark",
        "none recorded",
        CARE,
        "the recipe is the truth",
    ):
        assert words in text
    for number in range(1, 7):
        assert f"{number} titanium white + 1 yellow ochre" in text
    assert text.index("1 titanium") < text.index("6 titanium")


def test_a_long_plan_goes_on_and_repeats_its_heads():
    pages = read(sheet_pdf(plan(12), "")).pages
    assert len(pages) == 2
    assert all("Cooler" in page.extract_text() for page in pages)


def test_chips_and_ground_have_their_colours():
    content = read(sheet_pdf(plan(1), "x")).pages[0].get_contents().get_data().decode("latin-1")
    for code in (GROUND, "#806050"):
        wanted = [int(code[i : i + 2], 16) / 255 for i in (1, 3, 5)]
        fills = [line.split()[:-1] for line in content.splitlines() if line.split()[-1:] in (["rg"], ["g"])]
        assert any([float(x) for x in (fill * 3)[:3]] == pytest.approx(wanted, abs=0.002) for fill in fills), code


def test_a_chip_of_the_grounds_lightness_is_not_lost_in_black_and_white():
    for data, chips in ((sheet_pdf(plan(1, chip=GROUND), "x"), 3), (contact_pdf(found(2), "x"), 2)):
        content = read(data).pages[0].get_contents().get_data().decode("latin-1")
        assert len([line for line in content.splitlines() if line.endswith("re S")]) == chips


def test_marks_stand_beside_what_screen_and_ink_fall_short_of():
    assert "†" not in words_of(sheet_pdf(plan(), "x"))
    assert words_of(sheet_pdf(plan(screen_shows_it=False), "x")).count("†") == 7
    assert words_of(sheet_pdf(plan(ink_shows_it=False), "x")).count("‡") == 7


@pytest.mark.parametrize("fonts", ["found", "none"])
def test_any_letter_can_stand_in_a_recipe(monkeypatch, fonts):
    if fonts == "none":
        monkeypatch.setattr("swatchread.report.fonts.font_folders", list)
    text = words_of(sheet_pdf(plan(recipe=POLYGLOT, where="x" * 400), POLYGLOT))
    assert "<script>alert(1)</script>" in text  # a PDF runs no page's script: it is only text
    assert "\x1b" not in text
    assert ("охра" in text) == (fonts == "found")
    assert words_of(contact_pdf([replace(one, recipe=POLYGLOT) for one in found(1)], POLYGLOT))


def test_what_no_font_has_becomes_its_like_or_a_mark():
    bare = choose_fonts("赭", [])
    assert bare.settable("Δé ž赭†\u200d") == "dé z?*"


def test_a_sans_serif_is_chosen_by_its_own_tables(tmp_path):
    """Where no known family lies, as on other systems: the file's name must not matter."""
    source = next((f for folder in font_folders() for f in sorted(folder.rglob("DejaVuSans*.ttf"))), None)
    if source is None:
        pytest.skip("no such font on this computer")
    for number, name in enumerate(
        ("DejaVuSerif.ttf", "DejaVuSans-Oblique.ttf", "DejaVuSans.ttf", "DejaVuSans-Bold.ttf")
    ):
        if (source.parent / name).is_file():
            (tmp_path / f"{number}.ttf").write_bytes((source.parent / name).read_bytes())
    (tmp_path / "0000.ttf").write_bytes(b"no font at all")
    fonts = choose_fonts("a", [tmp_path])
    assert (fonts.regular.name, fonts.bold.name) == ("2.ttf", "3.ttf")


def test_the_contact_sheet_tells_each_swatch_on_either_paper():
    for paper in ("a4", "letter"):
        data = contact_pdf(found(30), "value 3-5", paper)
        assert len(read(data).pages) == 2
        text = words_of(data)
        assert text.count("2 titanium white + 1 red ochre") == 30
        for words in ("30 swatches", "value 3-5", CARE, "mix to the numbers"):
            assert words in text
    assert "0 swatches" in words_of(contact_pdf((), "everything"))


def test_a_recipe_without_end_stays_on_its_page():
    text = words_of(contact_pdf(found(1, recipe="white and ochre " * 120), "x"))
    assert "…" in text
    assert CARE in text
    for page in read(sheet_pdf(plan(2, recipe="white and ochre " * 120, where="far away " * 60), "x")).pages:
        lowest = []
        page.extract_text(
            visitor_text=lambda text, _cm, tm, _font, _size, low=lowest: low.append(tm[5]) if text.strip() else None
        )
        assert min(lowest) > 20


def crop(folder, picture):
    file = folder / "r1c1.png"
    picture.save(file)
    return str(file)


def test_handwriting_is_shown_and_a_bomb_is_not(tmp_path):
    shown = crop(tmp_path, Image.new("RGB", (200, 40), (200, 190, 170)))
    (image,) = read(contact_pdf(found(1, writing=shown), "x")).pages[0].images
    assert image.image.size == (200, 40)
    bomb = crop(tmp_path, Image.new("1", (9000, 9000)))
    assert Path(bomb).stat().st_size < 100_000
    assert not read(contact_pdf(found(1, writing=bomb), "x")).pages[0].images
    Path(bomb).write_bytes(b"\x89PNG\r\n\x1a\n" + b"cut short")
    assert not read(contact_pdf(found(1, writing=bomb), "x")).pages[0].images


@pytest.mark.parametrize("make", [lambda: sheet_pdf(plan(), "x", paper="a0"), lambda: contact_pdf((), "x", "a0")])
def test_other_paper_is_refused(make):
    with pytest.raises(UsageError, match="a4 or letter"):
        make()


class TestCommands:
    @pytest.fixture
    def archive(self, tmp_path):
        path = tmp_path / "archive.sqlite"
        with Archive.open(str(path)) as archive:
            archive.add(build_note([swatch_data(1, 1, (50, 10, 15), recipe="1 red ochre")]))
        return path

    def run(self, *words):
        return CliRunner().invoke(app, [str(word) for word in words], catch_exceptions=False)

    @pytest.mark.parametrize("name", ["sheet.pdf", "sheet.PDF", "sheet.html"])
    def test_the_name_says_the_kind(self, archive, tmp_path, name):
        assert self.run("archive", "find", "--archive", archive, "--sheet", tmp_path / name).exit_code == 0
        start = b"<!doctype html>" if name.endswith("html") else b"%PDF-"
        assert (tmp_path / name).read_bytes().startswith(start)

    def test_another_kind_is_refused_before_any_work(self, archive, tmp_path):
        for words in (["archive", "find", "--archive", archive], ["plan", "--archive", archive]):
            with pytest.raises(UsageError, match=r"\.pdf or \.html"):
                self.run(*words, "--sheet", tmp_path / "sheet.docx")

    def test_export(self, archive, tmp_path):
        with pytest.raises(UsageError, match="--into"):
            self.run("archive", "export", "--as", "pdf", "--archive", archive)
        target = tmp_path / "all.pdf"
        self.run("archive", "export", "--as", "pdf", "--paper", "letter", "--into", target, "--archive", archive)
        assert float(read(target.read_bytes()).pages[0].mediabox[2]) == pytest.approx(612, abs=0.3)
