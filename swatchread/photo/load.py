"""From a file to a `Photo`: check its size, decode it, turn it as EXIF says, and read its colour space."""

from __future__ import annotations

import hashlib
import io
import warnings
from dataclasses import dataclass, field, replace
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from swatchread.errors import GreyPhotoError, PhotoError, PhotoTooLargeError, PhotoTooSmallError, why_unread
from swatchread.photo import opencv as cv2
from swatchread.photo.camera_settings import Settings, processing_of, settings_of
from swatchread.photo.decode import decoded
from swatchread.photo.derived_pictures import in_eight_bits, shrunk
from swatchread.photo.encoded_photo import Encoding, Photo, Pixels
from swatchread.photo.icc_profile import (
    UnreadableProfileError,
    assumed_srgb,
    encoding_of_profile,
    linear_encoding,
)
from swatchread.photo.nclx_profile import Nclx, encoding_of_nclx, nclx_of

if TYPE_CHECKING:
    from PIL import Image

MAX_BYTES = 860 * 1024 * 1024
"""Largest file, bytes: a scan of as many pixels as are accepted, in three channels of 16 bits, uncompressed."""

MAX_PIXELS = 150_000_000
"""Largest picture: a page scanned at 1,200 dots an inch has up to 140 million pixels, a large camera 102."""

MIN_SIDE = 200
"""Shortest side of a photo, pixels: below it, a chart's patches are too small to measure."""

SMALL_SIDE = 1600
"""Long side of the reduced copy that geometry is found on, pixels."""

RAW_SUFFIXES = frozenset({".dng", ".cr2", ".cr3", ".nef", ".arw", ".raf", ".orf", ".rw2", ".pef", ".srw"})
_PRINT_MODES = {"CMYK": "printing inks (CMYK)", "LAB": "CIELAB"}
_GREY_MODES = frozenset({"1", "L", "LA", "I;16", "F"})
_HEIF_BRANDS = (b"heic", b"heix", b"mif1", b"msf1", b"hevc", b"heim", b"avif")
_DNG_VERSION, _ORIENTATION, _MAKE, _MODEL, _TAKEN, _EXIF_IFD = 0xC612, 0x0112, 0x010F, 0x0110, 0x9003, 0x8769
_COLOUR_SPACE, _SRGB = 0xA001, 1  # Exif 2.32, 4.6.5: 1 is sRGB
_GREY_DIFFERENCE = 6  # between channels, 8-bit levels: JPEG compression leaves as much in a grey picture


@dataclass(frozen=True)
class _Header:
    """What the file says before any pixel is decoded."""

    format: str
    orientation: int
    icc: bytes | None
    taken: str | None
    camera: str | None
    grey: bool
    says_srgb: bool = False
    nclx: Nclx | None = None
    settings: Settings = field(default_factory=Settings)
    processing: str | None = None


def load_photo(path: Path) -> Photo:
    """Decode a photo.

    Parameters
    ----------
    path : pathlib.Path
        JPEG, PNG, TIFF (8 or 16 bits), WebP, HEIC, or a raw file (DNG and others).

    Returns
    -------
    Photo

    Raises
    ------
    PhotoError
        If there is no such file or it is not a photo that can be decoded.
    PhotoTooLargeError, PhotoTooSmallError
        If its file or its dimensions are beyond the limits; this is checked before decoding.
    GreyPhotoError
        If it holds no colour.
    """
    data = _read(path)
    header, opened = _header(data, path)
    damage = ""
    if header.format == "raw" or opened is None:
        pixels, encoding = _decode_raw(data, path)
    else:
        pixels, damage = decoded(data, header.format, opened, path)
        _check_whole(opened, path)
        encoding = _encoding(header, 65536 if pixels.dtype == np.uint16 else 256)
    small, scale = _reduced(pixels)
    if header.grey or _is_grey(small):
        raise GreyPhotoError(f"{path.name} holds no colour", "it is a black-and-white picture")
    turned = header.format not in {"raw", "TIFF"}  # their decoders turn by themselves
    return Photo(
        path=path,
        sha256=hashlib.sha256(data).hexdigest(),
        pixels=_turn(pixels, header.orientation) if turned else pixels,
        small=_turn(small, header.orientation) if turned else small,
        scale=scale,
        encoding=encoding,
        taken=header.taken,
        camera=header.camera,
        settings=header.settings,
        processing=header.processing,
        damage=damage,
    )


