"""CIELAB, CIEDE2000 and Munsell, vectorised.

The formulas are the standards' own, written out in numpy because importing a whole colour library takes longer than
reading a photo; the tests hold them against colour-science, scikit-image and the published tables.

Conventions: arrays end in an axis of 3; XYZ has Y = 1 for the perfect reflecting diffuser; CIELAB is
CIELAB 1976 for CIE illuminant D50 and the 1931 2 degree observer unless a name says otherwise.
"""

from __future__ import annotations

from functools import cache

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]

D50_XYZ: Floats = np.array([0.96422, 1.0, 0.82521])
"""White point of CIE illuminant D50, 2 degree observer (ASTM E308-01, table 5)."""

_LAB_OF_ROOTS: Floats = np.array([[0.0, 116.0, 0.0], [500.0, -500.0, 0.0], [0.0, 200.0, -200.0]])
_EPSILON = 216.0 / 24389.0
_KAPPA = 24389.0 / 27.0


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
    ratio = np.asarray(xyz, dtype=np.float64) / white
    f = np.where(ratio > _EPSILON, np.cbrt(ratio), (_KAPPA * ratio + 16.0) / 116.0)
    fx, fy, fz = f[..., 0], f[..., 1], f[..., 2]
    return np.stack([116.0 * fy - 16.0, 500.0 * (fx - fy), 200.0 * (fy - fz)], axis=-1)


def xyz_to_lab_slopes(xyz: npt.ArrayLike, white: Floats = D50_XYZ) -> Floats:
    """Return the slopes of `xyz_to_lab`: of L*, a* and b* (rows) by X, Y and Z (columns).

    Parameters
    ----------
    xyz : array_like, shape (..., 3)
    white : ndarray, shape (3,)

    Returns
    -------
    ndarray, shape (..., 3, 3), float64
    """
    ratio = np.asarray(xyz, dtype=np.float64) / white
    slope = np.where(ratio > _EPSILON, np.cbrt(np.maximum(ratio, _EPSILON)) ** -2.0 / 3.0, _KAPPA / 116.0) / white
    return _LAB_OF_ROOTS * slope[..., None, :]


def lab_to_xyz(lab: npt.ArrayLike, white: Floats = D50_XYZ) -> Floats:
    """Convert CIELAB to tristimulus values: the inverse of `xyz_to_lab`."""
    lab = np.asarray(lab, dtype=np.float64)
    fy = (lab[..., 0] + 16.0) / 116.0
    f = np.stack([fy + lab[..., 1] / 500.0, fy, fy - lab[..., 2] / 200.0], axis=-1)
    cube = f**3
    return np.where(cube > _EPSILON, cube, (116.0 * f - 16.0) / _KAPPA) * white


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
        Its standard deviation.

    Returns
    -------
    ndarray, shape (n, m)
    """
    apart = ((one[:, None] - other[None]) ** 2).sum(axis=-1)
    return np.asarray(np.exp(-apart / (2.0 * reach**2)))


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
    dL, dC, dH, RT = _de00_terms(np.asarray(lab1, np.float64), np.asarray(lab2, np.float64))
    squared: Floats = dL**2 + dC**2 + dH**2 + RT * dC * dH
    return np.sqrt(np.maximum(squared, 0.0))


def _de00_terms(lab1: Floats, lab2: Floats) -> tuple[Floats, Floats, Floats, Floats]:
    """Return the weighted lightness, chroma and hue differences and the rotation term."""
    L1, a1, b1 = np.moveaxis(lab1, -1, 0)
    L2, a2, b2 = np.moveaxis(lab2, -1, 0)
    mean_C7 = ((np.hypot(a1, b1) + np.hypot(a2, b2)) / 2.0) ** 7
    stretch = 1.5 - 0.5 * np.sqrt(mean_C7 / (mean_C7 + 25.0**7))
    C1, C2 = np.hypot(a1 * stretch, b1), np.hypot(a2 * stretch, b2)
    h1, h2 = np.arctan2(b1, a1 * stretch) % (2 * np.pi), np.arctan2(b2, a2 * stretch) % (2 * np.pi)
    product = C1 * C2
    turn = h2 - h1
    turn = np.where(turn > np.pi, turn - 2 * np.pi, np.where(turn < -np.pi, turn + 2 * np.pi, turn))
    turn = np.where(product == 0.0, 0.0, turn)
    total = h1 + h2
    wide = np.abs(h1 - h2) > np.pi
    hue = np.where(wide, np.where(total < 2 * np.pi, total + 2 * np.pi, total - 2 * np.pi), total) / 2.0
    hue = np.where(product == 0.0, total, hue)
    L, C = (L1 + L2) / 2.0, (C1 + C2) / 2.0
    T = (
        1.0
        - 0.17 * np.cos(hue - np.radians(30.0))
        + 0.24 * np.cos(2.0 * hue)
        + 0.32 * np.cos(3.0 * hue + np.radians(6.0))
        - 0.20 * np.cos(4.0 * hue - np.radians(63.0))
    )
    SL = 1.0 + 0.015 * (L - 50.0) ** 2 / np.sqrt(20.0 + (L - 50.0) ** 2)
    SC, SH = 1.0 + 0.045 * C, 1.0 + 0.015 * C * T
    C7 = C**7
    theta = np.radians(30.0) * np.exp(-(((np.degrees(hue) - 275.0) / 25.0) ** 2))
    RT = -np.sin(2.0 * theta) * 2.0 * np.sqrt(C7 / (C7 + 25.0**7))
    dH = 2.0 * np.sqrt(product) * np.sin(turn / 2.0)
    return (L2 - L1) / SL, (C2 - C1) / SC, dH / SH, RT


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


def luminance_of_value(value: npt.ArrayLike) -> Floats:
    """Return luminance factor Y (perfect diffuser = 1) of a Munsell value, 0 to 10 (ASTM D1535)."""
    return _polynomial(np.asarray(value, dtype=np.float64), _D1535)


def _polynomial(x: Floats, coefficients: Floats) -> Floats:
    """Return a polynomial's values (Horner's rule): to import numpy's own module takes longer than all else here."""
    total = np.zeros_like(x)
    for coefficient in coefficients[::-1]:
        total = coefficient + total * x
    return np.asarray(total, dtype=np.float64)


@cache
def _value_table() -> tuple[Floats, Floats]:
    """Return luminance factors of evenly spaced values, and these."""
    values: Floats = np.linspace(0.0, 10.0, 201)
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
    Y = np.clip(np.asarray(luminance, dtype=np.float64), 0.0, luminance_of_value(10.0))
    V = np.interp(Y, *_value_table())
    slope = _D1535[1:] * np.arange(1, len(_D1535))
    for _ in range(2):  # the table is within 0.001 already; Newton brings it to rounding error
        V = V - (luminance_of_value(V) - Y) / _polynomial(V, slope)
    return np.clip(V, 0.0, 10.0)


def value_of_lab(lab: npt.ArrayLike) -> Floats:
    """Return the Munsell value of CIELAB colours (ASTM D1535)."""
    return value_of_luminance(lab_to_xyz(lab)[..., 1])
