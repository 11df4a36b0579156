"""The camera: sensor values of materials, and the rendering from sensor values to the file's code values and back."""

from dataclasses import dataclass
from functools import cache

import colour
import cv2
import numpy as np

from . import spectra

_RIDGE = 5e-5
_LUMA = np.array([0.25, 0.65, 0.10])


@cache
def colour_space(name):
    """colour-science's record of a space: IEC 61966-2-1 (sRGB), SMPTE EG 432-1 (Display P3), IEC 61966-2-5 (opRGB)."""
    return colour.RGB_COLOURSPACES[{"opRGB": "Adobe RGB (1998)"}.get(name, name)]


@cache
def rgb_to_xyz(space):
    """Matrix from linear RGB of a space to XYZ (D65, white Y = 1), unrounded."""
    known = colour_space(space)
    return colour.normalised_primary_matrix(known.primaries, known.whitepoint)


def adaptation(white, other):
    """Bradford's matrix (Lam 1985) from one white's XYZ to another's."""
    return colour.adaptation.matrix_chromatic_adaptation_VonKries(white, other, transform="Bradford")


def responses(reflectances, camera, light):
    """Camera raw values (..., 3) of reflectances (..., 71): a perfect white has green 1."""
    weights = spectra.camera_sensitivity(camera) * spectra.light_spectrum(light)[:, None]
    return np.asarray(reflectances) @ weights / weights[:, 1].sum()


def _fitted(camera, light, space):
    """White-balanced camera -> linear RGB under one light: least squares on the training samples, white kept white."""
    samples = spectra.training_reflectances()
    white = responses(np.ones(spectra.GRID_NM.size), camera, light)
    source = responses(samples, camera, light) / white
    light_white = spectra.xyz_of(np.ones(spectra.GRID_NM.size), light)
    adapt = adaptation(light_white, rgb_to_xyz(space).sum(axis=1))
    target = spectra.xyz_of(samples, light) @ adapt.T @ np.linalg.inv(rgb_to_xyz(space)).T
    # Each row sums to 1, so that white stays white: green takes what red and blue leave. A little ridge towards no
    # mixing keeps the noise of strongly overlapping sensors in bounds, as cameras do.
    basis, ridge = source[:, [0, 2]] - source[:, [1]], _RIDGE * len(source) * np.eye(2)
    unmixed = np.array([[1.0, 0, 0], [0, 0, 1.0]])
    part = np.linalg.solve(basis.T @ basis + ridge, basis.T @ (target - source[:, [1]]) + ridge @ unmixed).T
    return np.stack([part[:, 0], 1 - part.sum(1), part[:, 1]], axis=1)


def _warmth(light):
    """Where a light stands between D65 (0) and A (1), by the blue over the red of the observer's own white."""
    x, _, z = spectra.xyz_of(np.ones(spectra.GRID_NM.size), light)
    ends = [np.log(z / x) for x, _, z in (spectra.xyz_of(np.ones(spectra.GRID_NM.size), n) for n in ("D65", "A"))]
    return float(np.clip((ends[0] - np.log(z / x)) / (ends[0] - ends[1]), 0, 1))


def colour_matrix(camera, light, space):
    """As cameras do: the matrices fitted under D65 and A, blended by the warmth of the light."""
    warm = _warmth(light)
    return (1 - warm) * _fitted(camera, "D65", space) + warm * _fitted(camera, "A", space)


@dataclass(frozen=True)
class Tone:
    """Global tone curve: lift with a shoulder, a toe, the space's own encoding, then an S in code values."""

    lift: float
    shoulder: float
    toe: float
    contrast: float
    space: str

    def __call__(self, linear):
        """Linear 0…1 -> code 0…1, monotone, 0 -> 0 and 1 -> 1."""
        a, p, b, small = self.lift, self.shoulder, self.toe, 0.02
        y = a * linear / (1 + (a**p - 1) * linear**p) ** (1 / p)
        y = y * (y + b * small) / (y + small) * (1 + small) / (1 + b * small)
        e = colour_space(self.space).cctf_encoding(y)
        return e + self.contrast * e * (1 - e) * (2 * e - 1)


