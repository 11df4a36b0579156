"""`swatchread` at its edges: wrong usage, a fit too poor, a full disk, no folder; and that it starts light."""

import io
import json
import os
import re
import sqlite3
import subprocess
import sys
from contextlib import closing
from pathlib import Path

import numpy as np
import pytest

from swatchread.chart.definition import definition_json, load_chart
from swatchread.cli.colour_words import colours_joined
from swatchread.note.flags_and_warnings import Warn
from tests.archive_data import sample_card
from tests.scene import SceneSpec

CARD = SceneSpec(seed=33, width=1000, height=750, rows=3, columns=3, chart_fraction=0.36, fall_off=0.3)
KINDS = ("note.json", "note.csv", "note.cgats.txt", "note.html", "marked.jpg")


@pytest.fixture
def card(photograph, tmp_path):
    """Copy a readable photo to a name with spaces and letters beyond ASCII, in a folder of its own."""
    path, _ = photograph(CARD)
    own = tmp_path / "köpfe 2024" / "karte 1 – é.jpg"
    own.parent.mkdir()
    own.write_bytes(path.read_bytes())
    return own


def test_a_poor_fit_is_taken_when_asked_for_and_the_note_says_so(typed, card, tmp_path):
    """A chart definition with its colours askew stands for a chart whose colours cannot be corrected well enough."""
    definition = json.loads(definition_json(load_chart()))
    rng = np.random.default_rng(2)
    for patch in definition["patches"][:18]:
        patch["lab"][1:] = [float(x) for x in np.clip(np.array(patch["lab"][1:]) + rng.normal(0, 14, 2), -100, 100)]
    mine = tmp_path / "askew.chart.json"
    mine.write_text(json.dumps(definition | {"name": "askew"}))
    status, out, err = typed("read", card, "--chart", mine, "--into", tmp_path / "notes")
    assert status == 6
    assert out == ""
    assert "--accept-poor" in err
    assert not (tmp_path / "notes").exists()
    status, out, err = typed("read", card, "--chart", mine, "--into", tmp_path / "notes", "--accept-poor", "--json")
    assert status == 0
    assert "poor_fit" in [w["code"] for w in json.loads(out)["warnings"]]
    # With --json, standard output is the note and nothing else.
    assert out == (tmp_path / "notes" / f"{card.stem}.note.json").read_text("utf-8")
    assert "Traceback" not in err


@pytest.fixture
def read_already(reading, monkeypatch):
    """Let `read` find its photo read, so that only what comes after is done."""
    done, _ = reading(CARD)
    monkeypatch.setattr("swatchread.reading.read_card", lambda *_, **__: done)


@pytest.mark.usefixtures("read_already")
def test_a_file_where_the_folder_should_be(typed, card, tmp_path):
    """Nothing can be written below a file, not even by root."""
    (tmp_path / "taken").write_text("mine")
    status, out, err = typed("read", card, "--into", tmp_path / "taken")
    assert status == 1
    assert out == ""
    assert "could not be written" in err
    assert "taken is a file, not a folder" in err
    assert "do:" in err
    assert (tmp_path / "taken").read_text() == "mine"


@pytest.mark.parametrize("beside", [True, False])
def test_a_folder_that_may_not_be_written_to(typed, tmp_path, monkeypatch, beside):
    """A camera's card that is locked, say: nothing is read in vain, and the way out is named."""
    locked = tmp_path / "locked"
    locked.mkdir()
    locked.chmod(0o555)
    if os.geteuid() == 0:  # who may write anywhere
        may = os.access
        monkeypatch.setattr(os, "access", lambda path, mode: mode != os.W_OK and may(path, mode))
    words = ("read", locked / "card.jpg") if beside else ("read", tmp_path / "card.jpg", "--into", locked)
    status, out, err = typed(*words)
    assert (status, out) == (1, "")
    assert "could not be written" in err
    assert str(locked) in err
    assert "--into" in err
    assert list(locked.iterdir()) == []


@pytest.mark.usefixtures("read_already")
def test_a_full_disk_leaves_the_old_files_whole(typed, card, tmp_path, monkeypatch):
    """Whichever of the files the disk has no room for."""
    into = tmp_path / "notes"
    assert typed("read", card, "--into", into)[0] == 0
    before = {p.name: p.read_bytes() for p in into.rglob("*.*") if p.is_file()}
    assert {f"{card.stem}.{kind}" for kind in KINDS} <= set(before)
    written, room = [], {}

    def full(_descriptor):
        written.append(1)
        if len(written) > room["files"]:
            raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    for files in (0, 2, 4):
        room["files"] = files
        written.clear()
        status, out, err = typed("read", card, "--into", into)
        assert (status, out) == (1, "")
        assert "No space left" in err
        after = {p.name: p.read_bytes() for p in into.rglob("*.*") if p.is_file()}
        assert set(after) == set(before)  # no half-written file is left lying
        assert all(after[name] for name in after)
        assert after[f"{card.stem}.note.json"] == before[f"{card.stem}.note.json"]


