"""Reading many photos: which ones, past what, kept how, and told how."""

import csv
import io
import json
import os
import signal
import subprocess
import sys
import time
from dataclasses import replace
from multiprocessing import active_children
from pathlib import Path

import pytest
from rich.console import Console
from typer.testing import CliRunner

from swatchread import __version__
from swatchread.archive.colour_reference import read_near
from swatchread.archive.store import Archive
from swatchread.batch import worker_pool as pools
from swatchread.batch.batch_report import COLUMNS, doubts_table, report_csv, summary
from swatchread.batch.batch_run import Batch
from swatchread.batch.jobs import Job, Line, Settings, find_jobs
from swatchread.batch.worker_pool import WorkerPool
from swatchread.cli import main
from swatchread.errors import NoChartError, NoSwatchesError
from swatchread.note.model import load_note
from swatchread.reading import read_lone_swatch
from tests.archive_data import sample_card
from tests.batch_data import obey, told
from tests.bench import batch as bench
from tests.scene import draw, easy_spec, save

RUN = bench.RUN


def rows_of(folder):
    return list(csv.DictReader(io.StringIO((folder / "read-report.csv").read_bytes().decode("utf-8"))))


def jobs_of(*given, into=None):
    return [(job.photo.name, str(job.folder), job.stem) for job in find_jobs(given, into)]


@pytest.fixture
def tree(tmp_path):
    """Make a folder of empty files."""
    for name in ("b.jpg", "a.HEIC", "sub/a.jpg", "sub/a.png", "text.txt", ".hidden.jpg", ".cache/c.jpg"):
        (tmp_path / name).parent.mkdir(exist_ok=True)
        (tmp_path / name).touch()
    (tmp_path / "b.writing").mkdir()
    for name in ("b.marked.jpg", "b.r1c1.writing.jpg", "b.note.json", "b.writing/r1c1.jpg"):
        (tmp_path / name).touch()
    return tmp_path


# --- which photos


def test_a_folder_is_walked_for_photos_but_not_for_our_own_pictures(tree):
    assert [name for name, _, _ in jobs_of(tree)] == ["a.HEIC", "b.jpg", "a.jpg", "a.png"]


def test_our_own_pictures_are_passed_over_among_photos_that_a_shell_names(tree):
    named = [tree / "b.jpg", tree / "b.marked.jpg", tree / "b.r1c1.writing.jpg", tree / "b.writing" / "r1c1.jpg"]
    assert [name for name, _, _ in jobs_of(*named)] == ["b.jpg"]
    assert len(jobs_of(*named[1:])) == 3


def test_results_lie_beside_the_photo_or_in_the_folders_own_order(tree):
    assert {folder for _, folder, _ in jobs_of(tree)} == {str(tree), str(tree / "sub")}
    assert {f for _, f, _ in jobs_of(tree, into=Path("out"))} == {"out", os.path.join("out", "sub")}  # noqa: PTH118


def test_no_two_photos_share_a_name_for_their_results(tree, tmp_path):
    other = tmp_path / "other"
    other.mkdir()
    (other / "B.JPG").touch()
    (other / "b.jpg").touch()
    found = jobs_of(tree / "b.jpg", other / "b.jpg", other / "B.JPG", tree / "sub", into=Path("out"))
    stems = [stem.lower() for _, _, stem in found]
    assert len(set(stems)) == len(stems) == 5
    assert found == jobs_of(tree / "b.jpg", other / "b.jpg", other / "B.JPG", tree / "sub", into=Path("out"))


def test_a_name_made_distinct_is_no_other_photos_own(tmp_path):
    for name in ("a.jpg", "a.png", "a-jpg.jpg"):
        (tmp_path / name).touch()
    found = {name: stem for name, _, stem in jobs_of(tmp_path)}
    assert found["a-jpg.jpg"] == "a-jpg"
    assert len(set(found.values())) == 3


def test_a_photo_named_twice_counts_once(tree):
    assert len(jobs_of(tree / "b.jpg", tree, tree / "sub" / "..")) == 4


def test_a_link_to_a_folder_is_not_followed(tree):
    (tree / "sub" / "loop").symlink_to(tree)
    assert len(jobs_of(tree)) == 4


def test_links_that_lead_round_in_a_circle_do_not_end_the_search(tree):
    (tree / "round.jpg").symlink_to(tree / "about.jpg")
    (tree / "about.jpg").symlink_to(tree / "round.jpg")
    names = [name for name, _, _ in jobs_of(tree)]
    assert "b.jpg" in names
    assert "round.jpg" in names  # reading it tells what is wrong with it


