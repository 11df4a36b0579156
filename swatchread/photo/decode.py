"""Decoding: from the bytes of a file to stored pixels."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from swatchread.errors import GreyPhotoError, PhotoError
from swatchread.photo import opencv as cv2
from swatchread.photo.encoded_photo import Pixels

if TYPE_CHECKING:
    from PIL import Image

_JPEG = frozenset({"JPEG", "MPO"})
"""JPEG files, and those that hold several pictures, of which the first is read."""

_PILLOW_ONLY = frozenset({"HEIF", "AVIF", "GIF"})
"""Formats that OpenCV does not decode, or turns by itself."""


def decoded(data: bytes, kind: str, opened: Image.Image | None, path: Path) -> Pixels:
    """Decode a photo that is not raw, all of it, as stored: neither turned nor changed in its encoding.

    Parameters
    ----------
    data : bytes
        The whole file.
    kind : str
        Its format, by the name that Pillow has for it.
    opened : PIL.Image.Image or None
        The same file opened by Pillow, its size within the caps.
    path : pathlib.Path

    Returns
    -------
    ndarray, shape (height, width, 3), uint8 or uint16
        RGB; a TIFF is turned already.

    Raises
    ------
    PhotoError
        If it is cut short or damaged.
    GreyPhotoError
        If it has a single channel.
    """
    if kind in _JPEG and not _jpeg_is_whole(data):
        raise PhotoError(f"{path.name} is cut short", "the end of the picture is missing", "Copy it again")
    pixels = None if kind in _PILLOW_ONLY else _decode_by_opencv(data, path, kind)
    if pixels is None:
        pixels = _decode_by_pillow(opened, path)
    if pixels.ndim == 2 or pixels.shape[2] == 1:
        raise GreyPhotoError(f"{path.name} holds no colour", "it is a black-and-white picture")
    return pixels


def _decode_by_opencv(data: bytes, path: Path, kind: str) -> Pixels | None:
    # A turned 16-bit TIFF comes out as noise when OpenCV also has to reorder its channels.
    tiff = kind == "TIFF"
    flags = cv2.IMREAD_IGNORE_ORIENTATION | cv2.IMREAD_COLOR_RGB | cv2.IMREAD_ANYDEPTH
    if tiff:
        flags = cv2.IMREAD_UNCHANGED
    try:
        image = cv2.imdecode(np.frombuffer(data, np.uint8), flags)
    except cv2.error as error:
        raise PhotoError(f"{path.name} is damaged", "its pixels cannot be decoded") from error
    if image is None or image.dtype not in (np.uint8, np.uint16):
        return None
    if tiff and image.ndim == 3 and image.shape[2] >= 3:
        image = image[..., 2::-1]
    return np.ascontiguousarray(image)  # type: ignore[return-value]


def _decode_by_pillow(opened: Image.Image | None, path: Path) -> Pixels:
    if opened is None:
        raise PhotoError(f"{path.name} is damaged", "its pixels cannot be decoded")
    try:
        return np.asarray(opened.convert("RGB"))
    except Exception as error:  # decoders raise anything on damaged files
        raise PhotoError(f"{path.name} is damaged", f"its pixels cannot be decoded ({error})") from error


def _jpeg_is_whole(data: bytes) -> bool:
    """Tell whether the first picture in a JPEG file reaches its end-of-image marker (ISO/IEC 10918-1, B.1)."""
    place = 2
    while place + 4 <= len(data) and data[place] == 0xFF:
        marker = data[place + 1]
        length = int.from_bytes(data[place + 2 : place + 4], "big")
        if marker == 0xDA:
            # In entropy-coded data 0xFF is always followed by 0 or a restart marker.
            return data.find(b"\xff\xd9", place + 2 + length) >= 0
        place += 1 if marker == 0xFF else 2 + length
    return False