def _read(path: Path) -> bytes:
    try:
        size = path.stat().st_size
        if not path.is_file():
            raise PhotoError(f"{path.name or path} is not a photo", "it is not a file")
        if size > MAX_BYTES:
            raise PhotoTooLargeError(f"{path.name} is too large", f"{size // 2**20} MiB")
        data = path.read_bytes()
    except OSError as error:
        raise PhotoError(f"{path.name or path} cannot be opened", *why_unread(error)) from error
    except ValueError as error:  # a NUL in the name
        raise PhotoError("The photo cannot be opened", str(error)) from error
    if not data:
        raise PhotoError(f"{path.name} is empty", "the file has no content", "Copy it from the camera again")
    return data


def _header(data: bytes, path: Path) -> tuple[_Header, Image.Image | None]:
    from PIL import Image, UnidentifiedImageError

    if data[4:8] == b"ftyp" and data[8:12] in _HEIF_BRANDS:
        import pillow_heif

        pillow_heif.register_heif_opener()
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # a large picture is judged by our own cap below
            image = Image.open(io.BytesIO(data))
            _check_size(image.size, path)
            # Pillow would decode a whole PNG to look for EXIF that its header does not announce.
            exif = image.getexif() if image.format != "PNG" or "exif" in image.info else Image.Exif()
            raw = image.format == "TIFF" and (_DNG_VERSION in exif or path.suffix.lower() in RAW_SUFFIXES)
            if not raw:
                _check_mode(image, path)
            details = exif.get_ifd(_EXIF_IFD)
            header = _Header(
                format="raw" if raw else str(image.format),
                orientation=_orientation(exif.get(_ORIENTATION, 1)),
                icc=image.info.get("icc_profile"),
                taken=_time(details.get(_TAKEN)),
                camera=_camera(exif.get(_MAKE), exif.get(_MODEL)),
                grey=image.mode in _GREY_MODES,
                says_srgb=details.get(_COLOUR_SPACE) == _SRGB,
                nclx=nclx_of(image, data),
                settings=settings_of(details),
                processing=processing_of(details),
            )
    except Image.DecompressionBombError as error:
        raise PhotoTooLargeError(f"{path.name} is too large", str(error)) from error
    except UnidentifiedImageError as error:
        if path.suffix.lower() in RAW_SUFFIXES:
            return _Header("raw", 1, None, None, None, grey=False), None
        raise PhotoError(f"{path.name} is not a photo", "its content is no picture format known here") from error
    except PhotoError:
        raise
    except Exception as error:  # a damaged header can raise anything in the decoders
        raise PhotoError(f"{path.name} is damaged", f"its header cannot be read ({error})") from error
    return header, image


def _orientation(value: Any) -> int:
    return int(value) if isinstance(value, int) and 1 <= value <= 8 else 1


def _check_size(size: tuple[int, int], path: Path) -> None:
    width, height = size
    if width * height > MAX_PIXELS:
        raise PhotoTooLargeError(f"{path.name} is too large", f"{width} × {height} pixels")
    if min(width, height) < MIN_SIDE:
        raise PhotoTooSmallError(f"{path.name} is too small", f"{width} × {height} pixels")


def _check_mode(image: Image.Image, path: Path) -> None:
    """Refuse printing inks and CIELAB: no camera writes them, and only a profile could turn them into light."""
    if image.mode in _PRINT_MODES:
        raise PhotoError(
            f"{path.name} is stored in {_PRINT_MODES[image.mode]}, not in red, green and blue",
            "a program for print has changed its colours",
            "Use the camera's own file",
        )


def _check_whole(image: Image.Image, path: Path) -> None:
    """Refuse a picture with transparent parts: the colours stored under them are not those that show."""
    if not (image.mode.endswith(("A", "a")) or "transparency" in image.info):
        return
    try:
        clear = image.convert("RGBA").getchannel("A").getextrema()[0] != 255
    except Exception as error:  # decoders raise anything on damaged files
        raise PhotoError(f"{path.name} is damaged", f"its pixels cannot be decoded ({error})") from error
    if clear:
        raise PhotoError(
            f"{path.name} has transparent parts", "a program has cut something out of it", "Use the camera's own file"
        )


