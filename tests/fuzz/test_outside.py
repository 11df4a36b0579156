"""Faults from outside: killed at any moment, no room, no permission, odd names, links, a note from the future."""

import contextlib
import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from swatchread.archive.store import Archive
from swatchread.note.model import load_note
from tests.archive_data import build_note, swatch_data
from tests.program import program
from tests.scene import SceneSpec

TOP = Path(__file__).parent.parent.parent
CARD = SceneSpec(seed=33, width=1000, height=750, rows=3, columns=3, chart_fraction=0.36, fall_off=0.3)

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="kills, mounts and links are POSIX's")


def run(words, **settings):
    return subprocess.run(
        [sys.executable, "-W", "ignore", *words],
        capture_output=True,
        text=True,
        errors="replace",
        env={**os.environ, "PYTHONPATH": str(TOP)},
        timeout=600,
        check=False,
        **settings,
    )


def swatchread(*words):
    return run(["-c", "from swatchread.cli.main import run; run()", *map(os.fspath, words)])


def ends(status, *words):
    """Run a command that must end so, kindly; return what it wrote."""
    ran = swatchread(*words)
    assert ran.returncode == status, (words[:2], ran.stderr)
    assert "Traceback" not in ran.stderr
    return ran


def a_note(**changed):
    return build_note([swatch_data(1, 1, (50, 10, 15), recipe="1 red ochre")], **changed)


# --- killed


@pytest.mark.parametrize(
    ("writer", "times"),
    [
        ("words", 12),
        ("archive", 5),
        *(pytest.param(name, 40, marks=pytest.mark.slow) for name in ("outputs", "words", "archive", "changes")),
    ],
)
def test_killed_at_any_moment_what_stands_is_whole_and_in_step_and_nothing_else_stays(
    writer, times, photograph, tmp_path
):
    photo, _ = photograph(CARD)
    (tmp_path / "card.jpg").write_bytes(photo.read_bytes())
    ran = run(["-m", "tests.fuzz.killed", writer, str(tmp_path), str(times)])
    assert ran.returncode == 0, ran.stderr[-2000:]
    told = json.loads(ran.stdout)
    assert told["interrupted"] >= times // 3  # else nothing would be tested
    assert told["stay"] == []


# --- no room, no permission


@pytest.fixture
def small_disk(tmp_path):
    place = tmp_path / "disk"
    place.mkdir()
    mounted = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", "size=300k", "tmpfs", place], capture_output=True, check=False
    )
    if mounted.returncode:
        pytest.skip("no small disk can be mounted here")
    yield place
    subprocess.run(["umount", place], check=True)


def fill_up(place, leave=0):
    """Fill a disk but for `leave` bytes."""
    with (place / "ballast").open("wb", buffering=0) as file, contextlib.suppress(OSError):
        while file.write(b"\0" * 4096):
            pass
    os.truncate(place / "ballast", max(0, (place / "ballast").stat().st_size - leave))


def standing(place):
    return {path.name: path.read_bytes() for path in place.rglob("*") if path.is_file() and path.name != "ballast"}


@pytest.mark.parametrize(
    "leave", [pytest.param(0, marks=pytest.mark.slow), 8192, pytest.param(65536, marks=pytest.mark.slow)]
)
def test_a_full_disk_is_told_and_keeps_what_it_had(small_disk, photograph, tmp_path, leave):
    a_note().save(small_disk / "old.note.json")
    archive = small_disk / "archive.sqlite"
    with Archive.open(str(archive)) as opened:
        opened.add(a_note())
    table = tmp_path / "words.csv"
    table.write_text(f"id,recipe\nr1c1,{'x' * 1900}\n", "utf-8")
    for number in range(40):
        swatches = [swatch_data(1, c, (50, c, 15), recipe="z" * 1500) for c in range(1, 7)]
        build_note(swatches, seed=number).save(tmp_path / f"{number}.note.json")
    fill_up(small_disk, leave)
    before = standing(small_disk)
    for words, status in (
        (("read", photograph(CARD)[0], "--into", small_disk), 1),
        (("note", "fill", small_disk / "old.note.json", "--from", table), 1),
        (("archive", "add", *sorted(tmp_path.glob("*.note.json")), "--archive", archive), 7),
    ):
        if leave and words[0] == "note":  # there is room for this one
            assert swatchread(*words).returncode in {0, status}
        else:
            assert "do:" in ends(status, *words).stderr
    assert load_note(small_disk / "old.note.json").swatches[0].recipe in {"1 red ochre", "x" * 1900}
    assert not list(small_disk.glob(".*.part"))
    (small_disk / "ballast").unlink()
    with Archive.open(str(archive)) as opened:
        assert not opened.check()
        assert opened.cards()
    after = standing(small_disk)
    assert set(before) <= set(after)
    assert "card.note.json" not in after  # the note comes last: it stands only where the rest does


