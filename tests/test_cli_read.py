"""`swatchread read` and `swatchread chart` as a painter meets them: files, messages and exit statuses."""

import json
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from PIL import Image

from .program import program
from .scene import SceneSpec, draw
from .scene.files import save

SAMPLES = Path(__file__).parent.parent / "samples"
SMALL = {"width": 1600, "height": 1200}


@pytest.fixture(scope="session")
def card(tmp_path_factory):
    path = tmp_path_factory.mktemp("cards") / "card.jpg"
    save(draw(SceneSpec(seed=11, **SMALL)), path)
    return path


#: What a photo shows -> the exit status. Which photos are refused, and why, `test_photo` and `test_refusals` ask.
STATUS = {"words": 3, "nothing": 3, "no chart": 4, "no card": 5}
LACKING = {"no chart": {"chart_present": False}, "no card": {"card_present": False}}


@pytest.mark.parametrize("kind", list(STATUS))
def test_a_bad_photo_is_refused_with_its_status_and_one_message(kind, tmp_path):
    path = tmp_path / f"{kind}.jpg"
    if kind in LACKING:
        save(draw(SceneSpec(seed=12, **SMALL, **LACKING[kind])), path)
    elif kind == "words":
        path.write_text("three parts white, one ochre\n", "utf-8")
    done = program("read", path, "--into", tmp_path / "out")
    assert done.returncode == STATUS[kind], done.stderr
    assert done.stdout == ""
    assert "Traceback" not in done.stderr
    assert done.stderr.count("do: ") == 1, done.stderr
    assert not (tmp_path / "out").exists() or not list((tmp_path / "out").iterdir())


def test_reading_writes_the_note_and_its_companions(tmp_path, card):
    done = program("read", card, "--into", tmp_path)
    assert done.returncode == 0, done.stderr
    assert "r1c1" in done.stdout
    for kind in ("note.json", "note.csv", "note.cgats.txt", "note.html", "marked.jpg"):
        assert (tmp_path / f"card.{kind}").stat().st_size > 100, kind
    note = json.loads((tmp_path / "card.note.json").read_text("utf-8"))
    assert note["format"] == "swatchread-note"
    assert len(note["swatches"]) == 18
    said = re.search(r"^Written: (.*\.note\.json), (.*); the handwriting in (.*)$", done.stderr, re.MULTILINE)
    named = {"card.note.json", *(f"card{end}" for end in said[2].split(", ")), said[3]}
    assert Path(said[1]) == tmp_path / "card.note.json"
    assert named == {path.name for path in tmp_path.iterdir()}
    written = {swatch["writing"] for swatch in note["swatches"]}
    there = {f"{said[3]}/{path.name}" for path in (tmp_path / said[3]).iterdir()}
    assert written - {None} == there - {f"{said[3]}/title.jpg"}


def test_photos_of_one_name_and_two_kinds_keep_their_own_results(tmp_path, card):
    shutil.copy(card, tmp_path / "card.jpg")
    Image.open(card).save(tmp_path / "card.png")
    for name in ("card.jpg", "card.png", "card.jpg", "card.png"):
        assert program("read", tmp_path / name, "--into", tmp_path / "notes").returncode == 0
    notes = {
        path.name: json.loads(path.read_text("utf-8"))["photo"]["file"] for path in (tmp_path / "notes").glob("*.json")
    }
    assert notes == {"card.note.json": "card.jpg", "card-png.note.json": "card.png"}


def test_results_stand_beside_the_photo_whatever_its_name(tmp_path, card):
    path = tmp_path / "Karte ö 1.jpg"
    shutil.copy(card, path)
    assert program("read", path).returncode == 0
    assert (tmp_path / "Karte ö 1.note.json").exists()


def test_chart_tells_corners_in_the_charts_own_order(card):
    done = program("chart", card, "--json")
    assert done.returncode == 0, done.stderr
    facts = json.loads(done.stdout)
    assert facts["name"] == "classic24"
    assert len(facts["corners"]) == 4
    assert facts["fit"]["mean_de00"] < 3


def test_chart_check_says_in_words_whether_the_photo_is_any_good(card, tmp_path, monkeypatch):
    monkeypatch.setenv("COLUMNS", "80")
    name = "a name that is as long as phones make them 20251103_184502.png"
    shutil.copy(card, tmp_path / name)
    said = program("chart", tmp_path / name, tmp_path / "gone.png")
    assert f"{name}: good to read a card by" in said.stdout
    assert said.stderr.count("gone.png") == 1  # not "gone.png: gone.png cannot be opened"
    assert "Patches" not in program("chart", tmp_path / "gone.png", tmp_path / "gone too.png").stdout


def test_chart_check_passes_over_pictures_that_a_reading_wrote(card, tmp_path):
    """A shell's ``*.jpg`` names them too; alone, one is looked at like any other."""
    photo, marked = tmp_path / "a.jpg", tmp_path / "a.marked.jpg"
    for copy in (photo, marked):
        shutil.copy(card, copy)
    done = program("chart", "check", photo, marked, "--json")
    assert done.returncode == 0, done.stderr
    assert [facts["photo"] for facts in json.loads(done.stdout)] == ["a.jpg"]
    assert json.loads(program("chart", "check", marked, "--json").stdout)["photo"] == "a.marked.jpg"


def test_chart_list_names_the_sources():
    done = program("chart", "list", "--json")
    assert {c["name"] for c in json.loads(done.stdout)} >= {
        "classic24",
        "classic24-after-2014",
        "classic24-before-2014",
    }
    assert all(c["source"] for c in json.loads(done.stdout))


def test_reading_a_jpeg_loads_no_more_than_it_needs(card, tmp_path):
    """Each of these would make a painter wait for what is not used."""
    spared = [
        "colour",
        "colour_checker_detection",
        "alembic",
        "sqlalchemy",
        "pebble",
        "rawpy",
        "pillow_heif",
        "werkzeug",
        "matplotlib",
        "rich",
    ]
    code = (
        "import sys\nfrom swatchread.cli.main import run\n"
        f"try: run()\nfinally: print('loaded:', *[m for m in {spared} if m in sys.modules], file=sys.stderr)"
    )
    ran = subprocess.run(
        [sys.executable, "-W", "ignore", "-c", code, "read", str(card), "--into", str(tmp_path), "--json"],
        capture_output=True,
        text=True,
        check=True,
        cwd=SAMPLES.parent,
        timeout=120,
    )
    assert ran.stderr.splitlines()[-1].split() == ["loaded:"]
