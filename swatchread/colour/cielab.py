"""CIELAB, CIEDE2000 and Munsell value, vectorised.

The conversions and the colour difference are scikit-image's; the tests hold them against
colour-science. What stands here besides is what a fit needs: slopes and the local metric.

Conventions: arrays end in an axis of 3; XYZ has Y = 1 for the perfect reflecting diffuser; CIELAB is CIELAB 1976 for
CIE illuminant D50 and the 1931 2 degree observer.
"""

from __future__ import annotations

from functools import cache

import numpy as np
import numpy.typing as npt
from skimage.color import deltaE_ciede2000, lab2xyz, xyz2lab, xyz_tristimulus_values

Floats = npt.NDArray[np.float64]

D50_XYZ: Floats = np.array([0.96422, 1.0, 0.82521])
"""White point of CIE illuminant D50, 2 degree observer (ASTM E308-01, table 5)."""

_LIBRARY_WHITE: Floats = np.asarray(xyz_tristimulus_values(illuminant="D50", observer="2"))
"""The same white as scikit-image has it, from rounded chromaticities: 4e-5 away."""

_LAB_OF_ROOTS: Floats = np.array([[0.0, 116.0, 0.0], [500.0, -500.0, 0.0], [0.0, 200.0, -200.0]])
"""L* + 16, a* and b* (rows) of the cube roots of X, Y and Z over the white's (columns), by CIE 015:2018, 8.2.1."""

_OF_BLACK: Floats = np.array([16.0, 0.0, 0.0])
"""How far black lies above the zero of the cube roots, in L*, a* and b*."""

_EPSILON = 216.0 / 24389.0
"""Share of the white below which CIELAB follows a straight line instead of the cube root (CIE 015:2018, 8.2.1)."""

_STRAIGHT_SLOPE = 24389.0 / 27.0 / 116.0
"""Slope of that straight line."""

_BRADFORD: Floats = np.array([[0.8951, 0.2664, -0.1614], [-0.7502, 1.7135, 0.0367], [0.0389, -0.0685, 1.0296]])
"""Cone response matrix of the linear Bradford adaptation (ICC.1:2022, annex E)."""


def xyz_to_lab(xyz: npt.ArrayLike, white: Floats = D50_XYZ) -> Floats:
    """Convert tristimulus values to CIELAB.

    Parameters
    ----------
    xyz : array_like, shape (..., 3)
        Y = 1 for the perfect diffuser. Negative values follow the straight part of the curve.
    white : ndarray, shape (3,)
        Tristimulus values of the reference white.

    Returns
    -------
    ndarray, shape (..., 3), float64

    References
    ----------
    CIE 015:2018, 8.2.1; ISO/CIE 11664-4.
    """
    # CIELAB knows only the ratio to the white, so any white can be scaled to the one that the library is told.
    lab: Floats = xyz2lab(np.asarray(xyz, np.float64) * (_LIBRARY_WHITE / white), illuminant="D50", observer="2")
    return lab


def xyz_to_lab_slopes(xyz: Floats) -> Floats:
    """Return the slopes of `xyz_to_lab`: of L*, a* and b* (rows) by X, Y and Z (columns).

    Parameters
    ----------
    xyz : ndarray, shape (..., 3)

    Returns
    -------
    ndarray, shape (..., 3, 3), float64
    """
    ratio = xyz / D50_XYZ
    slope = np.where(ratio > _EPSILON, np.cbrt(np.maximum(ratio, _EPSILON)) ** -2.0 / 3.0, _STRAIGHT_SLOPE) / D50_XYZ
    return _LAB_OF_ROOTS * slope[..., None, :]


def lab_to_xyz(lab: npt.ArrayLike) -> Floats:
    """Convert CIELAB to tristimulus values: the inverse of `xyz_to_lab`.

    Parameters
    ----------
    lab : array_like, shape (..., 3)

    Returns
    -------
    ndarray, shape (..., 3), float64
        A b* that no colour of this lightness can have (Z below zero) is taken as the highest that one can.
    """
    possible = np.array(lab, dtype=np.float64)
    possible[..., 2] = np.minimum(possible[..., 2], (possible[..., 0] + 16.0) * (200.0 / 116.0))
    xyz: Floats = lab2xyz(possible, illuminant="D50", observer="2") * (D50_XYZ / _LIBRARY_WHITE)
    return xyz


def lab_slope_by_log_light(lab: Floats) -> Floats:
    """Return the slope of L*, a* and b* by the natural log of the light, shape (..., 3).

    Because of the cube root, 3 % more light is 1 % more of L* + 16, a* and b*. It holds above L* = 8, where CIELAB
    follows the cube root.
    """
    return (lab + _OF_BLACK) / 3.0


