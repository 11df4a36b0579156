"""Spectra on one wavelength grid: lights, observers, cameras, chart."""

from functools import cache

import colour
import numpy as np
from colour.quality.cfi2017 import load_TCS_CIE2017
from scipy.interpolate import PchipInterpolator
from scipy.ndimage import gaussian_filter1d
from scipy.optimize import brentq

GRID_NM = np.arange(380.0, 731.0, 5.0)

# Lights that are not among colour-science's CIE illuminants under the same name.
_SOURCES = {"TL84": "Philips TL-84"}
_PLANCKIAN_K = {"B3200": 3200.0}

#: Measured cameras (NPL, carried by colour-science) and invented smooth sensors with an infrared-cut filter.
CAMERAS = ("nikon-5100-npl", "sigma-sdmerill-npl", "invented-phone-a", "invented-phone-b", "invented-phone-c")

# Invented sensors: per channel a list of (peak nm, width nm, height); then the infrared cut (nm, steepness nm).
_INVENTED = {
    "invented-phone-a": (
        [(600, 34, 1.0), (445, 22, 0.07)],
        [(533, 40, 1.0)],
        [(462, 28, 1.0), (530, 30, 0.06)],
        (655, 9),
    ),
    "invented-phone-b": (
        [(612, 40, 1.0), (540, 40, 0.16)],
        [(525, 46, 1.0), (610, 30, 0.10)],
        [(455, 33, 1.0)],
        (670, 12),
    ),
    "invented-phone-c": (
        [(590, 38, 1.0), (430, 25, 0.12)],
        [(540, 36, 1.0), (470, 26, 0.13)],
        [(470, 30, 1.0)],
        (640, 8),
    ),
}


def _held(data):
    """Spectral data of colour-science on the grid by cubic interpolation; the end values hold beyond its domain."""
    return PchipInterpolator(data.domain, data.values)(np.clip(GRID_NM, data.domain[0], data.domain[-1]))


@cache
def light_spectrum(name):
    """Relative spectral power of a light on the grid, shape (71,), scaled to luminance 1."""
    if name in _PLANCKIAN_K:
        # Planck's law, second radiation constant 1.4388e-2 m K (CODATA).
        metres = GRID_NM * 1e-9
        power = metres**-5 / np.expm1(1.4388e-2 / (metres * _PLANCKIAN_K[name]))
    else:
        source = colour.SDS_LIGHT_SOURCES[_SOURCES[name]] if name in _SOURCES else colour.SDS_ILLUMINANTS[name]
        power = _held(source)
    return power / (power @ observer()[:, 1])


@cache
def observer():
    """CIE 1931 2° colour-matching functions on the grid, shape (71, 3)."""
    cmfs = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"]
    return cmfs.values[np.isin(cmfs.domain, GRID_NM)]


@cache
def camera_sensitivity(name):
    """Spectral sensitivities R, G, B of a camera on the grid, shape (71, 3), peak 1 per channel."""
    if name in _INVENTED:
        *channels, (cut, steep) = _INVENTED[name]
        curves = [
            sum(h * np.exp(-0.5 * ((GRID_NM - peak) / width) ** 2) for peak, width, h in lobes) for lobes in channels
        ]
        ends = 1 / (1 + np.exp((GRID_NM - cut) / steep)) / (1 + np.exp((405 - GRID_NM) / 6))
        return np.stack(curves, axis=1) * ends[:, None]
    key = {"nikon-5100-npl": "Nikon 5100 (NPL)", "sigma-sdmerill-npl": "Sigma SDMerill (NPL)"}[name]
    data = colour.MSDS_CAMERA_SENSITIVITIES[key]
    measured = PchipInterpolator(data.domain, data.values, extrapolate=False)(GRID_NM)
    return np.maximum(np.nan_to_num(measured), 0.0)


@cache
def chart_reflectances():
    """Reflectances of the 24 patches, (24, 71): the averaged measurements in colour-science."""
    return np.stack([_held(patch) for patch in colour.SDS_COLOURCHECKERS["BabelColor Average"].values()])


@cache
def training_reflectances():
    """Reflectances for fitting camera matrices, shape (99, 71): the CIE 2017 colour fidelity samples, not the chart."""
    samples = load_TCS_CIE2017(colour.SpectralShape(380, 780, 5))
    rows = np.searchsorted(samples.domain, GRID_NM)
    return np.clip(samples.values[rows].T, 0.0, 1.0)


def strip_reflectances(size, seed):
    """Reflectances (rows × columns, 71) of a home-made strip: four greys, then muted and strong chips in turn.

    The chips are CIE 2017 colour fidelity samples, drawn to differ; the strip's order is drawn too.
    """
    rng = np.random.default_rng([seed, 71])
    samples = training_reflectances()[rng.permutation(99)]
    lab = lab_of(samples)
    muted = np.hypot(lab[:, 1], lab[:, 2]) < 40
    chosen = [*(np.array([0.82, 0.40, 0.16, 0.045])[:, None] * np.ones(GRID_NM.size))]
    while len(chosen) < size[0] * size[1]:
        apart = np.linalg.norm(lab[:, None] - lab_of(np.array(chosen))[None], axis=-1).min(1)
        fits = (muted == (len(chosen) % 2 == 0)) & (lab[:, 0] > 15)
        chosen.append(samples[int(np.argmax(apart * fits))])
    return np.array(chosen)[rng.permutation(len(chosen))]


def xyz_of(reflectance, light="D50"):
    """XYZ (white Y = 1) of reflectances (..., 71) under a light, CIE 1931 2° observer."""
    return reflectance @ (observer() * light_spectrum(light)[:, None])


def lab_of(reflectance):
    """CIELAB of reflectances (..., 71): CIE D50, 2° observer, white = the perfect diffuser."""
    return lab_of_xyz(xyz_of(reflectance))


def lab_of_xyz(xyz):
    """CIELAB of XYZ under D50, white Y = 1."""
    return colour.XYZ_to_Lab(xyz, colour.XYZ_to_xy(xyz_of(np.ones(GRID_NM.size))))


def delta_e_2000(lab_1, lab_2):
    """CIEDE2000 by colour-science (another implementation than the reader's)."""
    return colour.delta_E(*np.broadcast_arrays(lab_1, lab_2), method="CIE 2000")


def shift_lightness(reflectance, shift):
    """Move CIELAB L* of one reflectance (71,) by `shift` with a power law (keeps the spectrum's shape and 0…1)."""
    if shift == 0:
        return reflectance
    wanted = lab_of(reflectance)[0] + shift
    return reflectance ** brentq(lambda power: lab_of(reflectance**power)[0] - wanted, 0.05, 20.0)


def smooth_curve(rng):
    """Return a random smooth curve over the grid, shape (71,), about unit size, without detail below 80 nm."""
    curve = gaussian_filter1d(rng.standard_normal(GRID_NM.size + 60), 16.0)[30:-30]
    return curve / max(np.abs(curve).max(), 1e-9)
