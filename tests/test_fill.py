"""Filling a note in: words into the note, and the table."""

from __future__ import annotations

import os
import subprocess
import sys

import pytest

from swatchread.archive.store import Archive
from swatchread.errors import ConflictError, NoteError, OutputError, UsageError
from swatchread.note.model import load_note
from swatchread.note.phrases import CARE
from swatchread.page.note_keeper import NoteKeeper, Words, put_words
from swatchread.page.word_table import read_words
from swatchread.recipes.own_tubes import OwnTube
from swatchread.report.note_csv import note_to_csv
from tests.archive_data import build_note, sample_card, swatch_data
from tests.program import invoke

PNG = b"\x89PNG\r\n\x1a\n" + b"0" * 20


@pytest.fixture
def path(tmp_path):
    swatches = [swatch_data(1, c, (60, 15, 20), writing=f"r1c{c}.png") for c in (1, 2)]
    swatches += [swatch_data(2, 1, (30, 10, 10), recipe="2 yo\n+ 1 tw")]
    target = tmp_path / "card.note.json"
    build_note(swatches, info={"title": "invented"}).save(target)
    (tmp_path / "r1c1.png").write_bytes(PNG)
    (tmp_path / "secret.png").write_bytes(PNG)
    return target


@pytest.mark.parametrize(
    "words", [Words({}, {"colour": "red"}), Words({"r1c1": "x" * 9999})], ids=["no such field", "too long"]
)
def test_words_that_fit_nowhere_are_refused(path, words):
    with pytest.raises(UsageError):
        put_words(load_note(path), words)


def test_saving_refreshes_the_files_beside_the_note(path):
    beside = path.with_name("card.note.csv")
    beside.write_text("old")
    NoteKeeper(path).save(Words({"r1c1": "3 tw"}))
    assert "3 tw" in beside.read_text()
    assert not path.with_name("card.note.html").exists()


def test_a_failing_disk_leaves_the_note_whole(path, monkeypatch):
    before = path.read_bytes()
    keeper = NoteKeeper(path)
    monkeypatch.setattr("os.replace", lambda *_: (_ for _ in ()).throw(OSError(28, "No space left on device")))
    with pytest.raises(OutputError):
        keeper.save(Words({"r1c1": "3 tw"}))
    assert path.read_bytes() == before
    assert keeper.note == load_note(path)


def test_a_note_changed_meanwhile_is_not_overwritten(path):
    keeper = NoteKeeper(path)
    NoteKeeper(path).save(Words({"r1c1": "their recipe"}))
    with pytest.raises(ConflictError, match="changed by something else") as caught:
        keeper.save(Words({"r1c1": "my recipe", "r1c2": "another"}))
    assert "their recipe" in caught.value.why
    note = load_note(path)
    assert [note.swatch(name).recipe for name in ("r1c1", "r1c2")] == ["their recipe", ""]


def test_what_was_written_elsewhere_meanwhile_is_kept_beside_what_is_saved_here(path):
    keeper = NoteKeeper(path)
    NoteKeeper(path).save(Words({"r1c1": "their recipe"}, {"sitter": "K"}))
    keeper.save(Words({"r1c2": "my recipe"}))
    note = load_note(path)
    assert [note.swatch(name).recipe for name in ("r1c1", "r1c2")] == ["their recipe", "my recipe"]
    assert note.card_info.sitter == "K"


def test_nothing_is_saved_into_a_card_that_was_read_anew_otherwise(path):
    keeper = NoteKeeper(path)
    build_note([swatch_data(1, 1, (30, 0, 0)), swatch_data(1, 2, (60, 0, 0))]).save(path)
    with pytest.raises(ConflictError, match="read anew"):
        keeper.save(Words({"r1c1": "my recipe"}))
    assert load_note(path).swatch("r1c1").recipe == ""


def test_programs_that_save_by_turns_lose_nothing(path):
    """Four processes write into fields of their own, ten times each."""
    code = (
        "import sys, pathlib\n"
        "from swatchread.page.note_keeper import NoteKeeper, Words\n"
        "keeper = NoteKeeper(pathlib.Path(sys.argv[1]))\n"
        "for n in range(10): keeper.save(Words(card={sys.argv[2]: str(n)}))\n"
    )
    names = ("title", "sitter", "date", "note")
    running = [subprocess.Popen([sys.executable, "-c", code, str(path), name]) for name in names]
    assert [process.wait(timeout=120) for process in running] == [0] * 4
    info = load_note(path).card_info.model_dump()
    assert {name: info[name] for name in names} == dict.fromkeys(names, "9")


def test_a_save_completes_what_a_kill_left_behind_the_note(path):
    beside = path.with_name("card.note.csv")
    beside.write_text("old")
    os.utime(beside, (1, 1))
    NoteKeeper(path).save(Words())
    assert "2 yo" in beside.read_text()


def table(tmp_path, text, encoding="utf-8"):
    file = tmp_path / "words.csv"
    file.write_bytes(text.encode(encoding))
    return file


@pytest.mark.skipif(os.name == "nt", reason="there it is not the file's bits that say who may read it")
def test_a_note_that_only_its_painter_may_read_stays_so(tmp_path):
    path = tmp_path / "card.note.json"
    sample_card(1).save(path)
    path.chmod(0o600)
    NoteKeeper(path).save(Words({"r1c1": "2 white"}))
    assert path.stat().st_mode & 0o777 == 0o600


