"""Reading on the workers of a cluster: the same report as on one computer, past whatever ends on the way."""

import csv
import os
import signal
import socket
import subprocess
import sys
import time
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path

import pytest

from swatchread import __version__
from swatchread.archive.picture_archive import PictureArchive
from swatchread.archive.store import Archive
from swatchread.batch import cluster_connection, cluster_pool, worker_pool
from swatchread.batch.jobs import Job, Settings, find_jobs
from swatchread.batch.photo_addresses import PhotoAddress
from swatchread.errors import ClusterError, ClusterFolderError, PhotoAddressError
from tests.batch_data import obey, told
from tests.scene import draw, easy_spec, save

distributed = pytest.importorskip("distributed", reason="dask is not installed: no cluster to read on")
fsspec = pytest.importorskip("fsspec", reason="fsspec is not installed: no photos at addresses")

OBEDIENT = "from tests.batch_data import take_over\ntake_over()"


@contextmanager
def cluster_of(workers, **how):
    """Run a scheduler and workers on this computer; without `processes`, in this process."""
    how = {"processes": False, "threads_per_worker": 1, "dashboard_address": ":0", "silence_logs": 50} | how
    with distributed.LocalCluster(n_workers=workers, **how) as cluster:
        yield cluster


@pytest.fixture(scope="module")
def cluster():
    with cluster_of(2) as running:
        yield running