@pytest.mark.slow
def test_a_disk_that_may_only_be_read(small_disk, photograph, tmp_path):
    note = small_disk / "old.note.json"
    a_note().save(note)
    with Archive.open(str(small_disk / "archive.sqlite")) as opened:
        opened.add(a_note())
    other = tmp_path / "other.note.json"
    a_note(seed=2).save(other)
    before = standing(small_disk)
    if subprocess.run(["mount", "-o", "remount,ro", small_disk], capture_output=True, check=False).returncode:
        pytest.skip("the disk cannot be made read-only here")
    try:
        for words, status in (
            (("read", photograph(CARD)[0], "--into", small_disk), 1),
            (("note", "export", note, "--into", small_disk / "map.svg"), 1),
            (("archive", "add", other, "--archive", small_disk / "archive.sqlite"), 7),
            (("archive", "list", "--archive", small_disk / "new.sqlite"), 7),
            (("note", "show", note), 0),
        ):
            ends(status, *words)
        assert standing(small_disk) == before
    finally:
        subprocess.run(["mount", "-o", "remount,rw", small_disk], check=True)


# --- names and links


NAMES = (
    b"k\xc3\xb6pfe \xe8\xb5\xad (1) \xf0\x9f\x8e\xa8.note.json",
    b"caf\xe9 'quoted\" $x.note.json",
    b"-n.note.json",
    b"line\nbreak \x1b[31m.note.json",
)
"""The second is no UTF-8: it comes from another system's disk."""


@pytest.mark.parametrize(
    "name", [NAMES[1], *(pytest.param(name, marks=pytest.mark.slow) for name in (NAMES[0], *NAMES[2:]))]
)
def test_names_of_any_kind(tmp_path, name):
    path = Path(os.fsdecode(os.fsencode(tmp_path) + b"/" + name))
    try:
        path.write_text(a_note().to_json(), "utf-8")
    except OSError:
        pytest.skip("this file system does not take such a name")
    archive = tmp_path / "archive of mine.sqlite"
    for words in (
        ("note", "show", path),
        ("note", "export", path, "--as", "html"),
        ("note", "export", path, "--into", tmp_path / "map.svg"),
        ("archive", "add", path, "--archive", archive),
        ("archive", "add", path, "--archive", archive, "--json"),
        ("note", "show", "1", "--archive", archive),
    ):
        ran = ends(0, *words)
        assert "\x1b[31m" not in ran.stdout + ran.stderr
    ends(2, "note", "show", f"{path}x")


@pytest.mark.slow
def test_links_are_followed_and_stay(tmp_path, photograph):
    real = tmp_path / "real"
    real.mkdir()
    (tmp_path / "photo.jpg").symlink_to(photograph(CARD)[0])
    (tmp_path / "notes").symlink_to(real)
    ends(0, "read", tmp_path / "photo.jpg", "--into", tmp_path / "notes")
    assert (tmp_path / "notes").is_symlink()
    note = real / "photo.note.json"
    link = tmp_path / "link.note.json"
    link.symlink_to(note)
    table = tmp_path / "words.csv"
    table.write_text("id,recipe\nr1c1,2 white + 1 red ochre\n", "utf-8")
    ends(0, "note", "fill", link, "--from", table)
    assert link.is_symlink()
    assert load_note(note).swatches[0].recipe == "2 white + 1 red ochre"
    (tmp_path / "nowhere.jpg").symlink_to(tmp_path / "gone.jpg")
    (tmp_path / "round.jpg").symlink_to(tmp_path / "round.jpg")
    for name in ("nowhere.jpg", "round.jpg"):
        ends(3, "read", tmp_path / name)


# --- a note from the future


def test_a_note_of_a_later_version_is_refused_kindly(tmp_path):
    data = json.loads(a_note().to_json()) | {"version": 99, "lighting": {"lamp": "invented"}}
    path = tmp_path / "later.note.json"
    path.write_text(json.dumps(data), "utf-8")
    before = path.read_bytes()
    for words in (
        ("note", "show", path),
        ("note", "fill", path, "--no-browser"),
        ("archive", "add", path, "--archive", ":memory:"),
        ("compare", path, path),
        ("mix", "predict", "1 ochre", "--notes", path),
    ):
        told = program(*words)
        assert told.returncode == 2
        message = told.stderr
        assert "newer" in message
        assert "Update" in message
    assert path.read_bytes() == before
