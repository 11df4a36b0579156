"""Munsell notation of many colours at once.

The renotation gives the chromaticity of chips over value, hue and chroma, under CIE illuminant C;
`calibration/build.py` turns it into a regular grid of a* and b*. A colour is adapted to C and looked up between the two
values next to its own. There, the chips of one chroma form a ring round the neutral. Where the colour's direction
crosses each ring gives its hue there, and its distance from the neutral tells between which rings it lies.
"""

from __future__ import annotations

from functools import cache

import numpy as np
import numpy.typing as npt

from swatchread.colour.cielab import (
    D50_XYZ,
    Floats,
    adapt,
    lab_to_xyz,
    luminance_of_value,
    value_of_luminance,
    xyz_to_lab,
)
from swatchread.colour.shipped_data import data_file

C_XYZ: Floats = np.array([0.31006 / 0.31616, 1.0, (1.0 - 0.31006 - 0.31616) / 0.31616])
"""White point of CIE illuminant C, 2 degree observer: x = 0.31006, y = 0.31616 (CIE 15)."""

FAMILIES = ("R", "YR", "Y", "GY", "G", "BG", "B", "PB", "P", "RP")
"""The ten families of hue, in the order of the hue circle; each has ten of its hundred steps."""

VALUES: Floats = np.array([0.2, 0.4, 0.6, 0.8, *range(1, 11)])
"""Munsell values of the grid. The renotation has chips up to 9/; these stand for 10/ too, where only white exists."""

HUE_STEP, CHROMA_STEP = 1.25, 1.0
"""Spacing of the grid in steps of hue (of 100) and in chroma: half the renotation's own."""

GRID_UNIT = 0.01
"""The grid is stored in whole hundredths of a* and b*."""

_NEUTRAL_CHROMA = 0.25
"""Chroma below which a colour is written as a neutral (common practice)."""


@cache
def _grid() -> Floats:
    """Return a* and b* under C over value, hue and chroma, shape (14, 80, 50, 2), without the neutrals."""
    grid: Floats = np.load(data_file("munsell-grid.npy"))[:, :, 1:] * GRID_UNIT
    return grid


def munsell_hvc(lab: npt.ArrayLike) -> Floats:
    """Return hue (0 to 100, 0 = 10RP, 5 = 5R), value and chroma of CIELAB colours.

    Parameters
    ----------
    lab : array_like, shape (n, 3)
        CIELAB, D50, 2 degree.

    Returns
    -------
    ndarray, shape (n, 3)

    References
    ----------
    ASTM D1535; renotation of Newhall, Nickerson & Judd (1943), as carried by colour-science.
    """
    xyz = adapt(np.clip(lab_to_xyz(lab), 0.0, None), D50_XYZ, C_XYZ)
    value = value_of_luminance(xyz[..., 1])
    a, b = xyz_to_lab(xyz, C_XYZ)[..., 1:].T
    hues, distances = _crossings(np.degrees(np.arctan2(b, a)), value)
    chromas = CHROMA_STEP * np.arange(1, hues.shape[1] + 1)
    hue, chroma = np.zeros(len(value)), np.zeros(len(value))
    for k, distance in enumerate(np.hypot(a, b)):
        hue[k] = np.interp(distance, distances[k], hues[k])
        chroma[k] = np.interp(distance, [0.0, *distances[k]], [0.0, *chromas])
    return np.stack([hue % 100.0, value, chroma], axis=-1)


def _crossings(direction: Floats, value: Floats) -> tuple[Floats, Floats]:
    """Return where directions in the plane of a* and b* cross the rings of equal chroma.

    Parameters
    ----------
    direction : ndarray, shape (n,)
        Degrees.
    value : ndarray, shape (n,)

    Returns
    -------
    hues : ndarray, shape (n, rings)
        Steps of hue, running on beyond 100 where a direction crosses 10RP from ring to ring.
    distances : ndarray, shape (n, rings)
        From the neutral, in CIELAB units.
    """
    place = np.interp(value, VALUES, np.arange(len(VALUES)))
    below = np.minimum(place.astype(np.intp), len(VALUES) - 2)
    share = (place - below)[:, None, None, None]
    rings = _grid()[below] * (1.0 - share) + _grid()[below + 1] * share
    turn = np.degrees(np.arctan2(rings[..., 1], rings[..., 0])) - direction[:, None, None]
    turn = (turn + 180.0) % 360.0 - 180.0
    following = np.roll(turn, -1, axis=1)
    # Of a ring's chips in the order of hue, the one before the direction: the next lies beyond it.
    chip = ((turn <= 0.0) & (following > 0.0) & (following - turn < 180.0)).argmax(axis=1)[:, None]
    before, after = (np.take_along_axis(x, chip, axis=1)[:, 0] for x in (turn, following))
    part = -before / np.maximum(after - before, 1e-9)
    radius = np.hypot(rings[..., 0], rings[..., 1])
    near, far = (np.take_along_axis(x, chip, axis=1)[:, 0] for x in (radius, np.roll(radius, -1, axis=1)))
    hues = np.unwrap(HUE_STEP * (chip[:, 0] + part), period=100.0, axis=1)
    return hues, np.maximum.accumulate(near + part * (far - near), axis=1)


def munsell_lab(hue: float, value: float, chroma: float) -> Floats:
    """Return the CIELAB (D50, 2 degree) of a Munsell colour, shape (3,); the inverse of `munsell_hvc`.

    Parameters
    ----------
    hue : float
        0 to 100, as `munsell_hvc` counts.
    value : float
        0 to 10.
    chroma : float
        0 to the grid's highest; beyond, the last ring is taken.
    """
    from scipy.ndimage import map_coordinates

    place = np.interp(value, VALUES, np.arange(len(VALUES)))
    rings = np.pad(_grid(), ((0, 0), (0, 1), (1, 0), (0, 0)))  # the neutral within the first ring
    rings[:, -1] = rings[:, 0]  # hue 100 is hue 0
    at = [[place], [hue % 100.0 / HUE_STEP], [min(chroma / CHROMA_STEP, rings.shape[2] - 1.0)]]
    a, b = (float(map_coordinates(rings[..., axis], at, order=1)[0]) for axis in (0, 1))
    lightness = xyz_to_lab(luminance_of_value(value) * C_XYZ, C_XYZ)[0]
    xyz = lab_to_xyz(np.array([lightness, a, b])) * (C_XYZ / D50_XYZ)  # CIELAB knows only the ratio to the white
    return xyz_to_lab(adapt(xyz, C_XYZ, D50_XYZ))


def munsell_notation(lab: npt.ArrayLike) -> list[str]:
    """Return Munsell notations such as ``'5.0YR 6.1/4.2'`` or ``'N 5.2'`` of CIELAB colours.

    Parameters
    ----------
    lab : array_like, shape (n, 3)
        CIELAB, D50, 2 degree.

    Returns
    -------
    list of str
        Hue to 0.1 step, value and chroma to 0.1; chroma below 0.25 is written as a neutral.
    """
    return [_written(*row) for row in munsell_hvc(np.atleast_2d(np.asarray(lab, dtype=np.float64)))]


def _written(hue: float, value: float, chroma: float) -> str:
    if chroma < _NEUTRAL_CHROMA:
        return f"N {value:.1f}"
    tenths = round(hue * 10) % 1000
    step, within = divmod(tenths, 100)
    if within == 0:  # a hue of 0 is written as 10 of the family before it
        step, within = (step - 1) % 10, 100
    return f"{within / 10:.1f}{FAMILIES[step]} {value:.1f}/{chroma:.1f}"
