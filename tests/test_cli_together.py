"""`swatchread read --same-card`, `--keep-setup` and `--setup` as a painter meets them."""

import json
import shutil

import pytest

from swatchread.note.model import load_note
from tests.program import program
from tests.scene import SceneSpec, draw, save
from tests.setup_data import STAND, with_chart, without_chart

CARD = SceneSpec(seed=61, width=1600, height=1200, rows=3, columns=3, writing="none", cell_pitch=1.2)
OTHERS = (
    {"seed": 62, "card_seed": 61, "light": "D65", "tilt": 10.0},
    {"seed": 63, "card_seed": 61, "light": "LED-B3", "tilt_direction": 200.0},
)


@pytest.fixture(scope="module")
def shots(tmp_path_factory):
    from dataclasses import replace

    folder = tmp_path_factory.mktemp("shots")
    specs = [CARD, *(replace(CARD, **other) for other in OTHERS)]
    return [save(draw(spec), folder / f"shot{k}.jpg") for k, spec in enumerate(specs)]


@pytest.fixture(scope="module")
def stand(tmp_path_factory):
    folder = tmp_path_factory.mktemp("stand")
    with_chart(folder / "first.jpg")
    without_chart(folder / "second.jpg", STAND)
    return folder


def test_three_photos_become_one_note_and_one_card(shots, tmp_path):
    ran = program("read", *shots, "--same-card", "--into", tmp_path / "notes", "--archive", tmp_path / "a.sqlite")
    assert ran.returncode == 0, ran.stderr
    note = load_note(tmp_path / "notes" / "shot0.together.note.json")
    assert [photo.file for photo in note.photos] == ["shot0.jpg", "shot1.jpg", "shot2.jpg"]
    assert len(note.swatches) == 9
    assert "new card, card 1" in ran.stderr
    # By the photo that was named first, as the note's file is, whichever of them lent it its place.
    assert ran.stdout.splitlines()[0] == "shot0.jpg and 2 more"
    assert "Made from shot0.jpg, shot1.jpg, shot2.jpg" in " ".join(ran.stdout.split())
    page = (tmp_path / "notes" / "shot0.together.note.html").read_text("utf-8")
    assert "shot0.jpg, shot1.jpg, shot2.jpg" in page
    assert "fused from shot0.jpg" in (tmp_path / "notes" / "shot0.together.note.cgats.txt").read_text("utf-8")
    assert (tmp_path / "notes" / "shot0.together.marked.jpg").is_file()


@pytest.mark.slow
def test_a_bad_photo_among_them_is_named_and_the_others_go_on(shots, tmp_path):
    bad = tmp_path / "bad.jpg"
    bad.write_text("three parts white\n", "utf-8")
    ran = program("read", shots[0], bad, shots[1], "--same-card", "--into", tmp_path, "--json")
    assert ran.returncode == 1
    assert "bad.jpg" in ran.stderr
    note = json.loads(ran.stdout)
    assert note["warnings"][0]["code"] == "photo_left_out"
    assert "bad.jpg" in note["warnings"][0]["message"]
    assert len(note["photos"]) == 2


def test_photos_of_different_cards_are_refused(shots, stand, tmp_path):
    ran = program("read", shots[0], stand / "first.jpg", "--same-card", "--into", tmp_path)
    assert ran.returncode == 2
    assert "not of one card" in ran.stderr
    assert not list(tmp_path.iterdir())


def test_fewer_than_two_readable_photos_are_refused_as_what_they_are(shots, tmp_path):
    (tmp_path / "bad.jpg").write_bytes(b"")
    assert program("read", shots[0], tmp_path / "bad.jpg", "--same-card").returncode == 3
    assert program("read", shots[0], "--same-card", "--into", tmp_path).returncode == 2


@pytest.mark.slow
def test_a_set_up_is_kept_and_used_for_one_photo_and_for_many(stand, tmp_path):
    setup = tmp_path / "stand.setup.json"
    kept = program("read", stand / "first.jpg", "--into", tmp_path, "--keep-setup", setup)
    assert kept.returncode == 0, kept.stderr
    assert "Set-up kept" in kept.stderr
    alone = program("read", stand / "second.jpg", "--into", tmp_path, "--setup", setup, "--json")
    assert alone.returncode == 0, alone.stderr
    assert json.loads(alone.stdout)["warnings"][0]["code"] == "kept_setup"
    folder = tmp_path / "cards"
    folder.mkdir()
    shutil.copy(stand / "second.jpg", folder)
    many = program("read", folder, "--setup", setup, "--jobs", 1)
    assert many.returncode == 0, many.stderr
    assert load_note(folder / "second.note.json").warnings[0].code == "kept_setup"
    without = program("read", stand / "second.jpg", "--into", tmp_path)
    assert without.returncode == 4


@pytest.mark.parametrize(
    "words",
    [
        ("a.jpg", "b.jpg", "--keep-setup", "x.json"),
        ("a.jpg", "--keep-setup", "x.json", "--setup", "y.json"),
        ("a.jpg", "--keep-setup", "x.json", "--same-card"),
        ("a.jpg", "--setup", "x.json", "--chart", "classic24"),
        ("a.jpg", "--setup", "missing.json"),
        ("a.jpg", "b.jpg", "--setup", "missing.json"),
    ],
)
def test_what_makes_no_sense_is_refused(words, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    ran = program("read", *words)
    assert ran.returncode == 2, ran.stderr
    assert not list(tmp_path.iterdir())
