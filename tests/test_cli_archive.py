"""The archive command: what is printed, written and returned."""

from __future__ import annotations

import csv
import io
import json
from contextlib import closing
from functools import partial

import pytest

from swatchread.archive.conditions import Near, Query
from swatchread.archive.store import Archive
from swatchread.errors import ArchiveError, NoteError, UsageError
from swatchread.note.flags_and_warnings import WARNINGS
from swatchread.note.model import load_note
from swatchread.note.phrases import CARE
from swatchread.report.cgats import parse_cgats
from swatchread.report.search_exports import COLUMNS
from swatchread.report.sheets import contact_sheet, percent
from tests.archive_data import build_note, sample_card, swatch_data
from tests.program import invoke

PNG = b"\x89PNG\r\n\x1a\n" + b"0" * 20
NASTY = "<script>alert(1)</script>=1+1 & \"x\" 'y' \x1b[31m"


@pytest.fixture
def run(tmp_path, monkeypatch):
    monkeypatch.setenv("SWATCHREAD_ARCHIVE", str(tmp_path / "archive.sqlite"))

    return partial(invoke, "archive")


@pytest.fixture
def cards(tmp_path, run):
    paths = []
    for seed in range(3):
        paths.append(tmp_path / f"card-{seed}.note.json")
        sample_card(seed).save(paths[-1])
    run("add", *paths)
    return paths


@pytest.mark.parametrize("near", [(), ("--near", "50,10,20", "--within", "60")])
@pytest.mark.usefixtures("cards")
def test_a_question_that_more_swatches_answer_says_so(run, tmp_path, near):
    """On the terminal, and on the sheet that hangs on the wall; not where all are shown."""
    total = len(json.loads(run("find", "--limit", 0, "--json").stdout))
    sheet = tmp_path / "found.html"
    cut = run("find", *near, "--limit", total - 1, "--into", sheet)
    assert f"Showing the {'nearest' if near else 'first'} {total - 1} of {total}. --limit 0 shows all" in cut.stderr
    assert f"the first {total - 1} of {total}" in sheet.read_text("utf-8")
    assert len(json.loads(run("find", *near, "--limit", total - 1, "--json").stdout)) == total - 1
    for all_of_them in (total, 0):
        whole = run("find", *near, "--limit", all_of_them, "--into", sheet)
        assert "Showing the" not in whole.stderr
        assert "the first" not in sheet.read_text("utf-8")


@pytest.mark.usefixtures("cards")
def test_near_has_a_reach_of_its_own_and_answers_come_dark_to_light(run):
    """From a colour in the middle of all, so that some lie within the reach of 5 and some beyond."""
    all_of_them = json.loads(run("find", "--near", "60,10,15", "--within", 200, "--limit", 0, "--json").stdout)
    near = json.loads(run("find", "--near", "60,10,15", "--limit", 0, "--json").stdout)
    assert {(one["card"], one["swatch"]) for one in near} == {
        (one["card"], one["swatch"]) for one in all_of_them if one["de00"] <= 5.0
    }
    assert 0 < len(near) < len(all_of_them)
    for found in (near, all_of_them):
        assert [one["value"] for one in found] == sorted(one["value"] for one in found)
    best = min(all_of_them, key=lambda one: one["de00"])
    told = run("find", "--near", "60,10,15").stdout.splitlines()[1]
    assert told == f"Nearest: card {best['card']}, {best['swatch']}, ΔE00 {best['de00']:.1f}"


@pytest.mark.usefixtures("cards")
def test_where_nothing_is_near_the_nearest_is_told(run):
    told = run("find", "--near", "30,20,-80")
    assert "No swatch matches." in told.stdout
    within = told.stderr.split("--within ")[1].split()[0]
    assert len(json.loads(run("find", "--near", "30,20,-80", "--within", within, "--json").stdout)) >= 1


@pytest.mark.usefixtures("cards")
def test_a_slip_in_a_tubes_name_is_told(run):
    """Nothing found, or all of it though some should be left out, would pass for an answer."""
    assert "is viridian meant?" in run("find", "--tube", "virdian").stderr
    assert "“mud” is not in the list" in run("find", "--tube", "mud").stderr
    assert "is viridian meant?" in run("find", "--without", "virdian", "--limit", 0).stderr
    for known in (("--tube", "viridian"), ("--tube", "ochre"), ("--without", "white"), ("--without", "mud")):
        assert "list of tubes" not in run("find", *known, "--limit", 0).stderr


def test_a_folder_is_no_note_and_its_files_are_asked_for(run, tmp_path):
    with pytest.raises(NoteError) as caught:
        load_note(tmp_path)
    assert caught.value.why == "it is a folder"
    assert "Name the files in it" in caught.value.remedy
    assert run("add", tmp_path).exit_code == NoteError.exit_status


