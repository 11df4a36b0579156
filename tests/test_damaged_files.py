"""Files whose data are damaged although they can be decoded: what Pillow shows of them is the truth."""

import io
from dataclasses import replace

import numpy as np
import pytest
from PIL import Image, ImageFile

from swatchread.errors import PhotoError
from swatchread.note.card_warnings import chart_warnings
from swatchread.photo import load_photo
from swatchread.photo.jpeg_decoding import seam
from tests.scene import SceneSpec

SPEC = SceneSpec(seed=61, width=1000, height=750, rows=3, columns=3, chart_fraction=0.36)
#: The decoded picture is spoilt if a part of it, 1 to 97 %, is off by 4 of 255 levels, averaged over 16 x 16 pixels.
#: Where the very first block is wrong all others are shifted with it, chart and card alike, and nothing shows that.
BLOCK, WRONG, LEAST, MOST = 16, 4.0, 0.01, 0.97


def jpeg(pixels, **settings):
    file = io.BytesIO()
    Image.fromarray(pixels).save(file, "JPEG", quality=90, **settings)
    return file.getvalue()


def shown(data):
    """Return what Pillow makes of a file, damaged or not, block by block."""
    picture = np.asarray(Image.open(io.BytesIO(data)).convert("RGB")).astype(float)
    high, wide = (side // BLOCK for side in picture.shape[:2])
    return picture[: high * BLOCK, : wide * BLOCK].reshape(high, BLOCK, wide, BLOCK, 3).mean(axis=(1, 3))


def heard(path):
    """Tell whether a file is refused or said to be damaged."""
    try:
        return bool(load_photo(path).damage)
    except PhotoError:
        return True


@pytest.mark.parametrize("settings", [{"subsampling": 2}, {"subsampling": 0}, {"subsampling": 2, "progressive": True}],
                         ids=["4:2:0", "4:4:4", "progressive"])  # fmt: skip
def test_one_wrong_bit_that_spoils_a_jpeg_is_heard_and_a_whole_file_is_not(photograph, tmp_path, monkeypatch, settings):
    monkeypatch.setattr(ImageFile, "LOAD_TRUNCATED_IMAGES", True)
    data = jpeg(np.asarray(Image.open(photograph(SPEC)[0]).convert("RGB")), **settings)
    path, rng, whole = tmp_path / "photo.jpg", np.random.default_rng(8), shown(data)
    path.write_bytes(data)
    assert not load_photo(path).damage
    begin, spoilt, unheard = data.find(b"\xff\xda"), 0, 0
    for _ in range(60):
        damaged = bytearray(data)
        damaged[rng.integers(begin + 20, len(data) - 2)] ^= 1 << int(rng.integers(8))
        try:
            off = np.abs(shown(bytes(damaged)) - whole).max(axis=-1)
        except OSError:
            continue  # Pillow refuses it
        if LEAST < (off > WRONG).mean() < MOST:
            path.write_bytes(damaged)
            spoilt, unheard = spoilt + 1, unheard + (not heard(path))
    assert spoilt >= 10
    assert unheard <= 0.05 * spoilt


@pytest.mark.parametrize("name", ["jpg", "png", "tif", "webp"])
def test_a_file_with_a_part_missing_is_refused(photograph, tmp_path, name):
    """A piece of 4 KiB is lost from the middle, as on a failing memory card; the end is there."""
    file = io.BytesIO()
    kind = {"jpg": "JPEG", "tif": "TIFF"}.get(name, name.upper())
    extra = {"compression": "tiff_deflate"} if name == "tif" else {}
    Image.open(photograph(SPEC)[0]).convert("RGB").save(file, kind, **extra)
    data = file.getvalue()
    path = tmp_path / f"photo.{name}"
    path.write_bytes(data[: len(data) // 2] + data[len(data) // 2 + 4096 :])
    assert heard(path)


def test_a_wrong_bit_in_a_deflated_tiff_is_refused(photograph, tmp_path):
    file, path = io.BytesIO(), tmp_path / "photo.tif"
    Image.open(photograph(SPEC)[0]).convert("RGB").save(file, "TIFF", compression="tiff_deflate")
    path.write_bytes(file.getvalue())
    assert load_photo(path).damage == ""
    damaged = bytearray(file.getvalue())
    damaged[len(damaged) // 2] ^= 4
    path.write_bytes(damaged)
    with pytest.raises(PhotoError, match="damaged"):
        load_photo(path)


def test_bytes_behind_a_whole_picture_are_reported_and_the_photo_is_read(photograph, tmp_path):
    """Some cameras pad the data, so the photo is read, and what the decoder says is handed on."""
    data, path = jpeg(np.asarray(Image.open(photograph(SPEC)[0]).convert("RGB"))), tmp_path / "photo.jpg"
    path.write_bytes(data[:-2] + b"\x11" * 40 + data[-2:])
    photo = load_photo(path)
    assert "extraneous" in photo.damage
    assert np.abs(photo.pixels.astype(int) - np.asarray(Image.open(io.BytesIO(data)))).mean() < 1.0


def test_an_edge_across_the_whole_photo_is_no_seam():
    """The rim of a table runs level, exactly on a row of blocks, as blurred as the sharpest lens leaves it."""
    rng = np.random.default_rng(4)
    y = np.arange(480)[:, None]
    blurred = 90.0 + 80.0 / (1.0 + np.exp(-(y - 239.5 - np.linspace(0, 6, 640)) / 0.5))
    picture = np.clip(blurred[..., None] + rng.normal(0, 3, (480, 640, 3)), 0, 255).astype(np.uint8)
    assert seam(picture, 16)[0] < 0.8
    shifted = picture.copy()
    shifted[320:] += 5
    assert seam(shifted, 16)[1] == 320


def test_a_note_says_that_its_photo_is_damaged(reading):
    told = reading(SPEC)[0].calibration
    assert "photo_damaged" not in {w.code for w in chart_warnings(told)}
    photo = replace(told.find.photo, damage="the decoder reports 40 extraneous bytes")
    hurt = replace(told, sample=replace(told.sample, find=replace(told.find, photo=photo)))
    warned = [w for w in chart_warnings(hurt) if w.code == "photo_damaged"]
    assert len(warned) == 1
    assert "40 extraneous bytes" in warned[0].message
