"""The note command and its table."""

from __future__ import annotations

import io
import json
import subprocess
import sys

import jsonschema
import pytest
from rich.console import Console

from swatchread.archive.store import Archive
from swatchread.errors import ArchiveError, NoteError, UsageError
from swatchread.note.model import parse_note
from swatchread.note.phrases import minus, plain, signed
from swatchread.report.cgats import parse_cgats
from swatchread.report.console import LEFT_OUT, note_table
from tests.archive_data import build_note, sample_card, swatch_data
from tests.notes import changed, sample_note, with_text_everywhere
from tests.program import invoke

WARNING = {"code": "untagged", "message": "The photo says nothing", "remedy": "Use the camera's own file"}
PNG = b"\x89PNG\r\n\x1a\n" + b"0" * 20


@pytest.fixture
def card(tmp_path):
    path = tmp_path / "card.note.json"
    changed(sample_note(warnings=[WARNING]), "r1c1", writing="card.r1c1.png").save(path)
    (tmp_path / "card.r1c1.png").write_bytes(PNG)
    return path


def _printed(note, width=80):
    out = io.StringIO()
    Console(file=out, width=width, highlight=False).print(note_table(note))
    return out.getvalue()


def test_the_table_fits_80_columns_one_line_a_swatch():
    wide = changed(sample_note(12, 2), "r12c2", munsell="10YR 8.2/12.7", lab=[82.0, -14.2, -18.4])
    printed = _printed(wide)
    lines = printed.splitlines()
    assert max(map(len, lines)) <= 80
    for swatch in wide.swatches:
        (line,) = [text for text in lines if text.startswith(f"{swatch.id} ")]
        assert swatch.value_name in line
        assert swatch.munsell in line
        assert all(minus(x) in line.split() for x in swatch.lab)
        assert swatch.temperature.relative in line


@pytest.mark.parametrize("width", [40, 50, 66, 79])
def test_in_a_narrow_window_columns_go_whole_and_words_stay_whole(width):
    note = changed(sample_note(12, 2), "r12c2", munsell="10YR 8.2/12.7", lab=[82.0, -14.2, -18.4])
    lines = _printed(note, width).splitlines()
    assert max(map(len, lines)) <= width
    assert "…" not in "".join(lines)
    for swatch in note.swatches:
        (line,) = [text for text in lines if text.startswith(f"{swatch.id} ")]
        assert f"{swatch.value:.1f} {swatch.value_name}" in line
        assert swatch.temperature.relative in line
    heads = lines[2].split()
    assert heads[-1] == "warmth"
    assert ("L*" in heads) == any(minus(-18.4) in line.split() for line in lines)
    assert (LEFT_OUT in lines) == ("L*" not in heads)


def test_doubts_leanings_recipes_and_warnings_stand_in_words_below():
    words = " ".join(_printed(sample_note(warnings=[WARNING])).split())
    assert "r2c1: the paint is uneven" in words
    assert "r5c1, r5c2: a neighbouring step has nearly the same value" in words
    assert "leans red" in words
    assert "r1c1: 2 ivory black, 3 red earth" in words
    assert "The photo says nothing. Use the camera's own file." in words


@pytest.mark.parametrize(
    ("recipe", "dangerous"),
    [("", False), ("2 yellow ochre + 1 ivory black", False), ("1 cad red", True)],
)
def test_care_is_asked_for_where_a_recipe_names_a_dangerous_pigment(recipe, dangerous):
    """Cadmium is harmful, iron oxides and bone black are not known to be (common practice: labels of tubes)."""
    out = io.StringIO()
    Console(file=out, width=80).print(note_table(changed(sample_note(1, 1), "r1c1", recipe=recipe)))
    assert out.getvalue().count("Take care") == dangerous
    assert ("admium " in out.getvalue()) == dangerous


def test_a_word_that_may_mean_a_dangerous_pigment_gets_a_line():
    words = " ".join(_printed(changed(sample_note(1, 1), "r1c1", recipe="1 red + 1 ivory black")).split())
    assert "“red” may be cadmium red light: take care" in words
    assert "Take care" not in words


def test_text_from_files_cannot_drive_the_terminal():
    attack = "\x1b[2Jred[bold]x[/bold]\x07\u202egnp\r\nnext"
    printed = _printed(with_text_everywhere(sample_note(2, 1), attack), width=200)
    assert not {"\x1b", "\x07", "\u202e", "\r"} & set(printed)
    assert "[bold]x[/bold]" in printed, "markup of the console is text too"


