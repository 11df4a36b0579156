"""ICC profiles: sRGB from Pillow, Display P3 and opRGB written here by ICC.1:2010 (matrix/TRC display profiles)."""

import struct
from functools import cache

import numpy as np
from PIL import ImageCms

from .camera import adaptation, rgb_to_xyz

_DATE = (2024, 1, 1, 0, 0, 0)
_D50_PCS = (0.9642, 1.0, 0.8249)  # ICC.1:2010, 7.2.16


def _s15(values):
    """s15Fixed16 numbers."""
    return b"".join(struct.pack(">i", round(float(v) * 65536)) for v in np.ravel(values))


def _text(words):
    """MultiLocalizedUnicodeType with one English string."""
    text = words.encode("utf-16-be")
    return b"mluc\0\0\0\0" + struct.pack(">II2s2sII", 1, 12, b"en", b"GB", len(text), 28) + text


def _curve(space):
    """parametricCurveType: IEC 61966-2-1 (type 3), or the 563/256 power of opRGB (type 0)."""
    if space == "opRGB":
        return b"para\0\0\0\0" + struct.pack(">HH", 0, 0) + _s15([563 / 256])
    return b"para\0\0\0\0" + struct.pack(">HH", 3, 0) + _s15([2.4, 1 / 1.055, 0.055 / 1.055, 1 / 12.92, 0.04045])


@cache
def profile(space):
    """Profile bytes of "sRGB", "Display P3" or "opRGB"."""
    if space == "sRGB":
        made = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
        # The date in its header (bytes 24…35) is the moment of making: fixed, so that the same scene is the same file.
        return made[:24] + struct.pack(">6H", *_DATE) + made[36:]
    to_xyz = rgb_to_xyz(space)
    adapt = adaptation(to_xyz.sum(axis=1), _D50_PCS)
    columns = (adapt @ to_xyz).T
    curve = _curve(space)
    tags = {
        b"desc": _text(space),
        b"cprt": _text("Public domain"),
        b"wtpt": b"XYZ \0\0\0\0" + _s15(_D50_PCS),
        b"chad": b"sf32\0\0\0\0" + _s15(adapt),
        **{n: b"XYZ \0\0\0\0" + _s15(c) for n, c in zip((b"rXYZ", b"gXYZ", b"bXYZ"), columns, strict=True)},
        **dict.fromkeys((b"rTRC", b"gTRC", b"bTRC"), curve),
    }
    offset, index, body, places = 132 + 12 * len(tags), b"", b"", {}
    for name, data in tags.items():
        if data not in places:
            places[data] = offset + len(body)
            body += data + b"\0" * (-len(data) % 4)
        index += name + struct.pack(">II", places[data], len(data))
    size = offset + len(body)
    header = struct.pack(">I4sI4s4s4s", size, b"\0\0\0\0", 0x04000000, b"mntr", b"RGB ", b"XYZ ")
    header += struct.pack(">6H", *_DATE) + b"acsp" + b"\0" * 28 + _s15(_D50_PCS)
    header += b"\0" * (128 - len(header))
    return header + struct.pack(">I", len(tags)) + index + body