def rows_of(folder):
    with (folder / "read-report.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


# --- the same as on one computer


@pytest.fixture(scope="module")
def photos(tmp_path_factory):
    """Draw a card; beside it lie its copy and what is no photo."""
    folder = tmp_path_factory.mktemp("photos")
    spec = replace(easy_spec(21, (1000, 750)), rows=3, columns=2, missing=0, ground="white")
    card = save(draw(spec), folder / "card.jpg")
    (folder / "copy.jpg").write_bytes(card.read_bytes())
    (folder / "bad.jpg").write_text("no photo", encoding="utf-8")
    return folder


@pytest.fixture(scope="module")
def local(photos, tmp_path_factory):
    """Read them on this computer, in processes of its own."""
    into = tmp_path_factory.mktemp("local")
    command = [sys.executable, "-m", "swatchread", "read", str(photos), "--into", str(into)]
    done = subprocess.run([*command, "--archive", str(into / "a.sqlite")], capture_output=True, check=False)
    assert done.returncode == 1
    return into


def stable(rows):
    """Leave out of a report what differs between two runs and two folders."""
    return [
        {name: text for name, text in row.items() if name not in {"seconds", "note", "photo", "remark"}} for row in rows
    ]


def files_of(folder):
    found = (path.relative_to(folder).as_posix() for path in folder.rglob("*") if path.is_file())
    return {name for name in found if "sqlite" not in name}


def test_a_shared_folder_gives_the_same_report_and_files_as_on_one_computer(cluster, photos, local, tmp_path, typed):
    archive = tmp_path / "a.sqlite"
    words = ("read", photos, "--into", tmp_path / "out", "--archive", archive, "--cluster", cluster.scheduler_address)
    status, out, _ = typed(*words)
    assert (status, "1 read, 1 the same as another, 1 failed" in out) == (1, True)
    assert stable(rows_of(tmp_path / "out")) == stable(rows_of(local))
    assert files_of(tmp_path / "out") == files_of(local)
    status, out, _ = typed(*words)
    assert (status, "1 read before, 1 the same as another, 1 failed" in out) == (1, True)
    with Archive.open(str(archive)) as opened:
        assert len(opened.cards()) == 1


def test_photos_at_an_address_go_into_the_archive_with_their_pictures(
    cluster, photos, local, tmp_path, typed, monkeypatch
):
    """The filesystem in memory stands in for a bucket; workers in this process see it, too."""
    monkeypatch.chdir(tmp_path)
    bucket = fsspec.filesystem("memory")
    for path in photos.iterdir():
        bucket.pipe(f"/bucket/cards/{path.name}", path.read_bytes())
    words = ("read", "memory://bucket/cards", "--archive", tmp_path / "a.sqlite")
    status, out, _ = typed(*words, "--cluster", cluster.scheduler_address)
    assert (status, "1 read, 1 the same as another, 1 failed" in out) == (1, True)
    rows = rows_of(tmp_path)
    assert [row["photo"].rpartition("/")[2] for row in rows] == ["bad.jpg", "card.jpg", "copy.jpg"]
    assert rows[1]["photo"] == "memory:///bucket/cards/card.jpg"
    assert stable(rows) == stable(rows_of(local))
    with PictureArchive.open(str(tmp_path / "a.sqlite")) as own, PictureArchive.open(str(local / "a.sqlite")) as other:
        notes = [archive.card(1).note for archive in (own, other)]
        assert notes[0].model_copy(update={"made": notes[1].made}) == notes[1]
        assert own.pictures.of(1) == other.pictures.of(1) != {}
    assert {path.name for path in tmp_path.iterdir()} == {"a.sqlite", "read-report.csv"}


def test_a_lone_photo_and_a_tree_are_listed_at_an_address(photos):
    bucket = fsspec.filesystem("memory")
    for name in ("a.jpg", "sub/b.png", "sub/b.marked.jpg", ".trash/c.jpg", "text.txt"):
        bucket.pipe(f"/tree/{name}", b"x")
    jobs = find_jobs([PhotoAddress("memory://tree")], Path("out"))
    assert [(str(job.photo), job.folder) for job in jobs] == [
        ("memory:///tree/a.jpg", Path("out")),
        ("memory:///tree/sub/b.png", Path("out/sub")),
    ]
    (job,) = find_jobs([PhotoAddress("memory://tree/text.txt")])
    assert (str(job.photo), job.folder, job.stem) == ("memory:///tree/text.txt", None, "text")
    assert len(find_jobs([PhotoAddress(photos.as_uri())])) == 3


# --- what ends on the way


def test_a_photo_that_kills_its_reader_costs_only_itself(cluster, monkeypatch):
    monkeypatch.setattr(worker_pool, "read_job", obey)
    before = set(cluster.scheduler.workers)
    with cluster_pool.ClusterPool(cluster.scheduler_address, Settings()) as pool:
        found = told(pool, ["one", "kill", "two", "leave", "three"])
    assert {name for name, line in found.items() if line.error} == {"kill", "leave"}
    assert {found[name].error.code for name in ("kill", "leave")} == {"broken_off"}
    assert set(cluster.scheduler.workers) == before


def test_a_worker_that_is_killed_costs_nothing():
    with cluster_of(2, processes=True, preload=OBEDIENT) as running:
        first = next(iter(running.workers.values()))
        with cluster_pool.ClusterPool(running.scheduler_address, Settings()) as pool:
            for number in range(4):
                pool.give(Job(Path(f"slow{number}.jpg"), Path(), f"slow{number}"))
            time.sleep(0.5)
            os.kill(first.process.pid, signal.SIGKILL)
            found = told(pool, ["one", "two"])
    assert len(found) == 6
    assert {line.state for line in found.values()} == {"read"}


def test_a_worker_reads_without_the_setting_of_dask_that_makes_memory_slow():
    with cluster_of(1, processes=True, preload=OBEDIENT) as running:
        (theirs,) = running.get_client().run(lambda: os.environ["MALLOC_TRIM_THRESHOLD_"]).values()
        with cluster_pool.ClusterPool(running.scheduler_address, Settings()) as pool:
            found = told(pool, ["memory"])
    assert theirs.isdigit()
    assert found["memory"].remark == "not set"


@pytest.mark.slow
def test_a_scheduler_that_is_restarted_costs_nothing(tmp_path):
    with socket.socket() as one:
        one.bind(("127.0.0.1", 0))
        port = one.getsockname()[1]

    def started():
        """Start a scheduler and a worker."""
        run = [sys.executable, "-m", "distributed.cli.dask_scheduler", "--port", str(port), "--host", "127.0.0.1"]
        work = [sys.executable, "-m", "distributed.cli.dask_worker", f"127.0.0.1:{port}", "--nthreads", "1"]
        return [
            subprocess.Popen([*command, "--no-dashboard"], stderr=subprocess.DEVNULL, cwd=Path(__file__).parents[1])
            for command in (run, [*work, "--preload", OBEDIENT, "--local-directory", str(tmp_path)])
        ]

    running = started()
    try:
        deadline = time.monotonic() + 60
        while time.monotonic() < deadline:
            try:
                pool = cluster_pool.ClusterPool(f"tcp://127.0.0.1:{port}", Settings())
                break
            except ClusterError:
                time.sleep(0.5)
        with pool:
            for number in range(3):
                pool.give(Job(Path(f"slow{number}.jpg"), Path(), f"slow{number}"))
            for process in running:
                process.kill()
                process.wait()
            running = started()
            found = told(pool, ["one"])
    finally:
        for process in running:
            process.kill()
            process.wait()
    assert set(found) == {"slow0", "slow1", "slow2", "one"}
    assert {line.state for line in found.values()} == {"read"}


# --- what is refused


def closed_address():
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        return f"tcp://127.0.0.1:{free.getsockname()[1]}"


@pytest.mark.parametrize(
    ("address", "status", "said"),
    [
        ("closed", 8, "refused"),
        ("smoke://signal:1", 2, "unknown address scheme"),
        ("studio", 2, "port"),
    ],
)
def test_a_cluster_that_does_not_answer_is_told_at_once(tmp_path, typed, address, status, said):
    (tmp_path / "card.jpg").touch()
    start = time.monotonic()
    asked = closed_address() if address == "closed" else address  # named alike in every process that collects the tests
    code, _, told_why = typed("read", tmp_path, "--cluster", asked)
    assert code == status
    assert [path.name for path in tmp_path.iterdir()] == ["card.jpg"]
    assert "cannot be reached" in told_why
    assert said in told_why
    assert time.monotonic() - start < 2 * cluster_connection.CONNECT_SECONDS


def test_what_listens_and_is_no_scheduler_is_not_waited_for(monkeypatch):
    monkeypatch.setattr(cluster_connection, "CONNECT_SECONDS", 0.5)
    with socket.create_server(("127.0.0.1", 0)) as silent, pytest.raises(ClusterError, match="cannot be reached"):
        cluster_connection.connected(f"tcp://127.0.0.1:{silent.getsockname()[1]}")


def test_without_dask_the_extra_is_named(tmp_path, typed, monkeypatch):
    (tmp_path / "card.jpg").touch()
    monkeypatch.setitem(sys.modules, "distributed", None)
    code, _, told_why = typed("read", tmp_path, "--cluster", "tcp://studio:8786")
    assert (code, "swatchread[cluster]" in told_why) == (2, True)


@pytest.mark.parametrize("theirs", ["0.0.9", None])
def test_a_worker_of_another_version_or_without_swatchread_is_refused(cluster, tmp_path, typed, monkeypatch, theirs):
    import importlib.metadata

    def version(name):
        if theirs is None:
            raise importlib.metadata.PackageNotFoundError(name)
        return theirs

    (tmp_path / "card.jpg").touch()
    monkeypatch.setattr(importlib.metadata, "version", version)
    code, _, told_why = typed("read", tmp_path, "--cluster", cluster.scheduler_address)
    assert code == 8
    assert (f"swatchread {theirs}" if theirs else "no swatchread") in told_why
    assert __version__ in told_why


def test_a_worker_of_another_version_that_joins_later_reads_nothing(cluster, monkeypatch):
    from swatchread.batch import cluster_worker

    with cluster_pool.ClusterPool(cluster.scheduler_address, Settings()) as pool:
        monkeypatch.setattr(cluster_worker, "__version__", "0.0.9")
        with pytest.raises(ClusterError, match="cannot take part") as refused:
            told(pool, ["one"])
    assert refused.value.code == "cluster_worker"


def test_a_cluster_without_workers_is_given_up(monkeypatch):
    monkeypatch.setattr(cluster_pool, "LOST_SECONDS", 1.0)
    monkeypatch.setattr(cluster_pool, "_LOOK_SECONDS", 0.2)
    with (
        cluster_of(0) as empty,
        cluster_pool.ClusterPool(empty.scheduler_address, Settings()) as pool,
        pytest.raises(ClusterError, match="no workers"),
    ):
        told(pool, ["one"])


def test_a_folder_that_is_not_shared_is_told(cluster, monkeypatch):
    """The worker says that it wrote a note, and none is there."""
    monkeypatch.setattr(cluster_pool, "_VISIBLE_SECONDS", 0.0)
    monkeypatch.setattr(worker_pool, "read_job", elsewhere)
    with (
        cluster_pool.ClusterPool(cluster.scheduler_address, Settings()) as pool,
        pytest.raises(ClusterFolderError, match="not the one that the workers see"),
    ):
        told(pool, ["one"])


def elsewhere(job, settings):
    return tuple(replace(line, note=job.folder / "one.note.json") for line in obey(job, settings))


def test_an_address_of_an_unknown_kind_is_refused():
    with pytest.raises(PhotoAddressError, match="smoke"):
        find_jobs([PhotoAddress("smoke://signal/cards")])


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["s3://bucket/cards"], "--cluster"),
        (["s3://bucket/cards", "--cluster", "tcp://studio:8786"], "--archive"),
        (["a.jpg", "b.jpg", "--same-card", "--cluster", "tcp://studio:8786"], "--same-card"),
        (["a.jpg", "--grid", "6x3", "--cluster", "tcp://studio:8786"], "--grid"),
    ],
)
def test_what_does_not_go_together_is_refused_before_a_photo_is_read(typed, words, said):
    code, _, told_why = typed("read", *words)
    assert (code, said in told_why) == (2, True)
