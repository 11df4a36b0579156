"""`swatchread` at the other end of a pipe: terminals that lack letters, output led into files, a full disk, Ctrl-C."""

import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from tests.archive_data import sample_card

START = "from swatchread.cli.main import start; start()"
LATIN = {"LC_ALL": "C", "PYTHONUTF8": "0", "PYTHONCOERCECLOCALE": "0"}  # Python then takes a terminal for ASCII


@pytest.fixture
def note(tmp_path):
    path = tmp_path / "card.note.json"
    sample_card().save(path)
    return path


def typed(*words, **settings):
    return subprocess.run(
        [sys.executable, "-c", START, *map(str, words)], check=False, stderr=subprocess.PIPE, timeout=60, **settings
    )


def test_output_led_into_a_file_is_utf_8_whatever_the_system_speaks(note, tmp_path):
    told = tmp_path / "told.txt"
    with told.open("wb") as file:
        done = typed("note", "show", note, stdout=file, env=os.environ | LATIN)
    assert (done.returncode, done.stderr) == (0, b"")
    assert "±" in told.read_text("utf-8")


@pytest.mark.parametrize("encoding", ["ascii", "latin-1", "cp1252"])
def test_a_letter_that_the_terminal_lacks_ends_no_command(note, encoding):
    done = typed("note", "show", note, stdout=subprocess.PIPE, env=os.environ | {"PYTHONIOENCODING": encoding})
    assert (done.returncode, done.stderr) == (0, b"")
    assert "in ?E00" in done.stdout.decode(encoding)  # Δ is in none of them


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs a device that is always full")
@pytest.mark.parametrize("words", [("note", "show"), ("note", "export", "--as", "csv")])
def test_a_full_disk_under_the_output_is_said(note, words):
    with Path("/dev/full").open("wb") as full:
        done = typed(*words, note, stdout=full)
    assert done.returncode == 1
    told = done.stderr.decode()
    assert told.startswith("The answer could not be written\n  why: ")
    assert "  do:  " in told
    assert "Traceback" not in told
    assert "Exception" not in told


@pytest.mark.skipif(os.name == "nt", reason="there Ctrl-C is no signal that can be sent to one process")
def test_ctrl_c_is_answered():
    # Where tests run in the background, a shell may have told their children to pass over the signal.
    code = "import signal; signal.signal(signal.SIGINT, signal.default_int_handler)\n"
    code += "import time; from swatchread import reading; reading.read_cards = lambda *a, **k: (print(1, flush=True), "
    code += f"time.sleep(30)); {START}"
    process = subprocess.Popen(
        [sys.executable, "-c", code, "read", "card.jpg"], stdout=subprocess.PIPE, stderr=subprocess.PIPE
    )
    assert process.stdout.readline() == b"1\n"
    process.send_signal(signal.SIGINT)
    _, told = process.communicate(timeout=30)
    assert (process.returncode, told) == (130, b"Interrupted.\n")
