"""5,000 cards with 100,000 swatches: the page Find answers while a slider moves.

Run alone for the figures: ``pytest -m slow -n0 -s tests/test_page_find_large.py``.
"""

from __future__ import annotations

import time
import urllib.parse
import urllib.request

import numpy as np
import pytest

from swatchread.archive.picture_archive import PictureArchive
from tests.archive_data import sample_card
from tests.page_server import get, served

pytestmark = pytest.mark.slow

CARDS, ROWS, COLUMNS = 5000, 10, 2
MOST_SECONDS = 0.15
"""What the design asks of a question in the running server, on an idle machine."""
RUNS = 15

QUESTIONS = {
    "everything": {},
    "a box": {"value-from": 4.0, "value-to": 6.0, "warmth-from": 0.2, "warmth-to": 0.6},
    "near a colour": {"near": "60 18 29", "within": 6},
    "near a chip": {"near": "40:r1c1", "within": 6},
    "with a tube": {"with": "viridian", "value-from": 3.0},
    "without a tube": {"without": "viridian"},
    "a sitter": {"sitter": "K"},
    "words": {"words": "evening 77"},
}


@pytest.fixture(scope="module")
def server(tmp_path_factory):
    path = tmp_path_factory.mktemp("large") / "archive.sqlite"
    with PictureArchive.open(str(path)) as archive:
        for first in range(0, CARDS, 50):
            archive.add_all(
                (sample_card(seed, ROWS, COLUMNS, munsell=False), None) for seed in range(first, first + 50)
            )
    with served(path) as running:
        yield running


def asked(server, name, moved=0.0):
    """Ask a question, with its slider moved on; return the seconds of the clock and of the processor."""
    question = {key: value + moved if key == "value-from" else value for key, value in QUESTIONS[name].items()}
    address = f"{server.address}find/answer?{urllib.parse.urlencode(question)}"
    begun, worked = time.perf_counter(), time.process_time()
    assert get(address)[0] == 200
    return time.perf_counter() - begun, time.process_time() - worked


def test_all_points_are_sent_at_once(server):
    with urllib.request.urlopen(f"{server.address}find/points", timeout=120) as sent:  # 2.5 s of processor time, once
        assert len(sent.read()) == 4 + CARDS * ROWS * COLUMNS * 19


@pytest.mark.parametrize("name", QUESTIONS)
def test_nobody_waits_for_an_answer(server, name):
    # Processor time: server and asker share this process, and other programs on the machine don't count.
    first = asked(server, name)
    every = np.array([asked(server, name, moved=0.01 * k) for k in range(RUNS)])
    wall, work = np.median(every, axis=0)
    print(f"{name}: first {first[1]:.3f} s, then {work:.3f} s of processor time, {wall:.3f} s by the clock")
    assert work < MOST_SECONDS
