"""Writing scenes to JPEG and PNG files, with EXIF and ICC."""

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
    return exif


def save(scene, path):
    """Write the photo as .jpg or .png, stored turned by the spec's EXIF orientation; returns the path."""
    path = Path(path)
    options = {"exif": _exif(scene.spec), "icc_profile": icc.profile(scene.spec.space)}
    if path.suffix == ".jpg":
        options |= {"quality": scene.spec.quality, "subsampling": "4:2:0", "optimize": True}
    Image.fromarray(stored(scene.rgb, scene.spec.exif_orientation)).save(path, **options)
    return path