def test_a_table_brings_recipes_and_the_card(tmp_path):
    words = read_words(table(tmp_path, "\ufeffID;Recipe;Sitter\r\nr1c1;3 tw + 1 yo;K\r\nr1c2;;K\r\n"))
    assert words == Words({"r1c1": "3 tw + 1 yo"}, {"sitter": "K"})


@pytest.mark.parametrize(
    ("text", "card"),
    [
        ("id,Ground,remarks\nr1c1,board,dry\n", {"support": "board", "note": "dry"}),
        ("id,support,ground\nr1c1,board,\n", {"support": "board"}),
        ("id,ground,support\nr1c1,,board\n", {"support": "board"}),
    ],
)
def test_the_card_is_told_in_the_words_of_the_page_too(tmp_path, text, card):
    assert read_words(table(tmp_path, text)) == Words({}, card)


def test_a_notes_own_csv_comes_back_in(tmp_path):
    recipes = {"r1c1": '+ 3 tw, "best"', "r1c2": "'old' white", "r2c1": "＋ 2 tw", "r2c2": "− 1 yo"}
    note = put_words(sample_card(1), Words(recipes))
    words = read_words(table(tmp_path, note_to_csv(note)))
    assert put_words(note, words) == note


@pytest.mark.parametrize(
    "text",
    [
        "",
        "swatch,words\nr1c1,x",
        "id\nr1c1",
        "id,recipe\n,3 tw",
        "id,recipe\nr1c1,3 tw\nr1c1,4 tw",
        "id,sitter\nr1c1,A\nr1c2,B",
        'id,recipe\nr1c1,"' + "x" * 200_000,
    ],
)
def test_a_table_that_cannot_be_meant_is_refused(tmp_path, text):
    with pytest.raises(UsageError):
        read_words(table(tmp_path, text))


def test_a_table_in_another_encoding_is_refused(tmp_path):
    with pytest.raises(UsageError, match="UTF-8"):
        read_words(table(tmp_path, "id,recipe\nr1c1,grün", "latin-1"))


def run(*arguments):
    return invoke("note", "fill", *arguments)


def test_what_a_table_that_is_taken_leaves_open_is_said_once_with_all_swatches_it_is_true_of(path, tmp_path):
    text = "id,recipe\nr1c1,3 titanium white + 1 ochre\nr1c2,1 ochre\nr2c1,2 zinkwite\n"
    done = run(path, "--from", table(tmp_path, text))
    told = done.stderr.splitlines()
    assert load_note(path).swatch("r1c2").recipe == "1 ochre"
    assert CARE not in done.stderr
    assert "r1c1, r1c2: “ochre” could be yellow ochre, red ochre" in told
    assert "r2c1: “zinkwite” is not in the list of tubes" in told
    assert not any("titanium" in line for line in told)


def test_a_doubt_about_many_swatches_names_the_first_and_says_how_to_settle_it(tmp_path):
    path = tmp_path / "many.note.json"
    build_note([swatch_data(1, c, (60, 15, 20)) for c in range(1, 7)]).save(path)
    text = "id,recipe\n" + "".join(f"r1c{c},1 ochre\n" for c in range(1, 7))
    told = run(path, "--from", table(tmp_path, text)).stderr.splitlines()
    assert "r1c1, r1c2, r1c3, r1c4 and 2 more: “ochre” could be yellow ochre, red ochre" in told
    assert sum("swatchread tubes --ask" in line for line in told) == 1


def test_what_the_painter_has_said_of_a_word_is_no_doubt_any_more(path, tmp_path):
    kept = tmp_path / "kept.sqlite"
    with Archive.open(str(kept)) as archive:
        archive.tubes.say([OwnTube("ochre", "yellow ochre")])
    told = run(path, "--from", table(tmp_path, "id,recipe\nr1c1,1 ochre\n"), "--archive", kept).stderr
    assert "could be" not in told


def test_a_missing_table_says_what_to_do(path, tmp_path):
    with pytest.raises(UsageError, match="cannot be read") as caught:
        run(path, "--from", tmp_path / "gone.csv")
    assert "name and folder" in caught.value.remedy


def test_a_table_with_a_wrong_id_changes_nothing(path, tmp_path):
    before = path.read_bytes()
    with pytest.raises(NoteError, match="r9c9"):
        run(path, "--from", table(tmp_path, "id,recipe\nr1c1,3 tw\nr9c9,2 tw\n"))
    assert path.read_bytes() == before


def test_the_archive_takes_over_what_a_table_brings_into_a_note_that_it_holds(path, tmp_path):
    kept, text = tmp_path / "kept.sqlite", "id,recipe\nr1c1,1 viridian\n"
    done = run(path, "--from", table(tmp_path, text), "--archive", kept)
    assert "Archive:" not in done.stderr
    assert not kept.exists()
    with Archive.open(str(kept)) as archive:
        archive.add(load_note(path), path.parent)
    run(path, "--from", table(tmp_path, text.replace("1 viridian", "2 viridian")), "--archive", kept)
    with Archive.open(str(kept)) as archive:
        assert archive.card(1).note.swatch("r1c1").recipe == "2 viridian"


def test_a_table_that_names_a_dangerous_pigment_asks_for_care_once(path, tmp_path):
    told = run(path, "--from", table(tmp_path, "id,recipe\nr1c1,1 cadmium red\nr1c2,2 cadmium red\n")).stderr
    assert told.count(CARE) == told.lower().count("cadmium compounds") == 1