def test_a_name_that_is_no_text_gets_results_whose_names_are(tmp_path):
    for name in (b"caf\xe9.jpg", b"caf_.png", "k\u00f6pfe.jpg".encode()):
        (tmp_path / os.fsdecode(name)).touch()
    stems = {stem for _, _, stem in jobs_of(tmp_path)}
    assert len(stems) == 3
    assert "k\u00f6pfe" in stems
    for stem in stems:
        stem.encode("utf-8")


# --- the report


def test_the_report_has_a_row_a_photo_and_no_formulas():
    error = NoChartError("=2+2", "because", "do this")
    lines = [
        Line(Path("b.jpg"), "failed", error=error, seconds=1.234),
        Line(Path("a.jpg"), "read", Path("a.note.json"), card=3, swatches=12, seconds=2.0),
        Line(
            Path("d.jpg"), "read", Path("d.note.json"), swatches=2, doubts=("The photo is blurred. Rest the elbows.",)
        ),
        Line(Path("c.jpg"), "not reached"),
    ]
    rows = list(csv.DictReader(io.StringIO(report_csv(lines))))
    assert list(rows[0]) == list(COLUMNS)
    assert [row["photo"] for row in rows] == ["a.jpg", "b.jpg", "c.jpg", "d.jpg"]
    assert rows[0] | {"card": "3", "swatches": "12", "warnings": "0", "state": "read"} == rows[0]
    assert (rows[1]["what"], rows[1]["code"], rows[1]["seconds"]) == ("'=2+2", "no_chart", "1.23")
    assert summary(lines) == "4 photos: 2 read, 1 failed, 1 not reached; 1 with doubts; 14 swatches measured"
    assert (rows[3]["warnings"], rows[3]["doubts"]) == ("1", "The photo is blurred. Rest the elbows.")


def test_each_doubt_is_told_once_with_its_remedy_and_the_photos_it_is_about():
    dark, blurred = "The photo is dark. More light.", "The photo is blurred. Rest the elbows."
    lines = [
        Line(Path("b.jpg"), "read", Path("b.note.json"), doubts=(dark,)),
        Line(Path("a.jpg"), "read", Path("a.note.json"), doubts=(dark, blurred)),
        Line(Path("c.jpg"), "read", Path("c.note.json")),
    ]
    out = io.StringIO()
    Console(file=out, width=80).print(doubts_table(lines))
    told = [" ".join(line.split()) for line in out.getvalue().splitlines()]
    assert told[2:] == [f"a.jpg, b.jpg {dark}", f"a.jpg {blurred}"]


# --- the same bytes twice


def test_of_the_same_bytes_one_is_read_and_if_that_fails_the_other(tmp_path, monkeypatch):
    monkeypatch.setattr(pools, "read_job", obey)
    for name in ("a.jpg", "b.jpg"):
        (tmp_path / name).write_bytes(b"the same")
    for name in ("kill.jpg", "later.jpg", "latest.jpg"):
        (tmp_path / name).write_bytes(b"these are the same, too")
    batch = Batch(Settings(), "classic24", size=2)
    found = {line.photo.name: (line.state, line.remark) for line in batch.read(find_jobs([tmp_path]))}
    assert found["a.jpg"][0] == "read"
    assert found["b.jpg"] == ("same photo", f"the same as {tmp_path / 'a.jpg'}")
    assert found["kill.jpg"][0] == "failed"
    assert found["later.jpg"][0] == "read"
    assert found["latest.jpg"] == ("same photo", f"the same as {tmp_path / 'later.jpg'}")


# --- workers


def is_running(number):
    """Tell whether a process runs; one that has ended may still be listed until its parent has noticed."""
    try:
        return Path(f"/proc/{number}/stat").read_text("utf-8").rsplit(")", 1)[1].split()[0] != "Z"
    except FileNotFoundError:
        return False


@pytest.fixture
def obedient(monkeypatch):
    monkeypatch.setattr(pools, "read_job", obey)


@pytest.mark.usefixtures("obedient")
def test_a_dying_worker_takes_only_its_own_photo_with_it():
    with WorkerPool(Settings(), 2) as pool:
        found = told(pool, ["one", "kill", "two", "leave", "three"])
    assert {name for name, result in found.items() if result.error} == {"kill", "leave"}
    assert "signal 9" in found["kill"].error.why
    assert "memory" in found["kill"].error.remedy
    assert found["leave"].error.code == "broken_off"


