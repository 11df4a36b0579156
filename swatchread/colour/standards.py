"""What the published tables of the CIE are needed for: values measured under another light, and spectra.

This is the one module that talks to colour-science, which takes longer to load than a photo takes to read. So the
library is loaded when a function is called, and no reading calls one.
"""

from __future__ import annotations

import warnings
from typing import Any

import numpy as np

from swatchread.colour.cielab import D50_XYZ, Floats, delta_e_2000, lab_to_xyz, xyz_to_lab

ILLUMINANTS = ("A", "C", "D50", "D55", "D65", "D75", "E", "FL2", "FL7", "FL11")
"""CIE illuminants that instruments report CIELAB for."""

OBSERVERS = {2: "CIE 1931 2 Degree Standard Observer", 10: "CIE 1964 10 Degree Standard Observer"}
"""CIE standard observers by their field in degrees, with colour-science's names for them."""

_WHITE_WEIGHT = 10.0
"""How much more than a light patch the white counts in the fit of a conversion: greys have to stay grey."""

SPACINGS_NM = (1, 5, 10, 20)
"""Steps of wavelength, nm, that ASTM E308 gives a method for."""


def converted_to_d50(lab: Floats, illuminant: str, observer: int) -> tuple[Floats, float]:
    """Convert CIELAB for another illuminant or observer to D50 and the 2 degree observer.

    The conversion is a matrix between tristimulus values, fitted on the published reflectances of the classic 24
    patches ("BabelColor Average" in colour-science). It stays an estimate: paints that look alike under one light may
    differ under another. On these patches, each left out of the fit in turn, it is nearer than every chromatic
    adaptation that was tried (XYZ scaling, linear Bradford, CAT02, CAT16, Sharp, Fairchild): for D65 and 10 degree 1.7
    CIEDE2000 off, where linear Bradford is 2.9 off; for D65 and 2 degree 0.6 and 0.7; for A and 2 degree 1.7 and 1.9.

    Parameters
    ----------
    lab : ndarray, shape (n, 3)
    illuminant : str
        One of `ILLUMINANTS`.
    observer : int
        2 or 10.

    Returns
    -------
    lab : ndarray, shape (n, 3)
        For D50, 2 degree.
    error : float
        CIEDE2000 that the published patches are off, each left out in turn (root mean square).
    """
    patches = list(_colour_science().SDS_COLOURCHECKERS["BabelColor Average"].values())
    wavelengths, reflectance = patches[0].wavelengths, np.array([patch.values for patch in patches])
    # Each scaled to its own white: what is left is for the matrix.
    there = lab_to_xyz(lab_of_spectra(wavelengths, reflectance, illuminant, observer))
    here = lab_to_xyz(lab_of_spectra(wavelengths, reflectance))
    left_out = [there[k] @ _matrix(np.delete(there, k, 0), np.delete(here, k, 0)) for k in range(len(there))]
    off = delta_e_2000(xyz_to_lab(left_out), xyz_to_lab(here))
    return xyz_to_lab(lab_to_xyz(lab) @ _matrix(there, here)), float(np.sqrt((off**2).mean()))


def _matrix(there: Floats, here: Floats) -> Floats:
    """Return the matrix that takes tristimulus values there to those here by least squares, and white to white."""
    weight = (here[:, 1:2] + 0.03) ** (-2.0 / 3.0)  # about the slope of lightness
    white = _WHITE_WEIGHT * D50_XYZ
    matrix: Floats = np.linalg.lstsq(np.vstack([there * weight, white]), np.vstack([here * weight, white]))[0]
    return matrix


def lab_of_spectra(wavelengths: Floats, reflectance: Floats, illuminant: str = "D50", observer: int = 2) -> Floats:
    """Return CIELAB of spectral reflectances by ASTM E308.

    Parameters
    ----------
    wavelengths : ndarray, shape (k,)
        Nanometres, evenly spaced by one of `SPACINGS_NM`.
    reflectance : ndarray, shape (n, k)
        Reflectance factors, 1 for the perfect diffuser.
    illuminant : str
        One of `ILLUMINANTS`.
    observer : int
        2 or 10.

    Returns
    -------
    ndarray, shape (n, 3)
        CIELAB for that illuminant and observer.

    References
    ----------
    ASTM E308 as implemented by colour-science; the reflectance beyond the ends of the table is that at its ends.
    """
    colour = _colour_science()
    with_white = np.vstack([reflectance, np.ones(len(wavelengths))])
    spectra = colour.MultiSpectralDistributions(with_white.T, wavelengths)
    cmfs, light = colour.MSDS_CMFS[OBSERVERS[observer]], colour.SDS_ILLUMINANTS[illuminant]
    with warnings.catch_warnings():  # that the tables are brought to one spacing
        warnings.simplefilter("ignore", colour.utilities.ColourRuntimeWarning)
        xyz = colour.msds_to_XYZ(spectra, cmfs, light, method="ASTM E308") / 100.0
    return xyz_to_lab(xyz[:-1], xyz[-1])


def _colour_science() -> Any:
    """Load the library, which warns that it found no library for plots."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import colour
    return colour
