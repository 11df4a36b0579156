"""Code points for colour in HEIC and AVIF files ("nclx", ISO/IEC 14496-12), in the place of an ICC profile."""

from __future__ import annotations

import io
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from swatchread.colour.cielab import D50_XYZ, Floats, adapt
from swatchread.photo.encoded_photo import Encoding
from swatchread.photo.icc_profile import srgb_curve

if TYPE_CHECKING:
    from collections.abc import Callable

    from PIL import Image

_PRIMARIES: Final = {1: "Rec. 709", 5: "Rec. 601", 6: "Rec. 601", 9: "Rec. 2020", 11: "DCI P3", 12: "Display P3"}
"""Code of ColourPrimaries -> its name (ITU-T H.273, table 2)."""

_SRGB: Final = (1, 13)
"""Codes of primaries and transfer of IEC 61966-2-1."""

_REFERENCE_WHITE: Final = 203.0
"""Luminance that an HDR picture gives to a white surface, cd/m² (ITU-R BT.2408)."""

_NO_COLOUR: Final = 1e-4
"""Determinant of the primaries' matrix below which they are no primaries."""


@dataclass(frozen=True, slots=True)
class Nclx:
    """What a file says of its colours.

    Attributes
    ----------
    primaries, transfer : int
        Codes of ColourPrimaries and TransferCharacteristics (ITU-T H.273).
    xy : tuple of (float, float)
        Chromaticities of red, green, blue and white.
    """

    primaries: int
    transfer: int
    xy: tuple[tuple[float, float], ...]


def nclx_of(image: Image.Image, data: bytes) -> Nclx | None:
    """Return what a HEIC or AVIF file says of its colours in code points, or None.

    Parameters
    ----------
    image : PIL.Image.Image
        The opened file.
    data : bytes
        The whole file.
    """
    if image.format not in {"HEIF", "AVIF"}:
        return None
    found = image.info.get("nclx_profile")
    if found is None and image.format == "AVIF":  # Pillow does not tell, the other library does
        import pillow_heif

        try:
            found = pillow_heif.open_heif(io.BytesIO(data), convert_hdr_to_8bit=False).info.get("nclx_profile")
        except Exception:  # noqa: BLE001 - decoders raise anything; Pillow judges the file itself
            return None
    return _nclx(found) if isinstance(found, dict) else None


def _nclx(found: dict[str, Any]) -> Nclx | None:
    xy = tuple(
        (float(found[f"color_primary_{name}_x"]), float(found[f"color_primary_{name}_y"]))
        for name in ("red", "green", "blue", "white")
    )
    return Nclx(int(found["color_primaries"]), int(found["transfer_characteristics"]), xy)


def encoding_of_nclx(nclx: Nclx, levels: int) -> Encoding | None:
    """Return the encoding that code points describe, or None if they are unspecified or unknown here.

    Parameters
    ----------
    nclx : Nclx
    levels : int
        256 or 65536 stored levels.
    """
    curve = _CURVES.get(nclx.transfer)
    if curve is None or nclx.primaries not in _PRIMARIES:
        return None
    xyz = np.array([(x, y, 1.0 - x - y) for x, y in nclx.xy]).T / np.maximum([y for _, y in nclx.xy], 1e-6)
    rgb, white = xyz[:, :3], xyz[:, 3]
    if abs(np.linalg.det(rgb)) < _NO_COLOUR:
        return None
    to_xyz = adapt((rgb * np.linalg.solve(rgb, white)).T, white, D50_XYZ).T
    table = curve(np.linspace(0.0, 1.0, levels)).astype(np.float32)
    srgb = (nclx.primaries, nclx.transfer) == _SRGB
    name = "sRGB" if srgb else f"{_PRIMARIES[nclx.primaries]}, transfer {nclx.transfer} (nclx)"
    return Encoding(name, np.stack([table] * 3), to_xyz, tagged=True)


def _rec_709(x: Floats) -> Floats:
    return np.where(x < 0.081, x / 4.5, ((x + 0.099) / 1.099) ** (1.0 / 0.45))


def _pq(x: Floats) -> Floats:
    """Return SMPTE ST 2084, as table 3 of H.273 has it, with a white surface at 1."""
    root = x ** (32.0 / 2523.0)
    light = np.maximum(root - 0.8359375, 0.0) / (18.8515625 - 18.6875 * root)
    return light ** (16384.0 / 2610.0) * (10000.0 / _REFERENCE_WHITE)


def _hlg(x: Floats) -> Floats:
    """Return the scene's light of hybrid log-gamma (ITU-R BT.2100)."""
    a, b, c = 0.17883277, 0.28466892, 0.55991073
    return np.where(x <= 0.5, x**2 / 3.0, (np.exp((x - c) / a) + b) / 12.0)


_CURVES: Final[dict[int, Callable[[Floats], Floats]]] = {
    **dict.fromkeys((1, 6, 14, 15), _rec_709),
    4: lambda x: x**2.2,
    5: lambda x: x**2.8,
    8: lambda x: x,
    13: srgb_curve,
    16: _pq,
    18: _hlg,
}
"""Code of TransferCharacteristics -> linear light of stored values, 0 to 1 (ITU-T H.273, table 3)."""
