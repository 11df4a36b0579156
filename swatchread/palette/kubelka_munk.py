"""Kubelka-Munk theory of opaque paint, and what its surface does to the light.

Reflectances are factors, 0 to 1, at each wavelength; K is absorption and S scattering, in any one unit.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from swatchread.colour.cielab import Floats

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
    R = np.asarray(R, dtype=np.float64)
    return np.asarray((1.0 - R) ** 2 / (2.0 * R))


def reflectance_of_ratio(ratio: npt.ArrayLike) -> Floats:
    """Return the internal reflectance R∞ = 1 + K/S - √((K/S)² + 2 K/S) of an opaque layer.

    Parameters
    ----------
    ratio : array_like
        K/S, 0 or more.
    """
    q = np.asarray(ratio, dtype=np.float64)
    # The same as the handbook's expression, without its loss of digits for a dark paint.
    return np.asarray(1.0 / (1.0 + q + np.sqrt(q * (q + 2.0))))


def add_surface(R: npt.ArrayLike, gloss: float = 1.0, k1: float = K1, k2: float = K2) -> Floats:
    """Return what is measured of a layer of internal reflectance R: Saunderson's correction.

    Parameters
    ----------
    R : array_like
        Internal reflectance.
    gloss : float, 0 to 1
        Share of the outer reflection that reaches the instrument: 1 with the specular part included.
    k1, k2 : float
        Reflection at the surface from outside and from inside.

    References
    ----------
    J. L. Saunderson (1942), JOSA 32, 727-736.
    """
    R = np.asarray(R, dtype=np.float64)
    return np.asarray(gloss * k1 + (1.0 - k1) * (1.0 - k2) * R / (1.0 - k2 * R))


def remove_surface(measured: npt.ArrayLike, gloss: float = 1.0, k1: float = K1, k2: float = K2) -> Floats:
    """Return the internal reflectance of a measured one: the inverse of `add_surface`."""
    under = np.asarray(measured, dtype=np.float64) - gloss * k1
    return np.asarray(under / ((1.0 - k1) * (1.0 - k2) + k2 * under))


def masstone_and_tint(masstone: npt.ArrayLike, tint: npt.ArrayLike, white: npt.ArrayLike, share: float) -> Floats:
    """Return a tube's K and S from its masstone and one tint, where the white's S is 1.

    Parameters
    ----------
    masstone, tint, white : array_like, shape (b,)
        K/S of the tube alone, of its mixture with white, and of the white.
    share : float
        The tube's share in the tint, between 0 and 1.

    Returns
    -------
    ndarray, shape (2, b)
        K and S.

    References
    ----------
    R. S. Berns, Billmeyer and Saltzman's Principles of Color Technology (2019), 4th ed., masstone-tint method.
    """
    m, t, w = (np.asarray(x, dtype=np.float64) for x in (masstone, tint, white))
    S = (1.0 - share) * (t - w) / (share * (m - t))
    return np.stack([m * S, S])


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
    return np.asarray((amounts @ K) / (amounts @ S))
