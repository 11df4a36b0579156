"""`swatchread compare` as a painter calls it: what it prints, what it writes, how it fails."""

import csv
import io
import json
import re
from xml.etree import ElementTree as ET

import pytest
from typer.testing import CliRunner

from swatchread.archive.store import Archive
from swatchread.cli.main import app
from swatchread.comparison.pair import compare, follow
from swatchread.report.arrow_map import draw_arrow_map
from swatchread.report.comparison_exports import COLUMNS
from swatchread.report.comparison_page import elapsed, render_comparison
from swatchread.report.console import LEFT_OUT
from swatchread.report.curves import draw_curves
from tests.browser import PageReader
from tests.comparing_data import painted, photographed
from tests.notes import with_text_everywhere
from tests.test_across_cards import GREEN, PLAIN
from tests.test_comparing import drying

HOSTILE = '<script>alert("x")</script>&\x1b[31m'


def run(*words):
    return CliRunner().invoke(app, ["compare", *map(str, words)])


def status(result):
    return getattr(result.exception, "exit_status", result.exit_code)


@pytest.fixture
def saved(tmp_path):
    def save(*notes):
        paths = [tmp_path / f"{note.photo.file}.note.json" for note in notes]
        for note, path in zip(notes, paths, strict=True):
            note.save(path)
        return paths

    return save


def card_pair(seed=1, **later):
    card = painted(seed, recipes=(GREEN, PLAIN))
    return photographed(card, 2 * seed), photographed(card, 2 * seed + 1, **later)


@pytest.mark.parametrize(
    ("files", "stem"),
    [
        (("a\0.jpg", "../b\x1b[31m\n.jpg"), "a-to-b[31m"),
        (("..", "é" * 120 + "1.jpg"), "reading-to-" + "é" * 39 + "1"),
        (("card " * 30 + "1.jpg", "b.jpg"), ("card " * 17)[-79:] + "1-to-b"),
    ],
)
def test_any_name_of_a_photo_makes_a_name_for_the_results(tmp_path, files, stem):
    notes = [tmp_path / "1.json", tmp_path / "2.json"]
    for note, file, path in zip(card_pair(), files, notes, strict=True):
        note.model_copy(update={"photo": note.photo.model_copy(update={"file": file})}).save(path)
    assert run(*notes).exit_code == 0
    assert [p.name for p in tmp_path.glob("*.compare.csv")] == [f"{stem}.compare.csv"]


def test_it_prints_a_table_and_writes_a_page_and_a_csv(saved, tmp_path):
    before, after = saved(*card_pair(shift=(-4, 0, 0), turn=90))
    result = run(before, after)
    assert result.exit_code == 0
    assert result.stdout.count("darker") >= 15
    assert "turned by 90°" in result.stdout
    assert "dust" in result.stdout  # recipes are shown, so the line of care is
    text = (tmp_path / "shot-2-to-shot-3.compare.csv").read_text(encoding="utf-8")
    rows = list(csv.DictReader(io.StringIO(text)))
    assert list(rows[0]) == list(COLUMNS)
    assert len(rows) == 15
    assert all(float(row["d_L"]) < -2 for row in rows)
    assert (tmp_path / "shot-2-to-shot-3.compare.html").exists()


def test_an_unchanged_card_stands_in_one_line_a_swatch(saved, monkeypatch):
    monkeypatch.setenv("COLUMNS", "80")
    said = run(*saved(*card_pair(seed=4))).stdout
    rows = [line for line in said.splitlines() if line.startswith("r") and "no change shown" in line]
    assert len(rows) >= 13  # of 15: one or two may be called changed by chance
    assert max(map(len, said.splitlines())) <= 80
    assert "0 of them" not in said


def test_a_narrow_window_leaves_columns_out_and_cuts_no_number(saved, monkeypatch):
    monkeypatch.setenv("COLUMNS", "48")
    said = run(*saved(*card_pair(shift=(-4, 0, 0)))).stdout
    assert LEFT_OUT in said
    assert "…" not in said
    assert "ΔL*" in said
    assert "Δb*" not in said
    assert max(map(len, said.splitlines())) <= 48


def test_json_says_what_the_table_says(saved, tmp_path):
    notes = card_pair(shift=(-4, 0, 0))
    result = run(*saved(*notes), "--json", "--into", tmp_path / "out", "--anchor", "r1", "--anchor", "ground")
    data = json.loads(result.stdout)
    assert data["format"] == "swatchread-comparison"
    (one,) = data["comparisons"]
    assert one["anchors"] == ["r1c1", "r1c2", "r1c3", "ground"]
    expected = compare(*notes, ["r1", "ground"])
    assert [s["verdict"] for s in one["swatches"]] == [c.verdict for c in expected.changes]
    assert [s["L"]["by"] for s in one["swatches"]] == pytest.approx([c.L.by for c in expected.changes], abs=1e-4)
    assert one["common"]["verdict"] == expected.common.verdict
    assert len(list((tmp_path / "out").iterdir())) == 2


@pytest.mark.parametrize("line", ["", "{before}", "{before} {stranger}", "{before} {after} --anchor r9c9"])
def test_what_makes_no_sense_is_refused_and_writes_nothing(saved, tmp_path, line):
    before, after = card_pair()
    paths = saved(before, after, photographed(painted(99), 99))
    named = dict(zip(("before", "after", "stranger"), paths, strict=True))
    assert status(run(*(word.format(**named) for word in line.split()))) == 2
    assert not list(tmp_path.glob("*.compare.*"))


