"""Files are written whole or not at all, together where they belong together, and leave nothing else behind."""

import os
import subprocess
import sys

import pytest

from swatchread.errors import OutputError
from swatchread.note import staged_files
from swatchread.note.safe_files import only_writer, readable_name, write_bytes, write_files

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="locks of folders and nameless files are POSIX's")


@pytest.fixture(params=["nameless", "named"])
def way(request, monkeypatch):
    """Write as Linux can, and as the other systems do."""
    if request.param == "named":
        monkeypatch.setattr(staged_files, "_NAMELESS", False)
    elif not staged_files._NAMELESS:
        pytest.skip("this system writes no file without a name")
    return request.param


@pytest.mark.usefixtures("way")
def test_files_take_their_names_whole_and_keep_their_permissions(tmp_path):
    mine, new = tmp_path / "mine", tmp_path / "below" / "new"
    mine.write_bytes(b"old")
    mine.chmod(0o600)
    write_files({mine: b"1" * 100_000, new: b"2"})
    assert (mine.read_bytes(), new.read_bytes()) == (b"1" * 100_000, b"2")
    assert mine.stat().st_mode & 0o777 == 0o600
    mask = os.umask(0)
    os.umask(mask)
    assert new.stat().st_mode & 0o777 == 0o666 & ~mask
    assert sorted(path.name for path in tmp_path.rglob("*")) == ["below", "mine", "new"]


@pytest.mark.usefixtures("way")
def test_where_one_of_them_finds_no_room_none_takes_its_name(tmp_path, monkeypatch):
    (tmp_path / "a").write_bytes(b"old")
    real, written = os.fsync, []

    def full(handle):
        written.append(handle)
        if len(written) == 2:
            raise OSError(28, "No space left on device")
        real(handle)

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(OutputError, match="b could not be written: No space left"):
        write_files({tmp_path / "a": b"new", tmp_path / "b": b"new"})
    assert {path.name: path.read_bytes() for path in tmp_path.iterdir()} == {"a": b"old"}


@pytest.mark.usefixtures("way")
def test_the_longest_names_are_written_too(tmp_path):
    name = "é" * 127 + "x"  # 255 bytes
    write_bytes(tmp_path / name, b"1")
    write_bytes(tmp_path / name, b"2")
    assert (tmp_path / name).read_bytes() == b"2"
    with pytest.raises(OutputError, match="256 bytes"):
        write_bytes(tmp_path / f"{name}y", b"1")


def test_what_a_killed_writer_left_is_removed_by_the_next_but_not_what_one_is_writing(tmp_path, monkeypatch):
    monkeypatch.setattr(staged_files, "_NAMELESS", False)
    target = tmp_path / "card.note.json"
    code = (
        "import os, pathlib, signal, sys\n"
        "from swatchread.note import staged_files\n"
        "staged_files._NAMELESS = False\n"
        "os.fsync = lambda _: os.kill(os.getpid(), signal.SIGKILL)\n"
        "staged_files.Staged(pathlib.Path(sys.argv[1]), b'half')\n"
    )
    subprocess.run([sys.executable, "-c", code, target], check=False)
    (left,) = tmp_path.glob(".*.part")
    with staged_files.Staged(target, b"being written") as other:
        assert not left.exists()
        (current,) = tmp_path.glob(".*.part")
        write_bytes(target, b"meanwhile")
        assert current.exists()
        other.take_name()
    assert [path.name for path in tmp_path.iterdir()] == [target.name]
    assert target.read_bytes() == b"being written"


def test_who_holds_a_folder_holds_it_alone(tmp_path, monkeypatch):
    monkeypatch.setattr("swatchread.note.safe_files._WRITER_SECONDS", 0.1)
    with only_writer(tmp_path), pytest.raises(OutputError, match="another program is writing"), only_writer(tmp_path):
        pass
    with only_writer(tmp_path):
        pass
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    ("name", "readable"), [(b"caf\xe9.jpg", "caf_.jpg"), ("köpfe 赭.jpg".encode(), "köpfe 赭.jpg"), (b"\xff\xfe", "__")]
)
def test_a_name_of_bytes_that_are_no_letters_becomes_readable(name, readable):
    assert readable_name(os.fsdecode(name)) == readable
