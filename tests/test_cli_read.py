"""`swatchread read` and `swatchread chart` as a painter types them: status, message, files, what a fault leaves."""

import json
import os
import re
import subprocess
import sys
from dataclasses import replace

import jsonschema
import numpy as np
import pytest
from PIL import Image

from swatchread.cli.main import run
from swatchread.note import load_note, note_schema
from tests.scene import SceneSpec, chartless_spec

CARD = SceneSpec(seed=31, width=1000, height=750, rows=3, columns=3, chart_fraction=0.36)
KINDS = ("note.json", "note.csv", "note.cgats.txt", "note.html", "marked.jpg")


@pytest.fixture
def typed(monkeypatch, capsys):
    """Type a command line; return (exit status, standard output, standard error)."""

    def type_in(*words):
        monkeypatch.setattr(sys, "argv", ["swatchread", *map(str, words)])
        with pytest.raises(SystemExit) as left:
            run()
        said = capsys.readouterr()
        return left.value.code or 0, said.out, said.err

    return type_in


@pytest.fixture
def card(photograph, tmp_path):
    """Copy a readable photo to a name with spaces and letters beyond ASCII, in a folder of its own."""
    path, _ = photograph(CARD)
    own = tmp_path / "köpfe 2024" / "karte 1 – é.jpg"
    own.parent.mkdir()
    own.write_bytes(path.read_bytes())
    return own


def made(folder, stem):
    return sorted(p.name for p in folder.iterdir() if p.name.startswith(f"{stem}.") and not p.name.endswith(".jpg.jpg"))


# --- when it works


def test_a_photo_becomes_a_note_and_its_companions(typed, card, tmp_path):
    into = tmp_path / "notes ü" / "deep"
    status, out, err = typed("read", card, "--into", into)
    assert status == 0
    assert {f"{card.stem}.{kind}" for kind in KINDS} <= set(made(into, card.stem))
    assert "Traceback" not in out + err
    assert [p.name for p in card.parent.iterdir()] == [card.name]  # nothing beside the photo
    note = load_note(into / f"{card.stem}.note.json")
    assert note.photo.file == card.name
    for swatch in note.swatches:
        assert swatch.id in out
    assert not [p for p in into.iterdir() if p.name.endswith(".part")]


def test_the_chart_alone(typed, card, photograph):
    _, scene = photograph(CARD)
    status, out, _ = typed("chart", card, "--json")
    assert status == 0
    facts = json.loads(out)
    assert facts["name"] == "classic24"
    assert np.abs(np.array(facts["corners"]) - scene.truth.chart_corners_px).max() < 5
    assert facts["fit"]["mean_de00"] <= facts["fit"]["cross_validated_de00"] < 3
    assert typed("chart", card)[1].count("\n") >= 2


def test_the_charts_that_are_known(typed):
    status, out, _ = typed("chart", "list", "--json")
    assert status == 0
    assert {"classic24", "classic24-after-2014"} <= {chart["name"] for chart in json.loads(out)}
    assert "classic24" in typed("chart", "list")[1]


def test_several_photos_one_of_them_bad(typed, card, tmp_path):
    """The good one is read, the bad one told with its remedy; the status is 1. Two of one stem keep apart."""
    bad = card.parent / "empty.jpg"
    bad.write_bytes(b"")
    twin = card.with_suffix(".png")
    Image.fromarray(np.zeros((50, 50, 3), np.uint8)).save(twin)
    into = tmp_path / "notes"
    status, out, err = typed("read", bad, card, twin, "--into", into, "--jobs", "1")
    assert status == 1
    assert "empty.jpg" in out + err
    assert "has no content" in re.sub(r"\s+", " ", out + err) or "is empty" in re.sub(r"\s+", " ", out + err)
    notes = [p.name for p in into.iterdir() if p.name.endswith(".note.json")]
    assert notes == [f"{card.stem}-jpg.note.json"]
    assert "Traceback" not in out + err


# --- when it does not


