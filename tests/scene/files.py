"""Writing scenes to JPEG and PNG files, with EXIF and ICC, and damaging such files."""

from io import BytesIO
from pathlib import Path

import numpy as np
from PIL import Image

from . import icc

# How far the stored picture is turned anticlockwise from the viewed one, by EXIF orientation tag (Exif 2.32, 4.6.4).
_QUARTERS = {1: 0, 3: 2, 6: 1, 8: 3}
TAKEN = "2024:11:16 19:{:02d}:{:02d}"


def stored(pixels, orientation):
    """Turn pixels as viewed into the order in which the file stores them."""
    return np.ascontiguousarray(np.rot90(pixels, _QUARTERS[orientation]))


def _exif(spec):
    exif = Image.Exif()
    exif[274] = spec.exif_orientation
    exif[271], exif[272] = "Invented", f"Simulated {spec.camera}"
    exif[306] = TAKEN.format(spec.seed // 60 % 60, spec.seed % 60)
    details = exif.get_ifd(0x8769)
    details[36867] = exif[306]
    details[34855] = int(spec.iso)
    if spec.custom_rendered:
        details[0xA401] = spec.custom_rendered
    return exif


def save(scene, path):
    """Write the photo as .jpg or .png, stored turned by the spec's EXIF orientation; returns the path."""
    path = Path(path)
    options = {"exif": _exif(scene.spec), "icc_profile": icc.profile(scene.spec.space)}
    if path.suffix == ".jpg":
        options |= {"quality": scene.spec.quality, "subsampling": "4:2:0", "optimize": True}
    Image.fromarray(stored(scene.rgb, scene.spec.exif_orientation)).save(path, **options)
    return path


def _scan(data):
    """Where the entropy-coded data of a JPEG starts: after its first start-of-scan segment (ITU-T T.81, B.2.3)."""
    at = 2
    while data[at + 1] != 0xDA:
        at += 2 + int.from_bytes(data[at + 2 : at + 4], "big")
    return at + 2 + int.from_bytes(data[at + 2 : at + 4], "big")


def _with_turned_bit(data, rng):
    """Turn one bit of the scan, so that no marker comes or goes."""
    first = _scan(data)
    while True:
        at = int(rng.integers(first, len(data) - 2))
        turned = data[at] ^ (1 << int(rng.integers(8)))
        if 0xFF not in (data[at], turned, data[at - 1]):
            return data[:at] + bytes([turned]) + data[at + 1 :]


def damaged(path, how, rng):
    """Write a damaged copy of a JPEG beside it; returns its path.

    Parameters
    ----------
    how : "bit": one bit of the scan is turned; "short": the end is missing; "short tiff": the same photo as an
        uncompressed TIFF whose end is missing.
    """
    path = Path(path)
    out = path.with_name(f"{path.stem}-{how.replace(' ', '-')}{'.tif' if 'tiff' in how else '.jpg'}")
    data = path.read_bytes()
    if how == "short tiff":
        with Image.open(path) as photo, BytesIO() as whole:
            photo.save(whole, "TIFF", icc_profile=photo.info.get("icc_profile"), exif=photo.getexif())
            data = whole.getvalue()
    out.write_bytes(_with_turned_bit(data, rng) if how == "bit" else data[: int(rng.uniform(0.35, 0.98) * len(data))])
    return out
