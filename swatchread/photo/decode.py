"""Decoding: from the bytes of a file to stored pixels."""

from __future__ import annotations

import zlib
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from swatchread.errors import GreyPhotoError, PhotoError
from swatchread.photo import opencv as cv2
from swatchread.photo.encoded_photo import Pixels
from swatchread.photo.jpeg_decoding import decode_jpeg

if TYPE_CHECKING:
    from PIL import Image

_JPEG = frozenset({"JPEG", "MPO"})
"""JPEG files, and those that hold several pictures, of which the first is read."""

_PILLOW_ONLY = frozenset({"HEIF", "AVIF", "GIF"})
"""Formats that OpenCV does not decode, or turns by itself."""

_COMPRESSION, _DEFLATE = 259, frozenset({8, 32946})
"""TIFF's tag of the compression, and its values for deflate (TIFF 6.0; Adobe Photoshop TIFF Technical Notes, 2002)."""

_STRIPS: Final = (273, 279)
"""TIFF's tags of where strips begin and how long they are (TIFF 6.0)."""

_TILES: Final = (324, 325)
"""The same of tiles (TIFF 6.0)."""

_AT_A_TIME = 2**20
"""Bytes inflated at a time: a hostile strip could fill the memory."""


def decoded(data: bytes, kind: str, opened: Image.Image, path: Path) -> tuple[Pixels, str]:
    """Decode a photo that is not raw, all of it, as stored: neither turned nor changed in its encoding.

    Parameters
    ----------
    data : bytes
        The whole file.
    kind : str
        Its format, by the name that Pillow has for it.
    opened : PIL.Image.Image
        The same file opened by Pillow, its size within the caps.
    path : pathlib.Path

    Returns
    -------
    pixels : ndarray, shape (height, width, 3), uint8 or uint16
        RGB; a TIFF is turned already.
    damage : str
        What is wrong with the data although they could be decoded, in words; empty for whole data.

    Raises
    ------
    PhotoError
        If it is cut short or damaged.
    GreyPhotoError
        If it has a single channel.
    """
    if kind in _JPEG:
        return decode_jpeg(data, opened.size, path)
    if kind == "TIFF":
        _check_compressed_strips(data, opened, path)
    pixels = None if kind in _PILLOW_ONLY else _decode_by_opencv(data, path, kind)
    if pixels is None:
        pixels = _decode_by_pillow(opened, path)
    if pixels.ndim == 2 or pixels.shape[2] == 1:
        raise GreyPhotoError(f"{path.name} holds no colour", "it is a black-and-white picture")
    return pixels, ""


def _check_compressed_strips(data: bytes, opened: Image.Image, path: Path) -> None:
    """Refuse a TIFF whose deflated strips or tiles do not match their checksums: its decoder does not look at them."""
    tags: dict[int, Any] = dict(getattr(opened, "tag_v2", {}))
    if tags.get(_COMPRESSION) not in _DEFLATE:
        return
    for at, lengths in (_STRIPS, _TILES):
        for start, length in zip(tags.get(at, ()), tags.get(lengths, ()), strict=False):
            if not _inflates(data[start : start + length]):
                raise PhotoError(f"{path.name} is damaged", "its checksums do not match its pixels", "Copy it again")


def _inflates(piece: bytes) -> bool:
    """Tell whether deflated bytes are whole: they reach their end, and their checksum holds."""
    stream, rest = zlib.decompressobj(), piece
    try:
        while not stream.eof:
            if not stream.decompress(rest, _AT_A_TIME) and not stream.unconsumed_tail:
                return stream.eof
            rest = stream.unconsumed_tail
    except zlib.error:
        return False
    return True


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


def _decode_by_pillow(opened: Image.Image, path: Path) -> Pixels:
    try:
        return np.asarray(opened.convert("RGB"))
    except Exception as error:  # decoders raise anything on damaged files
        raise PhotoError(f"{path.name} is damaged", f"its pixels cannot be decoded ({error})") from error
