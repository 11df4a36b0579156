"""`swatchread open` and `note fill`: what they print, how they end, and the starter on the desktop."""

import os
import shlex
import signal
import subprocess
import sys

import pytest

from swatchread.cli.shortcut import write_shortcut
from swatchread.errors import NoteError, OutputError, PhotoError, UsageError
from swatchread.note.model import load_note
from tests.archive_data import sample_card
from tests.page_server import get, page, post
from tests.program import invoke


@pytest.fixture
def start(tmp_path):
    """Start a command that serves the page; give its process and the first line that it prints."""
    # Where tests run in the background, a shell may have told their children to pass over the signal.
    code = "import signal; signal.signal(signal.SIGINT, signal.default_int_handler)\n"
    code += "from swatchread.cli.main import run\nif __name__ == '__main__': run()"
    script = tmp_path / "program.py"
    script.write_text(code)
    running = []

    def begin(*words):
        line = [
            sys.executable,
            "-u",
            str(script),
            *map(str, words),
            "--no-browser",
            "--archive",
            str(tmp_path / "a.sqlite"),
        ]
        running.append(subprocess.Popen(line, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True))
        return running[-1], running[-1].stdout.readline().strip()

    yield begin
    for process in running:
        process.kill()
        process.communicate()


def end(process):
    process.send_signal(signal.SIGINT)
    return process.communicate(timeout=30)


def test_the_address_is_all_that_is_printed_and_ctrl_c_ends_it(start):
    process, address = start("open")
    assert address.startswith("http://127.0.0.1:")
    assert get(address + "cards")[0] == 200
    out, errors = end(process)
    assert process.returncode == 0
    assert out == ""
    assert "Ctrl-C" in errors
    assert "Traceback" not in errors


def test_a_note_is_opened_and_what_is_typed_stands_in_its_file(start, tmp_path):
    path = tmp_path / "card.note.json"
    sample_card(1).save(path)
    for words in (("open", path), ("note", "fill", path)):
        process, address = start(*words)
        assert page(address + "cards/1").count("data-swatch=") == 12
        was = load_note(path).swatch("r1c1").recipe
        typed = {"swatch": "r1c1", "field": "recipe", "text": f"{len(words)} umber", "was": was}
        assert post(address + "cards/1/words", typed)["remark"] == ""
        assert load_note(path).swatch("r1c1").recipe == f"{len(words)} umber"
        _, errors = end(process)
        assert f"{address}cards/1" in errors


@pytest.mark.parametrize(
    ("name", "content", "error"),
    [("gone.jpg", None, PhotoError), ("text.jpg", "text", PhotoError), ("card.note.json", "{}", NoteError)],
)
def test_what_cannot_be_opened_says_why_before_anything_is_served(tmp_path, name, content, error):
    if content is not None:
        (tmp_path / name).write_text(content)
    with pytest.raises(error) as caught:
        invoke("open", tmp_path / name, "--no-browser", "--archive", tmp_path / "a.sqlite")
    assert caught.value.remedy


def test_a_port_that_is_taken_is_refused(tmp_path):
    import socket

    with socket.create_server(("127.0.0.1", 0)) as taken:
        port = taken.getsockname()[1]
        with pytest.raises(UsageError, match="Port") as caught:
            invoke("open", "--port", port, "--no-browser", "--archive", tmp_path / "a.sqlite")
    assert "--port" in caught.value.remedy


@pytest.mark.parametrize(("platform", "suffix"), [("linux", ".desktop"), ("darwin", ".command"), ("win32", ".bat")])
def test_a_starter_starts_this_program(tmp_path, monkeypatch, platform, suffix):
    odd = "/opt/my $tools/py 'th\"on`"
    monkeypatch.setattr(sys, "executable", odd)
    path = write_shortcut(tmp_path, platform)
    assert path.suffix == suffix
    text = path.read_text()
    assert "-m swatchread open" in text
    if platform == "darwin":
        assert os.access(path, os.X_OK)
        assert shlex.split(text.splitlines()[1])[1] == odd  # as a shell reads it
    if platform == "linux":
        value = next(line for line in text.splitlines() if line.startswith("Exec=")).removeprefix("Exec=")
        # Desktop Entry Specification 1.5: a string's escapes are undone first, then those within quotes.
        quoted = value.replace("\\\\", "\\").replace("%%", "%").removesuffix(" -m swatchread open")[1:-1]
        undone, letters = "", iter(quoted)
        for letter in letters:
            undone += next(letters) if letter == "\\" else letter
        assert undone == odd


def test_a_desktop_that_is_not_there_is_told(tmp_path):
    (tmp_path / "file").write_text("")
    with pytest.raises(OutputError) as caught:
        write_shortcut(tmp_path / "file")
    assert caught.value.remedy