def lab_to_lch(lab: npt.ArrayLike) -> Floats:
    """Convert CIELAB to lightness, chroma and hue angle in degrees, 0 to 360."""
    lab = np.asarray(lab, dtype=np.float64)
    chroma = np.hypot(lab[..., 1], lab[..., 2])
    hue = np.degrees(np.arctan2(lab[..., 2], lab[..., 1])) % 360.0
    return np.stack([lab[..., 0], chroma, hue], axis=-1)


def similarity(one: Floats, other: Floats, reach: float) -> Floats:
    """Return how much alike colours look, 1 to 0: a Gaussian of their distance in CIELAB.

    Parameters
    ----------
    one, other : ndarray, shape (n, 3), (m, 3)
        CIELAB.
    reach : float
        Standard deviation of the Gaussian, CIELAB units.

    Returns
    -------
    ndarray, shape (n, m)
    """
    squared_distance: Floats = ((one[:, None] - other[None]) ** 2).sum(axis=-1)
    return np.exp(-squared_distance / (2.0 * reach**2))


def delta_e_2000(lab1: npt.ArrayLike, lab2: npt.ArrayLike) -> Floats:
    """Return CIEDE2000 colour differences for the reference conditions (kL = kC = kH = 1).

    Parameters
    ----------
    lab1, lab2 : array_like, shape (..., 3)
        CIELAB; they broadcast against each other.

    Returns
    -------
    ndarray, shape (...), float64

    References
    ----------
    ISO/CIE 11664-6; Sharma, Wu & Dalal (2005), Color Research & Application 30(1), 21-30.
    """
    difference: Floats = deltaE_ciede2000(*np.broadcast_arrays(lab1, lab2))
    return difference


def de00_metric(lab: npt.ArrayLike) -> Floats:
    """Return the local metric of CIEDE2000: ``dE**2 ~ d @ G @ d`` for a small CIELAB difference ``d``.

    Parameters
    ----------
    lab : array_like, shape (..., 3)

    Returns
    -------
    ndarray, shape (..., 3, 3), symmetric
    """
    lab = np.asarray(lab, dtype=np.float64)
    step = 0.05
    unit = np.eye(3) * step
    single = delta_e_2000(lab[..., None, :] - unit / 2, lab[..., None, :] + unit / 2) ** 2
    pair = unit[:, None, :] + unit[None, :, :]
    double = delta_e_2000(lab[..., None, None, :] - pair / 2, lab[..., None, None, :] + pair / 2) ** 2
    metric: Floats = (double - single[..., :, None] - single[..., None, :]) / (2.0 * step**2)
    diagonal = single / step**2
    index = np.arange(3)
    metric[..., index, index] = diagonal
    return metric


_D1535 = np.array([0.0, 1.1914, -0.22533, 0.23352, -0.020484, 0.00081939]) / 100.0
"""Luminance factor Y of a Munsell value: coefficients of its powers 0 to 5 (ASTM D1535)."""


def luminance_of_value(value: npt.ArrayLike) -> Floats:
    """Return luminance factor Y (perfect diffuser = 1) of a Munsell value, 0 to 10 (ASTM D1535)."""
    powers: Floats = np.asarray(value, dtype=np.float64)[..., None] ** np.arange(len(_D1535))
    return powers @ _D1535


@cache
def _value_table() -> tuple[Floats, Floats]:
    """Return luminance factors of evenly spaced values, and these: close enough for 1e-6 of a value."""
    values: Floats = np.linspace(0.0, 10.0, 10001)
    return luminance_of_value(values), values


def value_of_luminance(luminance: npt.ArrayLike) -> Floats:
    """Return the Munsell value of luminance factors: the inverse of `luminance_of_value`.

    Parameters
    ----------
    luminance : array_like
        Y with the perfect diffuser = 1; values outside the scale are taken to its ends.

    Returns
    -------
    ndarray, 0 to 10
    """
    return np.interp(np.asarray(luminance, dtype=np.float64), *_value_table())


def value_of_lab(lab: npt.ArrayLike) -> Floats:
    """Return the Munsell value of CIELAB colours (ASTM D1535)."""
    return value_of_luminance(lab_to_xyz(lab)[..., 1])


def adapt(xyz: npt.ArrayLike, source: Floats, target: Floats) -> Floats:
    """Adapt tristimulus values from one white to another.

    Parameters
    ----------
    xyz : array_like, shape (..., 3)
    source, target : ndarray, shape (3,)
        Tristimulus values of the two whites.

    Returns
    -------
    ndarray, shape (..., 3)
    """
    gain = (_BRADFORD @ target) / (_BRADFORD @ source)
    matrix: Floats = np.linalg.inv(_BRADFORD) @ np.diag(gain) @ _BRADFORD
    return np.asarray(xyz, dtype=np.float64) @ matrix.T