def test_add_list_show_remove(run, cards):
    assert "unchanged, card 1" in run("add", cards[0]).stdout
    listed = run("list").stdout
    assert all(f"invented evening {seed}" in listed for seed in range(3))
    assert [card["card"] for card in json.loads(run("list", "--json").stdout)] == [1, 2, 3]
    assert run("remove", 2, input="n\n").exit_code == 1
    assert len(json.loads(run("list", "--json").stdout)) == 3
    assert run("remove", 2, input="y\n").exit_code == 0
    assert run("remove", 3, "--yes").exit_code == 0
    assert [card["card"] for card in json.loads(run("list", "--json").stdout)] == [1]


def test_a_bad_note_does_not_stop_the_others(run, tmp_path):
    bad = tmp_path / "bad.json"
    bad.write_text("{}")
    good = tmp_path / "good.json"
    sample_card(1).save(good)
    result = run("add", bad, good)
    assert result.exit_code == 1
    assert "bad.json is not a note" in result.stderr
    assert "new card" in result.stdout
    assert run("add", bad).exit_code == NoteError.exit_status
    outcomes = [one["outcome"] for one in json.loads(run("add", bad, good, "--json").stdout)]
    assert outcomes == ["failed", "unchanged"]


def test_find_prints_the_nearest_with_likeness(run, cards):
    lab = sample_card(1).swatches[3].lab
    near = ("--near", ",".join(map(str, lab)), "--within", 200, "--json")
    answer = sorted(json.loads(run("find", *near, "--limit", 3).stdout), key=lambda one: one["de00"])
    every = sorted(one["de00"] for one in json.loads(run("find", *near, "--limit", 0).stdout))
    assert [one["de00"] for one in answer] == every[:3]
    assert (answer[0]["card"], answer[0]["swatch"]) == (2, "r2c2")
    assert answer[0]["de00"] == pytest.approx(0.0, abs=1e-6)
    shown = run("find", "--near", f"{cards[1]}:r2c2", "--limit", 3, "--within", 200).stdout
    assert shown.startswith(f"Near {cards[1]}:r2c2: L*a*b* {lab[0]:.1f}, ")
    assert "alike" in shown
    assert "Take care" not in shown


def test_find_asks_for_care_once_where_a_recipe_names_a_dangerous_pigment(run, tmp_path):
    swatches = [swatch_data(1, c, (50.0 + c, 15.0, 20.0), recipe="3 yellow ochre + 1 cadmium red") for c in (1, 2)]
    build_note(swatches).save(tmp_path / "red.note.json")
    run("add", tmp_path / "red.note.json")
    shown = " ".join(run("find").stdout.split())
    assert shown.count(CARE) == shown.count("Cadmium compounds") == 1


def test_the_pigments_of_the_painters_own_tubes_are_known(run, tmp_path):
    build_note([swatch_data(1, 1, (50.0, 15.0, 20.0), recipe="1 flame")]).save(tmp_path / "flame.note.json")
    run("add", tmp_path / "flame.note.json")
    assert "Cadmium" not in run("find").stdout
    invoke("tubes", "flame = my flame PR108")
    assert "Cadmium compounds" in run("find").stdout
    assert "Cadmium compounds" in invoke("note", "show", 1).stdout


def test_find_says_of_each_card_and_recipe_once_what_it_is(run, tmp_path):
    lab = (60.0, 15.0, 20.0)
    recipes = ("2 white + 1 ochre", "", "", "2 white + 1 ochre", "1 white")
    swatches = [swatch_data(row, 1, lab, recipe=recipe) for row, recipe in enumerate(recipes, start=1)]
    for seed in (1, 2):
        path = tmp_path / f"{seed}.note.json"
        build_note(swatches[: 5 if seed == 1 else 2], seed=seed, info={"title": "evening", "sitter": "K"}).save(path)
        run("add", path)
    shown = run("find", "--near", "60,15,20").stdout.split("\n\n", maxsplit=1)[1]
    assert [line.rstrip() for line in shown.splitlines()][:7] == [
        "card 1: evening, K",
        "  r1c1, r4c1: 2 white + 1 ochre",
        "  r2c1, r3c1: no recipe",
        "  r5c1: 1 white",
        "card 2: evening, K",
        "  r1c1: 2 white + 1 ochre",
        "  r2c1: no recipe",
    ]


