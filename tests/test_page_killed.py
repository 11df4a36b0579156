"""The page's program killed at random moments, and many photos at once: what was acknowledged is there afterwards."""

import io
import json
import os
import signal
import subprocess
import sys
import threading
import time
from http.client import HTTPException
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from swatchread.archive.picture_archive import PictureArchive
from swatchread.page.inbox import Inbox
from tests.page_server import get, page, post, read_card_of, served, settled, upload
from tests.scene import SceneSpec

pytestmark = pytest.mark.slow

SPEC = SceneSpec(seed=11, width=1000, height=750, rows=3, columns=3, chart_fraction=0.36)
KILLS = int(os.environ.get("SWATCHREAD_TEST_KILLS", "200"))
MOST_MEMORY = 1024 * 2**20
"""Bytes of the whole program, its readers included, with 50 photos at once (the issue's own limit)."""


def start(archive):
    words = [sys.executable, "-m", "swatchread", "open", "--no-browser", "--archive", str(archive)]
    process = subprocess.Popen(
        words, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True, start_new_session=True
    )
    return process, process.stdout.readline().strip()


def kill(process):
    """Kill the program alone; its readers have to notice."""
    process.send_signal(signal.SIGKILL)
    process.wait(20)
    process.stdout.close()


def children_of(process):
    """Return the processes of a program's session that are alive, as folders of /proc."""
    found = []
    for folder in Path("/proc").iterdir():
        if folder.name.isdigit():
            try:
                fields = (folder / "stat").read_text("ascii", "replace").rsplit(")", 1)[1].split()
            except OSError:  # it has just ended
                continue
            if int(fields[3]) == process.pid and fields[0] not in {"Z", "X"}:
                found.append(folder)
    return found


def memory_of(processes):
    """Return the bytes that processes hold; what several share is counted once in all (proportional set size)."""
    total = 0
    for folder in processes:
        try:
            lines = (folder / "smaps_rollup").read_text("ascii").splitlines()
        except OSError:
            continue
        total += sum(int(line.split()[1]) * 1024 for line in lines if line.startswith("Pss:"))
    return total


def noise(seed):
    pixels = np.random.default_rng(seed).integers(0, 255, (220, 240, 3), dtype=np.uint8)
    file = io.BytesIO()
    Image.fromarray(pixels).save(file, "JPEG")
    return file.getvalue()


class Painter(threading.Thread):
    """Types, uploads and corrects until the program is gone; remembers what was acknowledged."""

    def __init__(self, address, card, seed):
        super().__init__()
        self.address, self.card, self.rng = address, card, np.random.default_rng(seed)
        self.typed, self.on_its_way, self.photos = {}, set(), set()

    def run(self):
        try:
            while True:
                (self.type, self.type, self.send, self.correct)[self.rng.integers(4)]()
        except (OSError, HTTPException, json.JSONDecodeError):
            pass  # the program is gone

    def type(self):
        swatch = "r{}c{}".format(*self.rng.integers(1, 4, 2))
        text = f"{self.rng.integers(1, 10**9)} white"
        was = self.typed.get(swatch, "")
        self.on_its_way = {(swatch, text)}
        post(f"{self.address}cards/{self.card}/words", {"swatch": swatch, "field": "recipe", "text": text, "was": was})
        self.typed[swatch] = text
        self.on_its_way = set()

    def send(self):
        from tests.page_server import form

        body, kind = form(("noise.jpg", noise(self.rng.integers(10**9))))
        self.photos.add(post(self.address + "photos", body, **{"Content-Type": kind})["photos"][0]["id"])

    def correct(self):
        edition = int(page(f"{self.address}cards/{self.card}").partition('data-edition="')[2].partition('"')[0])
        data = {"edition": edition, "hints": {"removed": [], "accept_poor": bool(self.rng.integers(2))}}
        post(f"{self.address}cards/{self.card}/correct", data)


def test_nothing_acknowledged_is_lost_when_the_program_is_killed(tmp_path, photograph):
    archive = tmp_path / "archive.sqlite"
    path, _ = photograph(SPEC)
    with served(archive) as server:
        card = read_card_of(server, path)
    rng, typed, photos = np.random.default_rng(7), {}, set()
    for round_ in range(KILLS):
        process, address = start(archive)
        painter = Painter(address, card, round_)
        painter.typed = dict(typed)
        painter.start()
        time.sleep(rng.uniform(0.0, 1.5))
        family = children_of(process)
        kill(process)
        painter.join(30)
        assert not painter.is_alive()
        photos |= painter.photos
        with PictureArchive.open(str(archive)) as opened:
            assert opened.check() == ()
            note = opened.card(card).note
            now = {swatch.id: swatch.recipe for swatch in note.swatches if swatch.recipe}
            # What was on its way may have arrived or not.
            for swatch, text in painter.typed.items():
                assert now[swatch] == text or (swatch, now[swatch]) in painter.on_its_way, round_
            typed = now
            inbox = Inbox(opened.photo_folder)
            assert {one.id for one in inbox} >= photos
            assert all(inbox.photo(one).read_bytes() for one in photos)
        end = time.monotonic() + 30
        while any(one.exists() for one in family) and children_of(process):
            assert time.monotonic() < end, "readers outlive the program"
            time.sleep(0.1)
    assert len(photos) > KILLS // 10


def test_fifty_photos_at_once_are_all_read_and_the_page_answers_meanwhile(tmp_path, photograph):
    specs = [SceneSpec(seed=300 + k, width=1000, height=750, rows=3, columns=3, chart_fraction=0.36) for k in range(5)]
    data = [photograph(spec)[0].read_bytes() for spec in specs]
    # Ten files of each: bytes after a picture's end belong to no picture, and make another file of it.
    files = [(f"{k}.jpg", data[k % 5] + str(k).encode()) for k in range(50)]
    process, address = start(tmp_path / "archive.sqlite")
    server = type("Server", (), {"address": address})
    try:
        taken, slowest, most = [], 0.0, 0
        senders = [threading.Thread(target=lambda file=file: taken.extend(upload(server, file))) for file in files]
        for sender in senders:
            sender.start()
        end = time.monotonic() + 400
        while time.monotonic() < end:
            asked = time.monotonic()
            text = page(address + "cards")
            slowest = max(slowest, time.monotonic() - asked)
            most = max(most, memory_of(children_of(process)))
            if text.count("data-card=") >= 48 and "data-waiting" not in text:
                break
            time.sleep(0.2)
        for sender in senders:
            sender.join()
        assert len({one["id"] for one in taken}) == 50
        states = [settled(server, one["id"])["state"] for one in taken]
        print(f"slowest answer {slowest:.2f} s, most memory {most / 2**20:.0f} MiB")
        assert states.count("waiting") == 0
        assert states.count("read") >= 45
        assert most < MOST_MEMORY
        assert slowest < 3.0  # a person waits; the machine is busy reading
        assert get(address + "cards")[0] == 200
    finally:
        kill(process)
