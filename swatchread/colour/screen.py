"""CIELAB as a screen shows it: D50 CIELAB to sRGB, with what lies outside the screen's colours brought in.

scikit-image's own conversion cuts such colours off channel by channel, which changes their lightness and hue.
"""

from __future__ import annotations

from functools import cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from swatchread.colour.cielab import D50_XYZ, Floats, adapt, lab_to_xyz

_D65_XYZ: Floats = np.array([0.3127 / 0.3290, 1.0, (1 - 0.3127 - 0.3290) / 0.3290])
"""White point of illuminant D65: x = 0.3127, y = 0.3290 (IEC 61966-2-1:1999)."""

_PRIMARIES: Floats = np.array([[0.64, 0.30, 0.15], [0.33, 0.60, 0.06], [0.03, 0.10, 0.79]])
"""Chromaticities of the sRGB primaries (IEC 61966-2-1:1999): columns R, G, B; rows x, y, 1 - x - y."""

_GAMUT_TOLERANCE = 1e-4
"""Linear light by which a channel may lie outside 0 to 1: far below the 1/255 that a screen can show."""

_HALVINGS = 24
"""Halvings of the range of chroma in the search for the gamut's edge: to 1e-7 of the chroma."""


def lab_to_srgb(lab: ArrayLike) -> tuple[Floats, NDArray[np.bool_]]:
    """Convert CIELAB (D50, 2 degree) to sRGB, keeping lightness and hue where the screen cannot follow.

    A colour outside the gamut gives up chroma, and only chroma, until the screen can show it: a painter
    reads value first, so value is what the screen must not falsify.

    Parameters
    ----------
    lab : array_like, shape (..., 3)
        L* (0 to 100), a*, b*.

    Returns
    -------
    rgb : numpy.ndarray, shape (..., 3), float64
        sRGB as displayed (with its transfer curve), 0 to 1.
    in_gamut : numpy.ndarray, shape (...), bool
        False where chroma or lightness had to give way.
    """
    lab = np.asarray(lab, dtype=np.float64)
    wanted = _linear_srgb(lab)
    in_gamut = _displayable(wanted)
    lightness = np.clip(lab[..., 0], 0, 100)
    inside = np.zeros_like(lightness)
    outside = np.ones_like(lightness)
    for _ in range(_HALVINGS):
        middle = (inside + outside) / 2
        shown = _displayable(_linear_srgb(_with_chroma(lab, lightness, middle)))
        inside = np.where(shown, middle, inside)
        outside = np.where(shown, outside, middle)
    brought_in = _linear_srgb(_with_chroma(lab, lightness, inside))
    linear = np.clip(np.where(in_gamut[..., None], wanted, brought_in), 0, 1)
    curved = 1.055 * np.maximum(linear, 0.0031308) ** (1 / 2.4) - 0.055
    return np.where(linear <= 0.0031308, 12.92 * linear, curved), in_gamut


def hex_colours(lab: ArrayLike) -> tuple[list[str], list[bool]]:
    """Give each CIELAB colour as a hexadecimal sRGB code.

    Parameters
    ----------
    lab : array_like, shape (n, 3)
        CIELAB (D50, 2 degree).

    Returns
    -------
    codes : list of str
        For instance ``"#c08a6b"``.
    in_gamut : list of bool
        False where the code is only the nearest that an sRGB screen can show.
    """
    rgb, in_gamut = lab_to_srgb(np.reshape(np.asarray(lab, dtype=np.float64), (-1, 3)))
    codes = ["#{:02x}{:02x}{:02x}".format(*(int(c) for c in np.rint(row * 255))) for row in rgb]
    return codes, [bool(inside) for inside in in_gamut]


def _with_chroma(lab: Floats, lightness: Floats, share: Floats) -> Floats:
    return np.stack([lightness, lab[..., 1] * share, lab[..., 2] * share], axis=-1)


def _linear_srgb(lab: Floats) -> Floats:
    return adapt(lab_to_xyz(lab), D50_XYZ, _D65_XYZ) @ _xyz_to_linear_srgb().T


def _displayable(linear: Floats) -> NDArray[np.bool_]:
    inside = (linear >= -_GAMUT_TOLERANCE) & (linear <= 1 + _GAMUT_TOLERANCE)
    return np.asarray(inside.all(axis=-1))


@cache
def _xyz_to_linear_srgb() -> Floats:
    """Return the matrix from XYZ under D65 to linear sRGB."""
    from_xyz: Floats = np.linalg.inv(_PRIMARIES * np.linalg.solve(_PRIMARIES, _D65_XYZ))
    return from_xyz