@pytest.mark.usefixtures("cards")
def test_find_takes_every_condition_together(run):
    arguments = ["--value", "2-9", "--tube", "viridian", "--sitter", "a", "--since", "2019", "--until", "2030-01"]
    arguments += ["--medium", "oil", "--text", "evening", "--without", "zinc white", "--limit", 0, "--json"]
    found = json.loads(run("find", *arguments).stdout)
    assert all(one["sitter"] == "A" and "viridian" in one["recipe"] for one in found)
    assert "No swatch" in run("find", "--sitter", "nobody").stdout


@pytest.mark.parametrize(
    ("name", "range_"), [("dark", "2.5-3.5"), ("Low  Light - white", "5.5-10"), ("black", "0-1.5")]
)
@pytest.mark.usefixtures("cards")
def test_values_may_be_asked_for_by_their_names(run, name, range_):
    assert run("find", "--value", name, "--json").stdout == run("find", "--value", range_, "--json").stdout


@pytest.mark.parametrize(
    "arguments",
    [
        ["--near", "60,15"],
        ["--within", "3"],
        ["--value", "darkish"],
        ["--value", "7-3"],
        ["--munsell", "5XY"],
        ["--since", "yesterday"],
    ],
)
@pytest.mark.usefixtures("cards")
def test_senseless_questions_are_usage_errors(run, arguments):
    with pytest.raises(UsageError):
        run("find", *arguments)


@pytest.mark.usefixtures("cards")
def test_a_temperature_that_there_is_not_is_refused(run):
    result = run("find", "--temperature", "tepid")
    assert result.exit_code == UsageError.exit_status
    assert "'warm', 'neutral', 'cool'" in result.stderr


@pytest.mark.usefixtures("cards")
def test_a_photo_that_is_not_there_is_said_to_be_missing(run):
    with pytest.raises(UsageError) as caught:
        run("find", "--near", "gone.jpg")
    assert "no file has that name" in caught.value.why


def test_an_empty_archive_names_its_address(run, tmp_path):
    assert "misspelt.sqlite is empty" in run("list", "--archive", tmp_path / "misspelt.sqlite").stdout


@pytest.mark.usefixtures("cards")
def test_check_tells_what_to_do(run, tmp_path):
    import sqlite3

    assert run("check").exit_code == 0
    with closing(sqlite3.connect(tmp_path / "archive.sqlite")) as connection, connection:
        connection.execute("UPDATE swatches SET lab_a = 0 WHERE id = 1")
    checked = run("check")
    assert checked.exit_code == ArchiveError.exit_status
    assert checked.stdout.startswith("card 1: ")
    assert "remove the card and add its note again" in checked.stdout
    assert [fault["card"] for fault in json.loads(run("check", "--json").stdout)] == [1]


@pytest.mark.usefixtures("cards")
def test_found_swatches_as_csv_json_and_cgats_agree(run, tmp_path):
    near = ("--near", "60,15,20", "--within", "30", "--limit", "5")
    facts = json.loads(run("find", "--json", *near).stdout)
    rows = list(csv.DictReader(io.StringIO(run("find", "--as", "csv", *near).stdout)))
    cgats = parse_cgats(run("find", "--as", "cgats", *near).stdout)
    assert list(rows[0]) == list(COLUMNS)
    assert len(facts) == len(rows) == len(cgats.rows) == 5
    for fact, row, line in zip(facts, rows, cgats.rows, strict=True):
        assert float(row["L"]) == fact["lab"][0] == pytest.approx(float(line["LAB_L"]), abs=1e-4)
        assert [float(row["de00"]), float(line["LAB_DE_2000"])] == pytest.approx([fact["de00"]] * 2, abs=1e-4)
        assert line["STRING"] == fact["recipe"]
    assert "LAB_DE_2000" not in parse_cgats(run("find", "--as", "cgats").stdout).fields
    target = tmp_path / "all.csv"
    assert "36 swatches" in run("find", "--limit", 0, "--into", target).stderr
    assert len(target.read_text().splitlines()) == 1 + 36


@pytest.mark.usefixtures("cards")
def test_json_may_be_printed_while_a_file_is_written(run, tmp_path):
    assert len(json.loads(run("find", "--json", "--limit", 3, "--into", tmp_path / "a.csv").stdout)) == 3
    assert len((tmp_path / "a.csv").read_text().splitlines()) == 1 + 3
    with pytest.raises(UsageError, match="--json and --as"):
        run("find", "--json", "--as", "csv")


@pytest.mark.parametrize(("name", "remedy"), [("a.pdf", "open it in a browser, and print it"), ("a.docx", "--as")])
def test_another_kind_of_file_is_refused_before_any_work(run, tmp_path, name, remedy):
    with pytest.raises(UsageError) as caught:
        run("find", "--into", tmp_path / name)
    assert remedy in caught.value.remedy
    assert not (tmp_path / "archive.sqlite").exists()


