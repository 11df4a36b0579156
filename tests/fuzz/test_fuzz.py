"""No input may bring anything but a reading or a SwatchreadError, within 10 s and 1.5 GB.

Every input is made from a seed, so that a fault comes again: its bytes stand in the folder that the message names, and
`python -m tests.fuzz.child KIND SEED COUNT` makes them anew.
"""

import io
import json
import os
import signal
import struct
import subprocess
import sys
import zlib
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

from swatchread.errors import PhotoTooLargeError
from tests.fuzz.child import BYTES, SECONDS, _ring, attempt, inputs
from tests.fuzz.corpus import PHOTOS, TEXTS, seeds
from tests.fuzz.mutate import resealed
from tests.fuzz.targets import TARGETS

TOP = Path(__file__).parent.parent.parent
KINDS = sorted({*PHOTOS, *TEXTS})
SLOW_COUNT = 1500

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="memory and time are bounded by POSIX means")


def check(kind, seed, count, folder):
    """Run a child process and judge what it tells."""
    ran = subprocess.run(
        [sys.executable, "-W", "ignore", "-m", "tests.fuzz.child", kind, str(seed), str(count)],
        capture_output=True,
        text=True,
        errors="replace",
        cwd=folder,
        env={**os.environ, "PYTHONPATH": str(TOP), "OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"},
        timeout=1800,
        check=False,
    )
    assert ran.returncode == 0, f"the process died of {folder / 'current'}: {ran.stderr[-1500:]}"
    told = json.loads(ran.stdout.splitlines()[-1])
    assert told["faults"] == [], f"{folder}: {told['faults'][0]['told']}"
    assert sum(told["counts"].values()) == count
    assert told["counts"]["taken"] >= 1  # the whole ones, at least
    assert told["longest"] < SECONDS
    assert told["peak"] < BYTES


@pytest.mark.parametrize("kind", KINDS)
def test_some_damaged_inputs(kind, tmp_path):
    check(kind, 1, 30, tmp_path)


@pytest.mark.slow
@pytest.mark.parametrize("kind", KINDS)
def test_many_damaged_inputs(kind, tmp_path):
    """15 kinds of 1,500: 22,500 inputs."""
    check(kind, 2026, SLOW_COUNT, tmp_path)


def test_every_target_has_inputs():
    assert set(KINDS) == set(TARGETS)


@pytest.mark.parametrize("kind", KINDS)
def test_whole_inputs_are_taken_and_damage_is_damage(kind, tmp_path, monkeypatch):
    """Else nothing would be tested: what stands in the corpus is good, and most of what is made of it differs."""
    monkeypatch.chdir(tmp_path)
    assert attempt(TARGETS[kind], seeds(kind)[0]) == ("taken", "")
    made = list(inputs(kind, 1, 40))
    assert len(set(made)) > 25
    assert made == list(inputs(kind, 1, 40))


def test_a_fault_is_seen(tmp_path, monkeypatch):
    """The known-bad pair: a target that breaks, one that hangs."""
    monkeypatch.chdir(tmp_path)
    assert attempt(lambda _data: 1 / 0, b"")[0] == "fault"
    monkeypatch.setattr("tests.fuzz.child.SECONDS", 0.2)
    before = signal.signal(signal.SIGALRM, _ring)
    try:
        assert attempt(lambda _data: signal.pause(), b"")[0] == "fault"
    finally:
        signal.signal(signal.SIGALRM, before)


TEXT = st.text(st.characters(exclude_categories=()), max_size=60) | st.binary(max_size=60).map(os.fsdecode)


@settings(max_examples=150, deadline=None)
@given(TEXT)
def test_any_text_is_a_recipe_or_a_question(text):
    """From the letters' side, where the corpus comes from the words'."""
    data = text.encode("utf-8", "surrogatepass")
    for kind in ("recipe", "question"):
        outcome, told = attempt(TARGETS[kind], data)
        assert outcome != "fault", told


# --- decompression bombs: told from the header, before a pixel is decoded


def _sized(data, width, height, at):
    return data[:at] + struct.pack(">HH", height, width) + data[at + 4 :]


def bombs():
    jpeg = next(data for data in seeds("jpeg") if b"\xff\xc0" in data)
    png = seeds("png")[0]
    yield "photo.png", resealed(png[:16] + struct.pack(">II", 60_000, 60_000) + png[24:])  # IHDR's width and height
    yield "photo.jpg", _sized(jpeg, 65_000, 65_000, jpeg.index(b"\xff\xc0") + 5)
    small = io.BytesIO()
    Image.new("P", (300, 300)).save(small, "GIF")
    yield "photo.gif", small.getvalue()[:6] + struct.pack("<HH", 65_000, 65_000) + small.getvalue()[10:]
    yield "photo.bmp", b"BM" + struct.pack("<IIIIiiHHIIiiII", 54, 0, 54, 40, 60_000, 60_000, 1, 24, 0, 0, 0, 0, 0, 0)


@pytest.mark.parametrize(("name", "data"), list(bombs()), ids=["png", "jpeg", "gif", "bmp"])
def test_a_bomb_is_refused_before_it_is_decoded(name, data, tmp_path, monkeypatch):
    from swatchread.photo.load import load_photo

    def decode(*_given, **_settings):
        raise AssertionError("decoded")

    monkeypatch.setattr("cv2.imdecode", decode)
    monkeypatch.setattr("PIL.Image.Image.convert", decode)
    path = tmp_path / name
    path.write_bytes(data)
    with pytest.raises(PhotoTooLargeError):
        load_photo(path)


def test_a_text_chunk_that_unpacks_to_much_is_no_way_round_the_caps(tmp_path):
    """A PNG whose profile or text unpacks to 200 MB: refused or passed over, the memory stays small."""
    body = zlib.compress(b"\0" * 200_000_000)
    whole = seeds("png")[1]
    for name in (b"zTXt", b"iCCP"):
        data = b"x\0\0" + body
        chunk = struct.pack(">I", len(data)) + name + data + struct.pack(">I", zlib.crc32(name + data))
        (tmp_path / f"{name.decode()}.png").write_bytes(whole[:33] + chunk + whole[33:])
    code = (
        "import pathlib, sys\nfrom tests.fuzz.child import peak\n"
        "from swatchread.errors import PhotoError\nfrom swatchread.photo.load import load_photo\n"
        "for name in sys.argv[1:]:\n"
        "    try: load_photo(pathlib.Path(name))\n"
        "    except PhotoError as error: print(error)\n"
        "print(peak())\n"
    )
    files = sorted(map(str, tmp_path.glob("*.png")))
    ran = subprocess.run(
        [sys.executable, "-W", "ignore", "-c", code, *files],
        capture_output=True,
        text=True,
        check=True,
        cwd=TOP,
        timeout=60,
    )
    assert int(ran.stdout.splitlines()[-1]) < 200_000_000