@pytest.mark.usefixtures("obedient")
def test_a_photo_that_takes_too_long_is_given_up():
    with WorkerPool(Settings(), 2, seconds=2.0) as pool:
        found = told(pool, ["hang", "one", "two"])
    assert "too long" in found["hang"].error.what
    assert not found["one"].error
    assert not found["two"].error


@pytest.mark.usefixtures("obedient")
def test_a_worker_is_replaced_after_many_photos(monkeypatch):
    monkeypatch.setattr(pools, "PHOTOS_PER_WORKER", 2)
    with WorkerPool(Settings(), 1) as pool:
        found = told(pool, ["one", "two", "three"])
    assert found["one"].remark == found["two"].remark != found["three"].remark


@pytest.mark.usefixtures("obedient")
def test_closing_ends_what_hangs():
    others = set(active_children())  # of tests before this one
    with WorkerPool(Settings(), 1) as pool:
        pool.give(Job(Path("hang.jpg"), Path(), "hang"))
        processes = set(active_children()) - others
        assert processes
        time.sleep(0.2)
    for process in processes:
        process.join(10.0)  # it hangs for minutes unless it is ended
    assert not any(process.is_alive() for process in processes)


@pytest.mark.usefixtures("obedient")
def test_a_process_that_dies_with_nothing_to_do_is_replaced():
    with WorkerPool(Settings(), 1) as pool:
        told(pool, ["one"])
        for process in active_children():
            process.kill()
            process.join()
        found = told(pool, ["two", "three"])
    assert not found["three"].error
    assert not found["two"].error or found["two"].error.code == "broken_off"


@pytest.mark.skipif(sys.platform != "linux", reason="reads /proc")
def test_processes_leave_when_the_one_that_started_them_is_killed(tmp_path):
    code = (
        "from pathlib import Path\nfrom multiprocessing import active_children\n"
        "from swatchread.batch import worker_pool as pools\n"
        "from swatchread.batch.jobs import Job, Settings\nfrom tests.batch_data import obey\n"
        "if __name__ == '__main__':\n"
        " pools.read_job = obey\n"
        " with pools.WorkerPool(Settings(), 2) as pool:\n"
        "  pool.give(Job(Path('one.jpg'), Path(), 'one'))\n"
        "  pool.results(60)\n"
        "  print(*(process.pid for process in active_children()), flush=True)\n"
        "  input()\n"
    )
    script = tmp_path / "script.py"
    script.write_text(code, encoding="utf-8")
    environment = os.environ | {"PYTHONPATH": str(Path(__file__).parents[1])}
    process = subprocess.Popen(
        [sys.executable, script], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, env=environment
    )
    children = [int(number) for number in process.stdout.readline().split()]
    assert len(children) == 2
    process.kill()
    process.communicate(timeout=60)
    deadline = time.monotonic() + 60
    while any(is_running(child) for child in children) and time.monotonic() < deadline:
        time.sleep(0.1)
    assert not any(is_running(child) for child in children)


