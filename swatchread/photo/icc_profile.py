"""ICC profiles of photos: matrix and tone-curve profiles, as cameras and phones write them (ICC.1:2022)."""

from __future__ import annotations

import struct
from functools import cache

import numpy as np

from swatchread.colour.cielab import Floats
from swatchread.photo.encoded_photo import Encoding

SRGB_TO_XYZ_D50: Floats = np.array(
    [[0.4360747, 0.3850649, 0.1430804], [0.2225045, 0.7168786, 0.0606169], [0.0139322, 0.0971045, 0.7141733]]
)
"""Linear sRGB (IEC 61966-2-1) to XYZ, adapted to D50 by linear Bradford."""


class UnreadableProfileError(ValueError):
    """The profile is damaged, or of another kind than matrix and tone curves."""


def srgb_curve(x: Floats) -> Floats:
    """Return linear light of sRGB values, 0 to 1 (IEC 61966-2-1)."""
    return np.where(x <= 0.04045, x / 12.92, ((x + 0.055) / 1.055) ** 2.4)


@cache
def assumed_srgb(levels: int) -> Encoding:
    """Return the encoding of a photo that says nothing: sRGB."""
    curve = srgb_curve(np.linspace(0.0, 1.0, levels)).astype(np.float32)
    return Encoding("assumed sRGB", np.stack([curve] * 3), SRGB_TO_XYZ_D50, tagged=False)


def linear_encoding(*, tagged: bool) -> Encoding:
    """Return the encoding of 16-bit values that are linear light: the sensor's own.

    Parameters
    ----------
    tagged : bool
        Whether the file says so; otherwise its chart told.
    """
    table = np.stack([np.linspace(0.0, 1.0, 65536, dtype=np.float32)] * 3)
    name = "linear" if tagged else "linear, as the chart shows"
    return Encoding(name, table, SRGB_TO_XYZ_D50, tagged=tagged, scene_linear=True)


def encoding_of_profile(data: bytes, levels: int) -> Encoding:
    """Return the encoding that an ICC profile describes.

    Parameters
    ----------
    data : bytes
        The profile as embedded in the photo.
    levels : int
        256 or 65536 stored levels.

    Returns
    -------
    Encoding

    Raises
    ------
    UnreadableProfileError
        If it is damaged or not an RGB matrix and tone-curve profile.
    """
    try:
        tags = _tags(data)
        columns = [_xyz(data, tags[name]) for name in (b"rXYZ", b"gXYZ", b"bXYZ")]
        grid = np.linspace(0.0, 1.0, levels)
        with np.errstate(all="ignore"):  # a damaged curve may overflow; it is judged below
            curves = [_curve(data, tags[name], grid) for name in (b"rTRC", b"gTRC", b"bTRC")]
        name = _description(data, tags) or "unnamed profile"
    except (KeyError, struct.error, IndexError, ValueError, ArithmeticError) as error:
        raise UnreadableProfileError(str(error)) from error
    matrix, table = np.array(columns).T, np.clip(np.stack(curves), -0.1, 4.0)
    if not (np.isfinite(table).all() and np.isfinite(matrix).all() and abs(np.linalg.det(matrix)) > 1e-4):
        raise UnreadableProfileError("its curves or primaries make no sense")
    return Encoding(name, table.astype(np.float32), matrix, tagged=True, icc=data)


def _tags(data: bytes) -> dict[bytes, tuple[int, int]]:
    if len(data) < 132 or data[36:40] != b"acsp" or data[16:20] != b"RGB ":
        raise UnreadableProfileError("not an RGB profile")
    count = struct.unpack_from(">I", data, 128)[0]
    if count > 200:
        raise UnreadableProfileError("damaged tag table")
    table = {}
    for index in range(count):
        signature, offset, size = struct.unpack_from(">4sII", data, 132 + 12 * index)
        table[signature] = (offset, size)
    return table


def _s15(data: bytes, offset: int, count: int) -> Floats:
    return np.array(struct.unpack_from(f">{count}i", data, offset)) / 65536.0


def _xyz(data: bytes, place: tuple[int, int]) -> Floats:
    return _s15(data, place[0] + 8, 3)


def _curve(data: bytes, place: tuple[int, int], x: Floats) -> Floats:
    offset = place[0]
    kind = data[offset : offset + 4]
    if kind == b"curv":
        count = struct.unpack_from(">I", data, offset + 8)[0]
        if count == 0:
            return x
        if count == 1:
            exponent: float = struct.unpack_from(">H", data, offset + 12)[0] / 256.0
            return np.power(x, exponent)
        if count > 65536:
            raise UnreadableProfileError("a tone curve is too long")
        values = np.array(struct.unpack_from(f">{count}H", data, offset + 12)) / 65535.0
        return np.interp(x, np.linspace(0.0, 1.0, count), values)
    if kind == b"para":
        return _parametric(data, offset, x)
    raise UnreadableProfileError("a tone curve is of an unknown kind")


def _parametric(data: bytes, offset: int, x: Floats) -> Floats:
    """Return a parametricCurveType's values (ICC.1:2022, table 68)."""
    function = struct.unpack_from(">H", data, offset + 8)[0]
    count = (1, 3, 4, 5, 7)[function]
    parameters: list[float] = np.pad(_s15(data, offset + 12, count), (0, 7 - count)).tolist()
    g, a, b, c, d, e, f = parameters
    if function == 0:
        return np.power(x, g)
    if function in {1, 2}:
        break_at, low = (-b / a, c)
        return np.where(x >= break_at, np.power(np.maximum(a * x + b, 0.0), g) + low, low)
    return np.where(x >= d, np.power(np.maximum(a * x + b, 0.0), g) + e, c * x + f)


def _description(data: bytes, tags: dict[bytes, tuple[int, int]]) -> str:
    offset, size = tags[b"desc"]
    if data[offset : offset + 4] == b"desc":
        length = struct.unpack_from(">I", data, offset + 8)[0]
        raw = data[offset + 12 : offset + 12 + min(length, 200)]
        return raw.decode("ascii", "replace").strip("\0 ")
    length, start = struct.unpack_from(">II", data, offset + 20)
    raw = data[offset + start : offset + start + min(length, 400, size)]
    return raw.decode("utf-16-be", "replace").strip("\0 ")