@pytest.mark.parametrize(
    "words",
    [
        ("read", ""),
        ("read", "card.jpg", "--into", ""),
        ("archive", "list", "--archive", ""),
        ("note", "show", ""),
    ],
)
def test_an_empty_argument_is_told_and_does_not_mean_the_current_folder(typed, words, card, monkeypatch):
    monkeypatch.chdir(card.parent)
    before = list(card.parent.iterdir())
    status, out, err = typed(*words)
    assert (status, out) == (2, "")
    assert "An argument is empty" in err
    assert list(card.parent.iterdir()) == before


def test_a_search_for_cards_without_a_sitter_may_be_empty(typed, tmp_path):
    assert typed("archive", "find", "--sitter", "", "--archive", tmp_path / "a.sqlite")[0] == 0


@pytest.mark.parametrize("grid", [("3", "x", "3"), ("3x", "3"), ("3", "x3"), ("3x3",)])
@pytest.mark.usefixtures("read_already")
def test_a_grid_may_be_typed_with_spaces(typed, card, tmp_path, grid, monkeypatch):
    asked = []
    monkeypatch.setattr("swatchread.cli.reading_request.ReadingRequest.cards_reader", _asks_for(asked))
    typed("read", "--grid", *grid, card, "--into", tmp_path)
    ((photo,), size) = asked[0]
    assert (photo.name, size) == (card.name, (3, 3))


def _asks_for(asked):
    def reader(request, _):
        asked.append((request.photos, request.hints().grid))
        from swatchread.reading import read_card

        return lambda path: (read_card(path),)

    return reader


def test_a_grid_that_is_none_is_told_before_the_words_after_it_pass_for_photos(typed, card):
    status, _, err = typed("read", card, "--grid", "6", "by", "3")
    assert status == 2
    assert "'6' is not a number of rows and columns" in err


@pytest.mark.usefixtures("read_already")
def test_a_photo_after_a_bare_archive_is_read_and_not_taken_for_its_address(typed, card, tmp_path, monkeypatch):
    monkeypatch.setenv("SWATCHREAD_ARCHIVE", str(tmp_path / "mine.sqlite"))
    status, _, err = typed("read", "--archive", card, "--into", tmp_path / "notes")
    assert status == 0, err
    assert "Archive: new card, card 1" in err
    assert (tmp_path / "mine.sqlite").is_file()


@pytest.mark.usefixtures("read_already")
@pytest.mark.parametrize("length", [244, 251, 255])
def test_a_name_that_is_too_long_for_its_results_is_told_as_that(typed, card, length):
    long = card.with_name("k" * (length - 4) + ".jpg")
    card.rename(long)
    status, out, err = typed("read", long)
    assert (status, out) == (1, "")
    assert "more than this disk takes" in err
    assert "Give the photo a shorter name" in err
    assert list(long.parent.iterdir()) == [long]


@pytest.mark.parametrize("left_out", [True, False])
@pytest.mark.usefixtures("read_already")
def test_a_swatch_left_out_of_fused_photos_shows_in_the_exit_status(
    typed, card, tmp_path, monkeypatch, left_out, reading
):
    note = reading(CARD)[0].note
    warning = Warn(code="reading_left_out", message="r1c1 in a.jpg", remedy="look there")
    fused = note.model_copy(update={"warnings": (warning,) if left_out else ()})
    monkeypatch.setattr("swatchread.comparison.fusion.fuse", lambda *_: fused)
    other = card.with_name("other.jpg")
    other.write_bytes(card.read_bytes())
    status, _, err = typed("read", card, other, "--same-card", "--into", tmp_path / "notes")
    assert status == (1 if left_out else 0), err


def test_an_archive_that_another_program_holds_is_told_while_it_is_waited_for(tmp_path):
    archive = tmp_path / "a.sqlite"
    note = tmp_path / "x.note.json"
    sample_card(1).save(note)
    command = [sys.executable, "-c", "from swatchread.cli.main import start; start()", "archive"]
    subprocess.run([*command, "list", "--archive", archive], check=True, capture_output=True)
    with closing(sqlite3.connect(archive, isolation_level=None)) as other:
        other.execute("BEGIN EXCLUSIVE")
        for words in (("add", note), ("list",)):
            waiting = subprocess.Popen(
                [*command, *words, "--archive", archive], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
            )
            line = waiting.stderr.readline()
            assert "is in use by another program. Waiting up to 60 seconds" in line
            if words == ("add", note):
                waiting.kill()
                waiting.communicate()
        other.execute("COMMIT")
    out, err = waiting.communicate(timeout=30)
    assert (waiting.returncode, err) == (0, "")
    assert "empty" in out