def test_a_worker_uses_one_thread_and_bounded_memory():
    code = (
        "import os, sys\nfrom swatchread.batch import worker_pool\nworker_pool.prepare()\n"
        "import cv2\nprint(cv2.getNumThreads(), os.environ['OPENBLAS_NUM_THREADS'])\n"
        "import numpy as np\n"
        "try:\n np.ones(6 * 1024**3, np.uint8)\n print('no bound')\nexcept MemoryError:\n print('bounded')\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.split()[:2] == ["1", "1"]
    if sys.platform == "linux":
        assert "bounded" in done.stdout


def test_a_fault_of_our_own_is_told_and_not_raised(tmp_path, monkeypatch):
    def fault(_path):
        raise ZeroDivisionError("by nothing")

    monkeypatch.setattr(pools, "_reader", lambda _settings: fault)
    error = pools.read_job(Job(tmp_path / "a.jpg", tmp_path, "a"), Settings())[0].error
    assert (error.code, error.why) == ("unexpected", "ZeroDivisionError: by nothing")


# --- what is known already


@pytest.fixture
def known(tmp_path):
    """Write a 'photo' whose note stands beside it; whoever decodes it fails."""
    import hashlib

    photo = tmp_path / "card.jpg"
    photo.write_bytes(b"no photo at all")
    note = sample_card()
    facts = note.photo.model_copy(update={"file": "card.jpg", "sha256": hashlib.sha256(photo.read_bytes()).hexdigest()})
    note = note.model_copy(update={"photo": facts, "tool": note.tool.model_copy(update={"version": __version__})})
    note.save(tmp_path / "card.note.json")
    return photo, note


def states(batch, photo):
    return [(line.state, line.card) for line in batch.read(find_jobs([photo]))]


def test_a_photo_whose_note_stands_is_not_decoded(known):
    photo, note = known
    assert states(Batch(Settings(), note.chart.name), photo) == [("read before", None)]
    assert states(Batch(Settings(), "another chart"), photo) == [("failed", None)]
    assert states(Batch(Settings(), note.chart.name, again=True), photo) == [("failed", None)]


def test_a_note_that_never_reached_the_archive_is_kept_there(known, tmp_path):
    photo, note = known
    with Archive.open(str(tmp_path / "a.sqlite")) as archive:
        assert archive.holds(note.photo.sha256, __version__) is None
        assert states(Batch(Settings(), note.chart.name, archive), photo) == [("read before", 1)]
        assert archive.holds(note.photo.sha256, __version__) == 1
        assert archive.holds(note.photo.sha256, "0.0.0") is None
        (tmp_path / "card.note.json").unlink()
        assert states(Batch(Settings(), note.chart.name, archive), photo) == [("read before", 1)]


def test_a_photo_archived_by_another_chart_is_read(known, tmp_path):
    photo, note = known
    with Archive.open(str(tmp_path / "a.sqlite")) as archive:
        archive.add(note)
        assert states(Batch(Settings(), "another chart", archive), photo) == [("failed", None)]
        assert states(Batch(Settings(), note.chart.name, archive), photo) == [("read before", 1)]


def test_a_note_of_an_older_version_is_not_enough(known, tmp_path):
    photo, note = known
    old = note.model_copy(update={"tool": note.tool.model_copy(update={"version": "0.0.1"})})
    old.save(tmp_path / "card.note.json")
    assert states(Batch(Settings(), note.chart.name), photo) == [("failed", None)]


def test_the_same_photo_under_two_names_is_read_once(known, tmp_path):
    photo, note = known
    (tmp_path / "copy.jpg").write_bytes(photo.read_bytes())
    assert states(Batch(Settings(), note.chart.name), tmp_path) == [("read before", None), ("same photo", None)]


def test_nothing_new_is_begun_once_it_is_to_stop(known, tmp_path):
    _, note = known
    lines = list(Batch(Settings(), note.chart.name).read(find_jobs([tmp_path]), lambda: True))
    assert [line.state for line in lines] == ["not reached"]


# --- the command


@pytest.fixture(scope="module")
def card(tmp_path_factory):
    """Draw a small easy card."""
    spec = replace(easy_spec(21, (1600, 1200)), rows=3, columns=2, missing=0, ground="white")
    return save(draw(spec), tmp_path_factory.mktemp("card") / "card.jpg")


def invoke(*words):
    return CliRunner().invoke(main.app, ["read", *(str(word) for word in words)])


def test_a_folder_is_read_past_a_bad_photo_into_the_archive(card, tmp_path, monkeypatch):
    monkeypatch.setenv("SWATCHREAD_ARCHIVE", str(tmp_path / "a.sqlite"))
    folder = tmp_path / "photos"
    folder.mkdir()
    (folder / "card.jpg").write_bytes(card.read_bytes())
    (folder / "bad.jpg").write_text("no photo", encoding="utf-8")
    done = invoke(folder, "--archive", "--json", "--jobs", 2)
    assert done.exit_code == 1, done.output
    bad, good = json.loads(done.stdout)
    assert (bad["state"], bad["code"]) == ("failed", "photo_unreadable")
    assert (good["state"], good["card"], good["swatches"]) == ("read", 1, 6)
    rows = rows_of(folder)
    assert [row["state"] for row in rows] == ["failed", "read"]
    assert load_note(folder / "card.note.json").photo.file == "card.jpg"
    again = invoke(folder, "--archive")
    assert again.exit_code == 1
    assert "1 read before, 1 failed" in again.stdout
    assert "is not a photo" in " ".join(again.stdout.split())


def test_a_note_of_another_photo_that_is_set_aside_is_named(card, tmp_path):
    """Two cameras call their photos alike: the recipes of the first must not seem to be gone."""
    words = sample_card()
    words = words.model_copy(update={"swatches": (words.swatches[0].model_copy(update={"recipe": "2 white"}),)})
    folder = tmp_path / "photos"
    folder.mkdir()
    (folder / "card.jpg").write_bytes(card.read_bytes())
    words.save(folder / "card.note.json")
    told = "the note that stood there does not fit this reading and is kept as card.earlier-1.note.json"
    assert told in invoke(folder / "card.jpg").stderr
    assert load_note(folder / "card.earlier-1.note.json") == words
    words.save(folder / "card.note.json")
    assert told in invoke(folder, "--reread").stderr
    assert rows_of(folder)[0]["remark"] == told
    assert "stood there" not in invoke(folder, "--reread").stderr


def test_a_bare_archive_option_takes_no_folder_for_its_address(tmp_path, monkeypatch):
    monkeypatch.setenv("SWATCHREAD_ARCHIVE", str(tmp_path / "usual.sqlite"))
    (tmp_path / "photos").mkdir()
    for words in (["--archive", tmp_path / "photos"], [tmp_path / "photos", "--archive"]):
        done = invoke(*words)
        assert "no photo" in str(done.exception)
    assert (tmp_path / "usual.sqlite").exists()


@pytest.mark.skipif(sys.platform == "win32", reason="signals")
def test_ctrl_c_finishes_what_is_in_hand_and_says_what_was_not_reached(card, tmp_path):
    folder = tmp_path / "photos"
    folder.mkdir()
    for index in range(12):  # the same picture, other bytes: what follows the end of a JPEG is not read
        (folder / f"card{index:02}.jpg").write_bytes(card.read_bytes() + bytes([index]))
    command = bench.command(folder, folder, tmp_path / "a.sqlite", "--jobs", "1")
    process = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
    deadline = time.monotonic() + 120
    while not list(folder.glob("*.note.json")) and time.monotonic() < deadline:
        time.sleep(0.1)
    process.send_signal(signal.SIGINT)
    _, messages = process.communicate(timeout=120)
    assert process.returncode == 130, messages
    rows = rows_of(folder)
    counts = {state: sum(row["state"] == state for row in rows) for state in ("read", "not reached")}
    assert counts["read"] >= 1
    assert counts["not reached"] >= 1
    assert sum(counts.values()) == 12
    with Archive.open(str(tmp_path / "a.sqlite")) as archive:
        assert len(archive.cards()) == counts["read"] == len(list(folder.glob("*.note.json")))
    assert not list(folder.glob(".*.part"))


# --- near a photo


def test_near_a_photo_of_a_lone_swatch(tmp_path):
    spec = replace(easy_spec(7101, (1600, 1200)), rows=1, columns=1, missing=0, cell_pitch=1.3)
    scene = draw(spec)
    path = save(scene, tmp_path / "lone.jpg")
    with Archive.open(str(tmp_path / "a.sqlite")) as archive:
        near = read_near(str(path), archive, 5.0)
    assert near.radius == 5.0
    assert 0 < near.uncertainty_de00 < 3
    # CIELAB distance, far above any uncertainty of this photo and far below that of another thing on the table.
    assert sum((x - y) ** 2 for x, y in zip(near.lab, scene.truth.swatches[0].lab, strict=True)) ** 0.5 < 6


@pytest.mark.parametrize("name", ["white-card", "tungsten-light"])
def test_a_card_of_many_swatches_is_none_itself(name):
    """Beside a chart on a table it is the one thing that stands out."""
    with pytest.raises(NoSwatchesError, match="lone swatch") as refused:
        read_lone_swatch(Path(__file__).parents[1] / "samples" / f"{name}.jpg")
    assert refused.value.why == "a card of 18 swatches lies in it"


# --- the whole


@pytest.mark.slow
def test_killed_three_times_and_two_at_once(tmp_path):
    photos = bench.make_photos(tmp_path / "photos", 12, 5, 1600)
    parts = [p for p in photos if not p.name.startswith("bad")], [p for p in photos if p.name.startswith("bad")]
    assert bench.kill_three_times(tmp_path, tmp_path / "photos", parts)[0] == []
    assert bench.two_at_once(tmp_path, tmp_path / "photos", parts)[0] == []
    assert bench.whole(tmp_path, tmp_path / "photos", parts)[0] == []


@pytest.mark.slow
def test_the_judge_sees_a_missing_card_and_a_double(tmp_path):
    photos = bench.make_photos(tmp_path / "photos", 4, 2, 1600)
    parts = [p for p in photos if not p.name.startswith("bad")], [p for p in photos if p.name.startswith("bad")]
    assert bench.whole(tmp_path, tmp_path / "photos", parts)[0] == []
    into, archive = tmp_path / "whole", tmp_path / "whole.sqlite"
    assert bench.judge(into, archive, (*parts[0], Path("more.jpg")), parts[1])
    assert bench.judge(into, archive, parts[0], (*parts[1], Path("more.jpg")))
    next(into.rglob("*.note.json")).unlink()
    assert bench.judge(into, archive, *parts)
