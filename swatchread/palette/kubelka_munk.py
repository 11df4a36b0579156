"""The optics of opaque paint: from absorption and scattering to reflectance, and from there to CIELAB (D50, 2 degree).

Kubelka-Munk theory, and what the paint's surface does to the light. Reflectances are factors, 0 to 1, at each of
sixteen bands; K is absorption and S scattering, in any one unit.
"""

from __future__ import annotations

import csv
from functools import cache

import numpy as np
import numpy.typing as npt

from swatchread.colour.cielab import D50_XYZ, Floats, xyz_to_lab, xyz_to_lab_slopes
from swatchread.colour.shipped_data import data_file

BANDS: Floats = np.arange(400.0, 701.0, 20.0)
"""Wavelengths in nm."""
K1, K2 = 0.0375, 0.584
"""Fresnel reflection of a film of refractive index 1.48 (about that of drying oil): of collimated light falling on it
at right angles from outside, and of diffuse light from inside (Saunderson 1942, JOSA 32, 727)."""


def ratio_of_reflectance(R: npt.ArrayLike) -> Floats:
    """Return K/S of an opaque layer of internal reflectance R: (1 - R)² / 2R.

    Parameters
    ----------
    R : array_like
        Above 0, at most 1.

    References
    ----------
    P. Kubelka & F. Munk (1931), Zeitschrift für technische Physik 12, 593-601.
    """
    R = np.array(R, dtype=np.float64)
    return (1.0 - R) ** 2 / (2.0 * R)


def reflectance_of_ratio(ratio: npt.ArrayLike) -> Floats:
    """Return the internal reflectance R∞ = 1 + K/S - √((K/S)² + 2 K/S) of an opaque layer.

    Parameters
    ----------
    ratio : array_like
        K/S, 0 or more.
    """
    q = np.array(ratio, dtype=np.float64)
    # The same as the handbook's expression, without its loss of digits for a dark paint.
    return 1.0 / (1.0 + q + np.sqrt(q * (q + 2.0)))


def add_surface(R: npt.ArrayLike, gloss: float = 1.0) -> Floats:
    """Return what is measured of a layer of internal reflectance R: Saunderson's correction.

    Parameters
    ----------
    R : array_like
        Internal reflectance.
    gloss : float, 0 to 1
        Share of the outer reflection that reaches the instrument: 1 with the specular part included.

    References
    ----------
    J. L. Saunderson (1942), JOSA 32, 727-736.
    """
    R = np.array(R, dtype=np.float64)
    return gloss * K1 + (1.0 - K1) * (1.0 - K2) * R / (1.0 - K2 * R)


def mix(K: Floats, S: Floats, amounts: Floats) -> Floats:
    """Return K/S of mixtures: absorption and scattering add up by amount (Duncan 1940).

    Parameters
    ----------
    K, S : ndarray, shape (t, b)
        Of each tube.
    amounts : ndarray, shape (n, t)
        Relative, 0 or more, one above 0 in each row.

    Returns
    -------
    ndarray, shape (n, b)
    """
    return (amounts @ K) / (amounts @ S)


@cache
def weights() -> Floats:
    """Return the weights of reflectance in X, Y, Z (D50, 2 degree; Y = 1 for the perfect diffuser), shape (16, 3)."""
    with data_file("d50-2deg-20nm.csv").open(encoding="utf-8", newline="") as file:
        rows = [tuple(map(float, row.values())) for row in csv.DictReader(file)]
    return np.array(rows)[:, 1:]


def lab_of_reflectance(R: Floats) -> Floats:
    """Return CIELAB (D50, 2 degree) of reflectances.

    Parameters
    ----------
    R : ndarray, shape (..., 16)
        Reflectance factors at `BANDS`.

    Returns
    -------
    ndarray, shape (..., 3)

    References
    ----------
    ASTM E308; weights after ASTM E2022 (see `calibration/build.py`).
    """
    w = weights()
    return xyz_to_lab(R @ w, w.sum(axis=0))


def slope_of_lab(R: Floats) -> Floats:
    """Return how CIELAB changes with the reflectance of each band, shape (..., 3, 16)."""
    w = weights()
    xyz_by_band = w / w.sum(axis=0) * D50_XYZ
    slopes: Floats = xyz_to_lab_slopes(R @ xyz_by_band) @ xyz_by_band.T
    return slopes
