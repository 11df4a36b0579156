"""Each command line that the README shows is understood as it stands: commands, options, what must be given."""

import json
import re
import shlex
from pathlib import Path

import colour
import cv2
import numpy as np
import pytest
import typer.main

from swatchread.cli.main import app
from swatchread.cli.reading_request import ReadingRequest
from swatchread.reading import read_card

TOP = Path(__file__).parent.parent
README = (TOP / "README.md").read_text("utf-8")
SHOWN = [found.strip() for found in re.findall(r"^ {4}swatchread ([^#\n]+)", README, re.MULTILINE)]
UsageError = typer.BadParameter.__base__


def understand(line):
    """Parse a line down to the command that would run, which does not run; raises if it makes no sense."""
    words = shlex.split(line, comments=True)
    command = typer.main.get_command(app)
    name = "swatchread"
    while commands := getattr(command, "commands", None):
        name = words.pop(0)
        command = commands[name]
    return command.make_context(name, words)


def test_all_examples_are_met():
    assert len(SHOWN) >= 30
    shown = {"open", "read", "chart", "note", "archive", "compare", "doubts", "tubes", "plan", "mix"}
    assert {line.split()[0] for line in SHOWN} == shown


@pytest.mark.parametrize("line", SHOWN)
def test_an_example_is_understood(line):
    assert understand(line).params


def test_the_first_line_reads_a_photo_that_is_there():
    (line,) = re.findall(r"^ {4}python3 -m venv .*pip install \. && \.venv/bin/swatchread (.+)$", README, re.MULTILINE)
    (photo,) = understand(line).params["photos"]
    assert (TOP / photo).is_file()


@pytest.mark.parametrize(
    "line", ["note export", "note export a.note.json --inot x", "chart learn a.jpg", "plan --steps 99"]
)
def test_what_makes_no_sense_is_not_understood(line):
    with pytest.raises(UsageError):
        understand(line)


def hints_of(line):
    return ReadingRequest(**understand(line).params).hints()


def test_corners_and_grids_are_understood_by_what_reads_them():
    hints = [hints_of(line) for line in SHOWN if line.startswith("read ")]
    for name in ("grid", "card", "chart"):
        assert any(getattr(hint, name) is not None for hint in hints)


@pytest.mark.parametrize("line", [line for line in SHOWN if line.startswith("read samples/")])
def test_what_is_pointed_at_in_a_sample_photo_is_there(line):
    """Each swatch stands where the simulator painted it, and has its colour; the truth is the sample's own."""
    given = understand(line).params
    (photo,) = (TOP / path for path in given["photos"])
    truth = json.loads(photo.with_suffix(".truth.json").read_text("utf-8"))
    note = read_card(photo, pointed=hints_of(line)).note
    assert note.warnings == ()
    true = {swatch["id"]: swatch for swatch in truth["swatches"]}
    assert {swatch.id for swatch in note.swatches} == set(true)
    for swatch in note.swatches:
        own = true[swatch.id]
        assert cv2.pointPolygonTest(np.array(swatch.outline, np.float32), own["centre_px"], measureDist=False) > 0
        # Four times the uncertainty is beyond any honest reading's error.
        assert colour.delta_E(own["lab"], swatch.lab, method="CIE 2000") < 4 * swatch.uncertainty.de00