def test_a_photo_that_is_none_and_an_archive_that_is_none(saved, tmp_path):
    before, _ = saved(*card_pair())
    broken = tmp_path / "broken.jpg"
    broken.write_bytes(b"no photo")
    assert status(run(before, broken)) == 3
    (tmp_path / "broken.sqlite").write_bytes(b"no archive" * 200)
    assert status(run("--across", "--archive", tmp_path / "broken.sqlite")) == 7
    assert status(run("--across", before)) == 2


@pytest.fixture
def archive(tmp_path):
    where = tmp_path / "cards.sqlite"
    with Archive.open(str(where)) as opened:
        for seed in range(3):
            card = painted(seed, recipes=(GREEN, PLAIN))
            info = {"medium": "gouache"}
            opened.add(
                photographed(card, 40 + seed, turn=180, shift=(-3, 0, 0), taken="2025-02-01T10:00:00", info=info)
            )
            opened.add(photographed(card, 30 + seed, taken="2025-01-01T10:00:00", info=info))
    return where


def test_one_number_follows_the_card_through_the_archive(archive, tmp_path):
    result = run("1", "--archive", archive, "--json", "--into", tmp_path / "out")
    (one,) = json.loads(result.stdout)["comparisons"]
    assert (one["before"]["file"], one["after"]["file"]) == ("shot-30.jpg", "shot-40.jpg")
    assert one["common"]["verdict"].startswith("darker")
    assert run("2", "1", "--archive", archive, "--into", tmp_path / "out").exit_code == 0
    assert status(run("77", "--archive", archive)) == 7


def test_a_card_with_one_reading_says_so(tmp_path):
    with Archive.open(str(tmp_path / "one.sqlite")) as opened:
        opened.add(photographed(painted(3), 3))
    result = run("1", "--archive", tmp_path / "one.sqlite")
    assert status(result) == 7
    assert "only one reading" in str(result.exception)


def test_the_archive_tells_what_shifts(archive):
    data = json.loads(run("--across", "--archive", archive, "--json").stdout)
    assert data["cards"] == 3
    gouache = next(e for e in data["effects"] if e["name"] == "gouache" and e["quantity"] == "L*")
    assert gouache["low"] < -3 < gouache["high"]
    assert "gouache" in run("--across", "--archive", archive).stdout


def test_an_empty_archive_carries_no_answer(tmp_path):
    assert "too few readings to answer" in run("--across", "--archive", tmp_path / "new.sqlite").stdout


def test_the_page_shows_every_swatch_before_and_after():
    series = follow(card_pair(shift=(-4, 0, 0)))
    page = PageReader(render_comparison(series))
    assert page.open_tags == []
    chips = page.attributes.count(("svg", "class", "chip"))
    assert chips == 4 * 15  # a pair on the card and a pair in the table
    assert page.tags.count("svg") == 1 + chips


def test_a_series_adds_a_curve_for_each_swatch():
    page = PageReader(render_comparison(follow(drying())))
    assert page.tags.count("svg") - page.attributes.count(("svg", "class", "chip")) == 1 + 15
    assert "1 h" in render_comparison(follow(drying()))


def test_arrows_only_where_something_changed():
    for shift in ((0, 0, 0), (-5, 0, 0)):
        result = compare(*card_pair(shift=shift))
        svg = ET.fromstring(draw_arrow_map(result).svg)  # noqa: S314 - our own text
        starts = [group for group in svg.iter() if group.get("id", "").startswith("first-")]
        assert len(starts) == len(result.changed)


def test_drawings_are_stable_and_told_in_words():
    series = follow(drying())
    map_, (curve, *_) = draw_arrow_map(series.comparisons[-1]), draw_curves(series)
    assert map_ == draw_arrow_map(series.comparisons[-1])
    assert curve == draw_curves(series)[0]
    assert map_.told.count("darker, value −") == len(series.ids)
    assert curve.told.startswith("r1c1: reading 2 −")
    page = render_comparison(series)
    assert map_.told in page
    assert page.count('role="img" aria-label=') == 1 + len(series.ids)
    texts = [text.text for text in ET.fromstring(map_.svg).iter("{http://www.w3.org/2000/svg}text")]  # noqa: S314
    assert {"value ↑", "warmth", "high light\N{EM SPACE}8", *series.ids} <= set(texts)


def test_names_inside_one_drawing_are_not_those_of_another():
    """Else a browser would draw what the first of them meant in all of them."""
    page = render_comparison(follow(drying()))
    names = re.findall(r' id="([^"]*)"', page)
    assert len(names) > 15
    assert len(names) == len(set(names))


def test_text_from_files_is_escaped_everywhere():
    before, after = card_pair(shift=(-4, 0, 0))
    hostile = [with_text_everywhere(note, HOSTILE) for note in (before, after)]
    page = render_comparison(follow(hostile))
    assert "<script" not in page
    assert "\x1b" not in page
    assert "&lt;script&gt;" in page


def test_a_spreadsheet_takes_no_recipe_for_a_formula(saved, tmp_path):
    card = painted(5, recipes=("=1+1",))
    run(*saved(photographed(card, 70), photographed(card, 71)))
    text = next(tmp_path.glob("*.csv")).read_text(encoding="utf-8")
    assert ",'=1+1" in text
    assert ",=1+1" not in text


def test_times_in_words():
    assert elapsed(None) == ""
    assert elapsed(1) == "1 second"
    assert elapsed(1200) == "20 minutes"
    assert elapsed(3 * 365.25 * 86400) == "3 years"
    assert elapsed(-86400 * 10) == "10 days"
    assert elapsed(86400 * 2.5) == "2.5 days"