def test_an_archive_that_nobody_lets_go_of_is_given_up_with_the_reason(typed, tmp_path, monkeypatch):
    monkeypatch.setattr("swatchread.archive.database._BUSY_SECONDS", 0.2)
    archive = tmp_path / "a.sqlite"
    assert typed("archive", "list", "--archive", archive)[0] == 0
    with closing(sqlite3.connect(archive, isolation_level=None)) as other:
        other.execute("BEGIN EXCLUSIVE")
        status, _, err = typed("archive", "list", "--archive", archive)
    assert status == 7
    assert "in use" in err
    assert "address" not in err


@pytest.mark.parametrize("number", [0, 10**9, 10**12, 10**30])
def test_a_number_of_no_card_is_told_as_that(typed, tmp_path, number):
    status, _, err = typed("archive", "remove", number, "--yes", "--archive", tmp_path / "a.sqlite")
    assert status == 7
    assert f"no reading of card {number}" in err


def test_help_answers_at_once_and_lists_the_commands():
    """Design, section 8: within 0.2 s. The least CPU time of some goes, so that a busy machine does not matter."""
    command = [sys.executable, "-c", "from swatchread.cli.main import run; run()", "--help"]
    spent = []
    for _ in range(4):
        before = os.times()
        ran = subprocess.run(command, capture_output=True, text=True, check=True, timeout=60)
        after = os.times()
        spent.append(after.children_user + after.children_system - before.children_user - before.children_system)
    for word in ("read", "chart", "note", "archive", "compare", "plan", "mix"):
        assert word in ran.stdout
    assert min(spent) < 0.2


def test_the_package_can_be_run_as_a_module(tmp_path):
    """From another folder, with the same names in its help and the same exit status."""
    environment = os.environ | {"PYTHONPATH": str(Path(__file__).parent.parent)}
    for words, status, said in (("--help", 0, "Usage: swatchread "), ("note show none.json", 2, "none.json")):
        ran = subprocess.run(
            [sys.executable, "-m", "swatchread", *words.split()],
            capture_output=True, text=True, check=False, timeout=60, cwd=tmp_path, env=environment,
        )  # fmt: skip
        assert ran.returncode == status
        assert said in ran.stdout + ran.stderr


@pytest.mark.parametrize("command", ["read", "chart check", "compare", "archive add", "note show", "mix predict"])
def test_help_names_arguments_without_types_of_the_language(typed, command):
    status, out, _ = typed(*command.split(), "--help")
    assert status == 0
    told = out[out.index("Arguments:") : out.index("Options:")]
    assert "<" not in told
    assert "[" not in told.replace("[required]", "").replace("[default:", "")


def test_version(typed):
    from swatchread import __version__

    status, out, _ = typed("--version")
    assert (status, out) == (0, f"swatchread {__version__}\n")


@pytest.mark.parametrize(
    ("line", "what", "why", "command"),
    [
        ("archive find --limit abc", "--limit abc makes no sense", "a whole number is asked for", "archive find"),
        ("archive find --limit=-3", "--limit -3 makes no sense", "it must be 0 or more", "archive find"),
        ("archive find --within x", "--within x makes no sense", "a number is asked for", "archive find"),
        ("plan --steps 99", "--steps 99 makes no sense", "it must be 12 or less", "plan"),
        (
            "note export a --as pdf",
            "--as pdf makes no sense",
            "'pdf' is not one of 'csv', 'cgats', 'html', 'map'",
            "note export",
        ),
        ("archive remove x", "CARD x makes no sense", "a whole number is asked for", "archive remove"),
        ("mix match", "COLOUR is missing", "", "mix match"),
        ("read", "PHOTO|FOLDER is missing", "", "read"),
        ("read --inot x", "No such option: --inot", "there is --into", "read"),
        ("plan extra", "Got unexpected extra argument(s) (extra)", "", "plan"),
        ("read a.jpg --card 1,2 3,4", "--card is incomplete", "x,y x,y x,y x,y must follow it", "read"),
        ("archive find --near", "--near is incomplete", "COLOUR must follow it", "archive find"),
        ("archive fnd", "No such command 'fnd'. Did you mean 'find'?", "", "archive"),
    ],
)
def test_a_line_that_makes_no_sense_is_answered_as_every_failure_is(typed, line, what, why, command):
    """What, why, what to do; the texts are the house's own, so that a change of the library's shows here."""
    status, out, err = typed(*line.split())
    assert (status, out) == (2, "")
    assert err.splitlines() == [
        what,
        *([f"  why: {why}"] if why else []),
        f"  do:  `swatchread {command} --help` shows how it is used",
    ]