def draw_tone(rng, style, space):
    """Draw the parameters of a tone curve of one style."""
    if style == "plain":
        return Tone(1.0, 2.0, 1.0, 0.0, space)
    lift, toe, contrast = {
        "phone-soft": ((1.2, 1.6), (0.75, 0.95), (0.05, 0.18)),
        "phone-contrast": ((1.1, 1.4), (0.5, 0.7), (0.22, 0.38)),
        "phone-bright": ((1.6, 2.1), (0.7, 0.9), (0.05, 0.15)),
    }[style]
    return Tone(rng.uniform(*lift), rng.uniform(1.8, 3.0), rng.uniform(*toe), rng.uniform(*contrast), space)


@dataclass(frozen=True)
class Rendering:
    """From exposed sensor values to code values, and back.

    Attributes
    ----------
    exposure : sensor full scale per unit of `responses`.
    gains : (3,) white-balance gains, least one is 1.
    matrix : (3, 3) white-balanced camera -> linear RGB.
    tone : the global tone curve.
    saturation : push in code values about the luma.
    """

    exposure: float
    gains: np.ndarray
    matrix: np.ndarray
    tone: Tone
    saturation: float

    @property
    def push(self):
        """Saturation matrix (3, 3) on code values."""
        return self.saturation * np.eye(3) + (1 - self.saturation) * np.ones((3, 1)) * _LUMA

    @property
    def table(self):
        """The tone curve as a table over 16-bit linear values, float32 (65536,)."""
        return self.tone(np.linspace(0, 1, 65536)).astype(np.float32)

    def develop(self, sensor, table, gain=None):
        """Sensor values (h, w, 3) float32 of full scale -> code values float32, unclipped above the push."""
        balanced = np.minimum(np.clip(sensor, 0, 1) * self.gains.astype(np.float32), np.float32(1))
        linear = cv2.transform(balanced, self.matrix)
        if gain is not None:
            linear *= gain[..., None]
        np.clip(linear, 0, 1, out=linear)
        return cv2.transform(np.take(table, (linear * 65535 + 0.5).astype(np.uint16)), self.push)

    def undo(self, code, gain=1.0):
        """Code values (..., 3) in 0…1 -> camera values in the units of `responses`, at the light that fell there."""
        plain = np.asarray(code, float) @ np.linalg.inv(self.push).T
        grid = np.linspace(0, 1, 65536)
        linear = np.interp(plain, self.tone(grid), grid) / np.asarray(gain)[..., None]
        return linear @ np.linalg.inv(self.matrix).T / self.gains / self.exposure


def draw_rendering(spec):
    """White balance, matrix and curve of a spec's camera under the spec's light."""
    rng = np.random.default_rng([spec.seed, 21])
    one = np.ones(spectra.GRID_NM.size)
    white = responses(one, spec.camera, spec.light)
    daylight = responses(one, spec.camera, "D55")
    error = np.exp(rng.normal(0, spec.white_balance_error, 3))
    if spec.white_balance == "none":
        gains, light = 1 / daylight, "D55"
    elif spec.white_balance == "correct":
        gains, light = 1 / white, spec.light
    else:
        # Cameras leave some of a warm light's cast, and guess the rest with a small error: both as seen in the
        # rendered white, for the matrix of a strongly overlapping sensor magnifies an error made before it.
        light, cast = spec.light, white / daylight
        wanted = error * (cast / cast[1]) ** (1 - rng.uniform(0.75, 1.0))
        gains = np.linalg.solve(colour_matrix(spec.camera, light, spec.space), wanted) / white
    gains = gains / gains.min()
    matrix = colour_matrix(spec.camera, light, spec.space)
    # Metered on the white, balanced and rendered.
    brightest = max((white * gains).max(), (matrix @ (white * gains)).max())
    return Rendering(
        exposure=0.80 * 2.0**spec.exposure / float(brightest),
        gains=gains,
        matrix=matrix,
        tone=draw_tone(rng, spec.tone, spec.space),
        saturation=spec.saturation,
    )