def nasty_archive(folder):
    swatch = swatch_data(1, 1, (60, 15, 20), recipe=NASTY, writing="r1c1.png")
    info = {"title": NASTY, "sitter": NASTY, "medium": NASTY}
    (folder / "r1c1.png").write_bytes(PNG)
    archive = Archive.open(":memory:")
    archive.add(build_note([swatch], info=info, photo={"file": NASTY}), folder)
    return archive


def test_the_contact_sheet_escapes_shows_writing_and_carries_the_care_line(tmp_path):
    with nasty_archive(tmp_path) as archive:
        page = contact_sheet(archive.find(Query(near=Near((60, 15, 20)))), NASTY)
    assert "<script" not in page
    assert "\x1b" not in page
    assert "data:image/png;base64," in page
    assert CARE in page
    assert "@page" in page


def test_the_contact_sheet_of_nothing_is_a_page():
    assert "0 swatches" in contact_sheet((), "everything")


def test_the_spreadsheet_sees_no_formula():
    from swatchread.report.search_exports import found_to_csv

    swatch = swatch_data(1, 1, (60, 15, 20), recipe="=HYPERLINK(1)")
    with Archive.open(":memory:") as archive:
        archive.add(build_note([swatch]))
        (row,) = csv.DictReader(io.StringIO(found_to_csv(archive.find(Query()))))
    assert row["recipe"] == "'=HYPERLINK(1)"


@pytest.mark.usefixtures("cards")
def test_a_sheet_tells_the_question_as_a_painter_would(run, tmp_path):
    run("find", "--value", "0-9", "--relative", "even", "--tube", "ochre", "--into", tmp_path / "sheet.html")
    assert "value 0-9, even beside the run of its card, with ochre" in (tmp_path / "sheet.html").read_text("utf-8")


def test_an_empty_archive_says_how_cards_come_into_it(run):
    for command in ("list", "find"):
        done = run(command)
        assert "is empty. Read cards into it: `swatchread read FOLDER --archive`." in done.stdout + done.stderr


def test_probabilities_in_words():
    assert [percent(p) for p in (0.0, 0.12, 0.999, None)] == ["under 1 %", "12 %", "over 99 %", ""]


@pytest.mark.usefixtures("cards")
def test_tables_fit_80_columns(run):
    for arguments in (("list",), ("find", "--near", "60,15,20"), ("find",)):
        assert max(map(len, run(*arguments, env={"COLUMNS": "80"}).stdout.splitlines())) <= 80


@pytest.mark.usefixtures("cards")
@pytest.mark.parametrize("near", [(), ("--near", "60,15,20")])
def test_found_swatches_in_a_narrow_window_keep_their_words_whole(run, near):
    lines = run("find", *near, "--limit", 4, env={"COLUMNS": "50"}).stdout.splitlines()
    assert max(map(len, lines)) <= 50
    assert "…" not in "".join(lines)
    (head,) = [line for line in lines if line.startswith("card swatch ")]
    assert head.split()[-1] == "warmth"
    assert "A wider window shows more columns." in lines


def test_the_list_marks_the_cards_that_were_read_with_warnings(run, tmp_path):
    message, remedy = WARNINGS["blurred"]
    warning = {"code": "blurred", "message": message.format(detail=""), "remedy": remedy}
    for name, note in (("sure", sample_card(1)), ("doubtful", sample_card(2))):
        warnings = [warning] if name == "doubtful" else []
        data = json.loads(note.to_json()) | {"warnings": warnings}
        data["card_info"]["note"] = '\n "warnings": []'
        (tmp_path / f"{name}.note.json").write_text(json.dumps(data), "utf-8")
        run("add", tmp_path / f"{name}.note.json")
    assert [card["doubtful"] for card in json.loads(run("list", "--json").stdout)] == [False, True]
    listed = run("list").stdout
    assert "* read with doubts" in listed
    assert listed.count("*") == 2
    assert " 2* " in listed
    for near in ((), ("--near", "60,15,20", "--within", 90)):
        facts = json.loads(run("find", *near, "--json").stdout)
        assert (2, True) in {(one["card"], one["doubtful"]) for one in facts}
        assert all(one["doubtful"] is (one["card"] == 2) for one in facts)
        told = run("find", *near).stdout
        assert "* read with doubts" in told
        assert told.count(" 2* r") == sum(one["doubtful"] for one in facts)
        assert " 1* r" not in told
    sure = json.loads(run("list", "--json").stdout)[0]
    assert "* read with doubts" not in run("find", "--sitter", sure["sitter"]).stdout