@pytest.mark.parametrize("line", ["", "archive", "mix"])
def test_a_command_without_its_words_shows_its_help(typed, line):
    status, out, err = typed(*line.split())
    assert (status, out) == (2, "")
    assert err.startswith("Usage: swatchread")
    assert "Commands:" in err


def test_an_interruption_at_a_question_is_one(typed, monkeypatch, tmp_path):
    """Typing the end of input, or interrupting, where the program asks whether to go on."""
    note = sample_card(1)
    file, archive = tmp_path / "a.note.json", tmp_path / "archive.sqlite"
    note.save(file)
    assert typed("archive", "add", file, "--archive", archive)[0] == 0
    monkeypatch.setattr(sys, "stdin", io.StringIO(""))
    status, _, err = typed("archive", "remove", 1, "--archive", archive)
    assert status == 130
    assert err.endswith("Interrupted.\n")


@pytest.mark.parametrize(
    ("words", "wanted"),
    [
        (["card.jpg"], "swatchread read card.jpg"),
        (["my card.HEIC", "--into", "x"], "swatchread read 'my card.HEIC' --into x"),
    ],
)
def test_a_photo_without_a_command_is_answered_with_the_command_that_reads_it(typed, words, wanted):
    status, _, told = typed(*words)
    assert status == 2
    assert f"Give this command: {wanted}" in told


def test_the_help_of_read_names_each_option_once_under_its_heading(typed):
    _, shown, _ = typed("read", "--help")
    heads = ["Options:", "Correcting what was found:", "A fixed set-up:", "Rarely needed:"]
    places = [shown.index(head) for head in heads]
    assert places == sorted(places)
    assert places[1] < shown.index("  --grid") < places[2] < shown.index("  --keep-setup FILE  ") < places[3]
    for option in ("--into", "--chart-at", "--jobs", "--reread", "--accept-poor", "--json"):
        assert shown.count(f"\n  {option} ") + shown.count(f"\n  {option}\n") == 1, option


def test_a_message_is_folded_between_words_in_a_narrow_window(typed, monkeypatch):
    monkeypatch.setattr("shutil.get_terminal_size", lambda: os.terminal_size((50, 20)))
    whole = typed("note", "show", "gone.note.json")[2]
    monkeypatch.setattr("swatchread.cli.messages._is_window", lambda: True)
    folded = typed("note", "show", "gone.note.json")[2]
    assert max(map(len, whole.splitlines())) > 50 >= max(map(len, folded.splitlines()))
    assert folded.split() == whole.split()


@pytest.mark.parametrize(
    ("typed_words", "understood"),
    [
        ("60 18 29", ["60,18,29"]),
        ("60 -5 12 --count 3", ["60,-5,12", "--count", "3"]),
        ("--count 3 60 18 29", ["--count", "3", "60,18,29"]),
        ("--near 60 18 29 --limit 5", ["--near", "60,18,29", "--limit", "5"]),
        ("--json 5YR 6/4", ["--json", "5YR 6/4"]),
        ("12:r2c1 60 18 29", ["12:r2c1", "60,18,29"]),
        ("60 18 29 5YR 6/4", ["60,18,29", "5YR 6/4"]),
        ("60 18", ["60", "18"]),
        ("--value 3 4 5", ["--value", "3", "4", "5"]),
    ],
)
def test_a_colour_is_taken_without_quotes(typed_words, understood):
    assert colours_joined(typed_words.split(), {"--near", "--json"}) == understood


def test_find_takes_a_colour_as_it_is_typed(typed):
    status, shown, _ = typed("archive", "find", "--near", "60", "18", "29")
    assert (status, shown.splitlines()[0]) == (0, "Near 60,18,29: L*a*b* 60.0, 18.0, 29.0")


@pytest.mark.parametrize(
    ("command", "usual", "rare"),
    [
        (("archive", "find"), ("--near", "--value", "--tube", "--into"), ("--alike", "--every-reading", "--json")),
        (("plan",), ("--sitter", "--steps", "--sheet"), ("--archive", "--notes", "--json")),
    ],
)
def test_commands_of_many_options_tell_the_usual_ones_first(typed, command, usual, rare):
    _, shown, _ = typed(*command, "--help")
    options = [*re.findall(r"^  (--[a-z-]+)", shown, re.MULTILINE)]
    assert len(options) == len(set(options))
    first, last = shown.index("Options:"), shown.index("Rarely needed:")
    for option in usual:
        assert first < shown.index(f"\n  {option} ") < last
    for option in rare:
        assert shown.index(f"\n  {option} ") > last
