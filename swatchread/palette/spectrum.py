"""From spectral reflectance to CIELAB (D50, 2 degree) at sixteen bands, with the slopes that a fit needs."""

from __future__ import annotations

import csv
from functools import cache

import numpy as np

from swatchread.colour.cielab import Floats, xyz_to_lab
from swatchread.colour.shipped_data import data_file

BANDS: Floats = np.arange(400.0, 701.0, 20.0)
"""Wavelengths in nm."""


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
    white = w.sum(axis=0)
    ratio = (R @ w) / white
    bent = np.where(ratio > 216.0 / 24389.0, np.cbrt(np.maximum(ratio, 1e-9)) ** -2 / 3.0, 24389.0 / 27.0 / 116.0)
    f = bent[..., :, None] * (w / white).T  # (..., XYZ, band)
    fx, fy, fz = f[..., 0, :], f[..., 1, :], f[..., 2, :]
    return np.stack([116.0 * fy, 500.0 * (fx - fy), 200.0 * (fy - fz)], axis=-2)