def _time(text: Any) -> str | None:
    """Return EXIF's ``YYYY:MM:DD HH:MM:SS`` as ISO 8601, or None if it is anything else."""
    try:
        return datetime.strptime(str(text).strip("\0 "), "%Y:%m:%d %H:%M:%S").isoformat()  # noqa: DTZ007 - EXIF is local
    except ValueError:
        return None


def _camera(make: Any, model: Any) -> str | None:
    make, model = (str(part).strip("\0 ")[:80] if part else "" for part in (make, model))
    name = model if model.lower().startswith(make.lower()) else f"{make} {model}"
    clean = "".join(ch for ch in name if ch.isprintable()).strip()
    return clean or None


def _decode_raw(data: bytes, path: Path) -> tuple[Pixels, Encoding]:
    import rawpy

    try:
        with rawpy.imread(io.BytesIO(data)) as raw:
            size = raw.sizes
            _check_size((size.raw_width, size.raw_height), path)
            pixels = raw.postprocess(
                gamma=(1, 1),
                no_auto_bright=True,
                use_camera_wb=True,
                output_bps=16,
                output_color=rawpy.ColorSpace.raw,
                # Finer methods follow edges. They find some in the noise of one paint, and tint its mean.
                demosaic_algorithm=rawpy.DemosaicAlgorithm.LINEAR,
            )
    except rawpy.LibRawError as error:
        raise PhotoError(f"{path.name} is damaged", f"the raw data cannot be decoded ({error})") from error
    if pixels.ndim == 2 or pixels.shape[2] == 1:
        raise GreyPhotoError(f"{path.name} holds no colour", "its sensor sees no colours")
    if pixels.shape[2] != 3:
        raise PhotoError(f"{path.name} cannot be used", "its sensor sees other colours than red, green and blue")
    return pixels, linear_encoding(tagged=True)


def _encoding(header: _Header, levels: int) -> Encoding:
    if header.icc:
        try:
            return encoding_of_profile(header.icc, levels)
        except UnreadableProfileError:
            pass  # table-based or damaged: sRGB is assumed, and the fit on the chart corrects it
    elif header.nclx and (encoding := encoding_of_nclx(header.nclx, levels)) is not None:
        return encoding
    elif header.says_srgb:
        return replace(assumed_srgb(levels), name="sRGB", tagged=True)
    return assumed_srgb(levels)


def _reduced(pixels: Pixels) -> tuple[npt.NDArray[np.uint8], float]:
    """Return an 8-bit copy of about `SMALL_SIDE` pixels on its long side, and its scale.

    A very small photo is enlarged, at most twice, so that the patches of its chart span enough pixels.
    """
    height, width = pixels.shape[:2]
    scale = max(0.5, max(height, width) / SMALL_SIDE)
    size = (round(width / scale), round(height / scale))
    small = shrunk(pixels, size) if scale > 1.0 else cv2.resize(pixels, size, interpolation=cv2.INTER_CUBIC)
    return in_eight_bits(small), width / size[0]


def _is_grey(small: npt.NDArray[np.uint8]) -> bool:
    red, green, blue = np.moveaxis(small[::4, ::4], 2, 0)
    highest, lowest = np.maximum(np.maximum(red, green), blue), np.minimum(np.minimum(red, green), blue)
    return bool((highest - lowest).max() <= _GREY_DIFFERENCE)


def _turn(pixels: npt.NDArray[Any], orientation: int) -> npt.NDArray[Any]:
    """Return pixels turned as EXIF orientation says (1 = as stored)."""
    if orientation >= 5:
        pixels = cv2.transpose(pixels)
    flip = {2: 1, 3: -1, 4: 0, 6: 1, 7: -1, 8: 0}.get(orientation)  # OpenCV's codes: 0 upside down, 1 mirrored, -1 both
    return pixels if flip is None else cv2.flip(pixels, flip)
