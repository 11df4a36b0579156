"""Opaque layers of paint from absorption and scattering: Kubelka & Munk (1931) with Saunderson's surface (1942)."""

import numpy as np

from .spectra import GRID_NM

# Saunderson's internal and external surface reflection for n = 1.5 (k1 0.040, k2 0.596), specular excluded; of the
# outer reflection the matt paint surface scatters this share back into the camera.
_K1, _K2, _MATT = 0.040, 0.596, 0.45


def layer(absorb, scatter):
    """Reflectance (..., 71) of an opaque layer of absorption and scattering (..., 71)."""
    ratio = absorb / scatter
    inner = 1 + ratio - np.sqrt(ratio * (ratio + 2))
    return _MATT * _K1 + (1 - _K1) * (1 - _K2) * inner / (1 - _K2 * inner)


def edge(centre, width, low, high):
    """Reflectance (71,) that rises from `low` to `high` about a wavelength, as a logistic curve."""
    return low + (high - low) / (1 + np.exp(-(GRID_NM - centre) / width))


def bump(centre, width, height):
    """Gaussian band (71,)."""
    return height * np.exp(-0.5 * ((GRID_NM - centre) / width) ** 2)


def from_masstone(reflectance, scatter):
    """Absorption and scattering (71,) of a paint that looks like `reflectance` alone."""
    return scatter * (1 - reflectance) ** 2 / (2 * reflectance), np.full(GRID_NM.size, scatter)