def test_show_prints_a_table_or_the_same_facts_as_json(card):
    assert "Evening group, harbour hall" in invoke("note", "show", card).stdout
    assert parse_note(invoke("note", "show", card, "--json").stdout) == parse_note(card.read_bytes())


def test_show_takes_the_number_of_an_archived_card(card, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    with Archive.open("archive.sqlite") as archive:
        archive.add_all((sample_card(1, version=version), None) for version in ("0.1.0", "0.2.0"))
    shown = invoke("note", "show", "1", "--archive", "archive.sqlite").stdout
    assert "invented evening 1" in shown
    assert "0.2.0" in shown
    older = invoke("note", "show", "1", "--archive", "archive.sqlite", "--reading", "0.1.0", "--json").stdout
    assert json.loads(older)["tool"]["version"] == "0.1.0"
    with pytest.raises(ArchiveError, match="no card 9"):
        invoke("note", "show", "9", "--archive", "archive.sqlite")
    with pytest.raises(UsageError, match="--reading"):
        invoke("note", "show", card, "--reading", "0.1.0")
    card.rename("1")  # a file of that name wins
    assert "Evening group, harbour hall" in invoke("note", "show", "1", "--archive", "archive.sqlite").stdout


def test_schema_describes_the_notes_that_are_written(card):
    schema = json.loads(invoke("note", "schema").stdout)
    data = json.loads(card.read_text(encoding="utf-8"))
    jsonschema.validate(data, schema)
    data["swatches"][0]["lab"] = "pink"
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate(data, schema)


@pytest.mark.parametrize(
    "numbers",
    [
        {"lab": [1e308, 0, 0]},
        {"uncertainty": {"L": 1e308, "a": 1, "b": 1, "de00": 1, "own_de00": 1}},
        {"uncertainty": {"L": 1, "a": 1, "b": 1, "de00": 1e200, "own_de00": 1}},
        {"value": 1e308},
        {"temperature": {"warmth": -1e308, "name": "warm", "relative": "even", "against": "run"}},
    ],
)
def test_numbers_beyond_any_colour_are_refused_not_reckoned_with(card, numbers):
    """Kept in an archive, one such number would end every later search near a colour."""
    data = json.loads(card.read_text(encoding="utf-8"))
    data["swatches"][0].update(numbers)
    with pytest.raises(NoteError, match=r"1000"):
        parse_note(json.dumps(data))


def test_csv_and_cgats_go_to_standard_output_alone(card):
    before = sorted(card.parent.iterdir())
    assert invoke("note", "export", card, "--as", "csv").stdout.startswith("id,row,column,L,a,b")
    read = parse_cgats(invoke("note", "export", card, "--as", "cgats").stdout)
    assert len(read.rows) == 12
    assert sorted(card.parent.iterdir()) == before


def test_page_and_map_go_beside_the_note_and_the_page_holds_the_handwriting(card):
    assert "card.note.map.svg" in invoke("note", "export", card, "--as", "map").stderr
    assert (card.parent / "card.note.map.svg").exists()
    result = invoke("note", "export", card, "--as", "html")
    assert result.stdout == ""
    assert "card.note.html" in result.stderr
    assert "data:image/png" in (card.parent / "card.note.html").read_text(encoding="utf-8")


OUTSIDE = ["../secret.png", "/etc/hostname", "..\\secret.png", "link.png", ".", "gone.png"]
OUTSIDE += ["a.writing/../../secret.png", "linked.writing/secret.png", "one.writing/more/secret.png"]


@pytest.mark.parametrize("name", OUTSIDE)
def test_a_note_cannot_pull_in_files_from_elsewhere(tmp_path, name):
    folder = tmp_path / "notes"
    folder.mkdir()
    (tmp_path / "secret.png").write_bytes(PNG)
    (folder / "link.png").symlink_to(tmp_path / "secret.png")
    (folder / "linked.writing").symlink_to(tmp_path)
    (folder / "a.writing").mkdir()
    (folder / "one.writing" / "more").mkdir(parents=True)
    (folder / "one.writing" / "more" / "secret.png").write_bytes(PNG)
    changed(sample_note(1, 1), "r1c1", writing=name).save(folder / "card.note.json")
    invoke("note", "export", folder / "card.note.json", "--as", "html")
    assert "data:image" not in (folder / "card.note.html").read_text(encoding="utf-8")


STARTS = {"csv": "id,", "cgats": "CGATS.17", "html": "<!doctype", "map": "<svg "}


@pytest.mark.parametrize(
    ("name", "words", "kind"),
    [
        ("a.csv", (), "csv"),
        ("a.txt", (), "cgats"),
        ("a.HTML", (), "html"),
        ("a.svg", (), "map"),
        ("new folder/file.any", ("--as", "map"), "map"),
        ("a.csv", ("--as", "cgats"), "cgats"),
    ],
)
def test_the_name_of_the_file_says_the_format_unless_one_is_asked_for(card, tmp_path, name, words, kind):
    assert invoke("note", "export", card, *words, "--into", tmp_path / name).stdout == ""
    assert (tmp_path / name).read_text(encoding="utf-8").startswith(STARTS[kind])


@pytest.mark.parametrize(
    ("arguments", "remedy"),
    [((), "csv, cgats, html or map"), (("--into", "card.doc"), "--as: csv, cgats"), (("--into", "x.pdf"), "print it")],
)
def test_an_export_without_a_format_asks_for_one(card, arguments, remedy):
    with pytest.raises(UsageError) as caught:
        invoke("note", "export", card, *arguments)
    assert remedy in caught.value.remedy


def test_a_note_is_never_overwritten_by_its_export(card):
    before = card.read_bytes()
    for kind in ("map", "csv"):
        with pytest.raises(UsageError, match="is the note itself"):
            invoke("note", "export", card, "--as", kind, "--into", card)
    assert card.read_bytes() == before


def test_what_is_not_a_note_is_refused(tmp_path):
    with pytest.raises(NoteError, match="cannot be read"):
        invoke("note", "show", tmp_path / "missing.json")
    (tmp_path / "x.json").write_text("{}")
    with pytest.raises(NoteError, match="not a note"):
        invoke("note", "export", tmp_path / "x.json", "--as", "csv")


@pytest.mark.parametrize(
    ("data", "why"),
    [
        (b"", "it is empty"),
        (b"\xff\xd8\xff\xe0 as a JPEG begins", "it holds no text, as a picture does"),
        (b'{"format":\n"swatchread-note", oh', "its text is not JSON, line 2, column"),
    ],
)
def test_why_it_is_no_note_is_said_in_plain_words(tmp_path, data, why):
    (tmp_path / "x.json").write_bytes(data)
    with pytest.raises(NoteError) as caught:
        invoke("note", "show", tmp_path / "x.json")
    assert why in caught.value.why
    assert "codec" not in caught.value.why


@pytest.mark.parametrize(
    ("found", "put", "why"),
    [
        ('"version": 1,', '"version": "1",', "version"),
        ('"version": 1,', '"version": true,', "version"),
        ('"version": 1,', '"version": 1.5,', "version"),
        ('"version": 1,', '"version": "99",', "version"),
        ('"row": 1,', '"row": "1",', "row"),
        ('"row": 1,', '"row": 1, "row": 1,', "'row' twice"),
        ('"card_info": {', '"card_info": {"title": "x", "title": "x",', "'title' twice"),
    ],
)
def test_a_note_that_readers_could_take_in_two_ways_is_refused(card, found, put, why):
    text = card.read_text("utf-8")
    assert found in text
    card.write_text(text.replace(found, put, 1), "utf-8")
    with pytest.raises(NoteError, match="does not hold together") as caught:
        invoke("note", "show", card)
    assert why in caught.value.why


def test_a_note_of_ten_thousand_swatches_is_shown_in_two_seconds(tmp_path):
    """Processor time, the start of the program included; the machine may be busy with other things."""
    swatches = [
        swatch_data(r, c, (50, c, r), recipe=f"{c} white + {r} ochre") for r in range(1, 101) for c in range(1, 101)
    ]
    build_note(swatches).save(tmp_path / "x.note.json")
    code = "import resource, sys; sys.argv[1:] = ['note', 'show', 'x.note.json']\n"
    code += "from swatchread.cli.main import start\ntry: start()\nfinally:\n"
    code += " print(resource.getrusage(resource.RUSAGE_SELF).ru_utime, file=sys.stderr)"
    ran = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=tmp_path)
    assert "r100c100" in ran.stdout
    assert float(ran.stderr.splitlines()[-1]) < 2.0


def test_numbers_are_written_as_printers_write_them():
    assert (signed(0.004), signed(-0.0), signed(-0.126), signed(0.25)) == ("0.00", "0.00", "−0.13", "+0.25")
    assert (minus(-0.04), minus(-3.26), minus(3.26)) == ("0.0", "−3.3", "3.3")
    assert plain(" a\tb\u2028c\x00\u202e ") == "a b c"
    assert plain("می\u200cخواهم") == "می\u200cخواهم", "joiners are part of the spelling"