def bad_photo(kind, photograph, folder):
    """Write one unreadable photo of a kind; return its path."""
    path = folder / f"{kind}.jpg"
    if kind == "text":
        path.write_text("not a photo\n" * 99)
    elif kind == "empty":
        path.write_bytes(b"")
    elif kind == "truncated":
        whole = photograph(CARD)[0].read_bytes()
        path.write_bytes(whole[: len(whole) // 2])
    elif kind == "grey":
        Image.open(photograph(CARD)[0]).convert("L").save(path)
    elif kind == "mirrored":
        Image.fromarray(np.asarray(Image.open(photograph(CARD)[0]))[:, ::-1]).save(path, quality=95)
    elif kind == "no chart":
        path.write_bytes(photograph(chartless_spec(1, (1000, 750)))[0].read_bytes())
    elif kind == "no card":
        path.write_bytes(photograph(replace(CARD, card_present=False, tubes=0, table="dark"))[0].read_bytes())
    elif kind == "burnt out":
        path.write_bytes(photograph(replace(CARD, seed=32, exposure=2.6, tone="plain"))[0].read_bytes())
    return path


@pytest.mark.parametrize(
    ("kind", "wanted"),
    [("text", 3), ("empty", 3), ("truncated", 3), ("grey", 3), ("missing", 3), ("no chart", 4), ("mirrored", 4),
     ("no card", 5)],
)  # fmt: skip
def test_one_clear_message_and_no_file(typed, photograph, tmp_path, kind, wanted):
    """Design, section 8: the exit status; one message with a remedy on standard error; nothing written."""
    path = bad_photo(kind, photograph, tmp_path)
    into = tmp_path / "notes"
    status, out, err = typed("read", path, "--into", into)
    assert status == wanted
    assert out == ""
    lines = err.strip().splitlines()
    assert 2 <= len(lines) <= 3
    assert path.name in lines[0]
    assert lines[-1].strip().startswith("do:")
    assert len(lines[-1]) > 15
    assert "Traceback" not in err
    assert not into.exists()


def test_a_chart_too_burnt_to_use_is_too_poor(typed, photograph, tmp_path):
    """Most patches above the range: refused as such, or not even recognised; never measured."""
    status, out, err = typed("read", bad_photo("burnt out", photograph, tmp_path), "--into", tmp_path / "notes")
    assert status in {4, 5, 6}
    assert out == ""
    assert "do:" in err
    assert not (tmp_path / "notes").exists()


def test_a_poor_fit_is_taken_when_asked_for_and_the_note_says_so(typed, card, tmp_path):
    """A chart definition with its colours askew stands for a chart whose colours cannot be brought right."""
    definition = json.loads(typed_definition())
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
    jsonschema.Draft202012Validator(note_schema()).validate(json.loads(out))
    assert out == (tmp_path / "notes" / f"{card.stem}.note.json").read_text("utf-8")
    assert "Traceback" not in err


def typed_definition():
    from swatchread.charts.definition import definition_json, load_chart

    return definition_json(load_chart())


@pytest.mark.parametrize(
    "words",
    [
        pytest.param(
            ("read",), marks=pytest.mark.xfail(strict=True, raises=ValueError, reason="without a word `read` crashes")
        ),
        ("read", "a.jpg", "--no-such-option"),
        ("read", "a.jpg", "--chart", "no-such-chart"),
        ("no-such-command",),
        ("chart",),
        ("chart", "a.jpg", "--chart", "no-such-chart"),
    ],
)
def test_wrong_usage_is_2(typed, words):
    status, out, err = typed(*words)
    assert status == 2
    assert err
    assert "Traceback" not in out + err


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
    assert "do:" in err
    assert (tmp_path / "taken").read_text() == "mine"


@pytest.mark.usefixtures("read_already")
def test_a_folder_that_may_not_be_written_to(typed, card, tmp_path):
    if os.geteuid() == 0:
        pytest.skip("root may write anywhere")
    locked = tmp_path / "locked"
    locked.mkdir()
    locked.chmod(0o555)
    status, out, err = typed("read", card, "--into", locked)
    assert (status, out) == (1, "")
    assert "could not be written" in err
    assert list(locked.iterdir()) == []


@pytest.mark.usefixtures("read_already")
def test_a_full_disk_leaves_the_old_files_whole(typed, card, tmp_path, monkeypatch):
    """Whichever of the files the disk has no room for."""
    into = tmp_path / "notes"
    assert typed("read", card, "--into", into)[0] == 0
    before = {p.name: p.read_bytes() for p in into.iterdir()}
    assert {f"{card.stem}.{kind}" for kind in KINDS} <= set(before)
    written = []

    def full(_descriptor):
        written.append(1)
        if len(written) > room:
            raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    for room in (0, 2, 4):
        written.clear()
        status, out, err = typed("read", card, "--into", into)
        assert (status, out) == (1, "")
        assert "No space left" in err
        after = {p.name: p.read_bytes() for p in into.iterdir()}
        assert set(after) == set(before)  # no half-written file is left lying
        assert all(after[name] for name in after)
        assert after[f"{card.stem}.note.json"] == before[f"{card.stem}.note.json"]


def test_help_answers_at_once_and_lists_the_commands():
    """Design, section 8: heavy libraries load where they are used. CPU time, so that a busy machine does not matter."""
    code = "from swatchread.cli.main import run; run()"
    before = os.times()
    ran = subprocess.run([sys.executable, "-c", code, "--help"], capture_output=True, text=True, check=True, timeout=60)
    after = os.times()
    for command in ("read", "chart", "note", "archive", "compare", "plan", "mix"):
        assert command in ran.stdout
    spent = (after.children_user + after.children_system) - (before.children_user + before.children_system)
    assert spent < 1.0  # the aim is 0.3 s on an idle machine; loading any of the heavy libraries costs more than this


def test_version(typed):
    from swatchread import __version__

    status, out, _ = typed("--version")
    assert (status, out) == (0, f"swatchread {__version__}\n")
