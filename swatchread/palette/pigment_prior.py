"""What is believed of a tube before any card is read: a rough spectrum, and how far the true one may depart from it.

Logarithms of K and S are drawn from Gaussian processes over wavelength, reduced to their leading shapes. Departures are
counted in standard deviations, so the belief itself is the unit Gaussian.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from functools import cache

import numpy as np

from swatchread.colour.cielab import Floats
from swatchread.colour.shipped_data import data_file
from swatchread.palette.kubelka_munk import BANDS, ratio_of_reflectance

UNKNOWN_REFLECTS = 0.15
"""Reflectance of a tube without a guess on file, at all wavelengths: a dark grey (assumed)."""
UNKNOWN_SCATTERS = 0.25
"""Scattering of such a tube, relative to white (assumed)."""
UNKNOWN_WIDER = 1.6
"""Factor on the departures of such a tube, which may have any colour (assumed)."""

TOUCH_SHARE = 0.03
"""A touch, as a share of the counted parts: 1 to 8 % within two standard deviations (common practice)."""
TOUCH_SPREAD = 0.5
"""Standard deviation of the logarithm of one touch (common practice, as above)."""
TOUCH_HABIT = 0.5
"""Standard deviation of the logarithm of a painter's usual touch (assumed)."""


@dataclass(frozen=True)
class Habits:
    """How exactly a painter's recipes foretell their paint; learnt from the cards, as are the tubes.

    Attributes
    ----------
    dosing : float
        Standard deviation of the logarithm of an amount in parts: 0.03 on scales, 0.15 by eye.
    theory_sd : float
        CIELAB units that the theory leaves unexplained of real paint.
    """

    dosing: float
    theory_sd: float


USUAL = Habits(dosing=0.1, theory_sd=0.5)
"""What is believed of a painter before any card is read (assumed)."""
HABITS_SPREAD = 0.7
"""Standard deviation of the logarithm of either, from painter to painter (assumed)."""


@dataclass(frozen=True)
class Shapes:
    """Leading shapes of the departures of ln K and ln S over `BANDS`, each one standard deviation high; (16, m)."""

    absorption: Floats
    scattering: Floats


@dataclass(frozen=True, eq=False)
class Belief:
    """What is believed of the tubes.

    Attributes
    ----------
    log_absorption, log_scattering : ndarray, shape (t, 16)
    stretch : ndarray, shape (t,)
        By how much the departures of this tube's absorption are stretched.
    shapes : Shapes
    """

    log_absorption: Floats
    log_scattering: Floats
    stretch: Floats
    shapes: Shapes

    @property
    def counts(self) -> tuple[int, int, int]:
        """Number of tubes, and of the shapes of K and of S that each of them has."""
        return len(self.log_absorption), self.shapes.absorption.shape[1], self.shapes.scattering.shape[1]

    @property
    def count(self) -> int:
        """Number of quantities to fit: the departures of K and S of each tube, the touch and the gloss."""
        t, k, s = self.counts
        return t * (k + s) + 2


@cache
def shapes() -> Shapes:
    """Return the shapes: K may turn quickly over wavelength, S only slowly (common practice)."""
    return Shapes(_leading(level=0.8, bend=0.9, length=45.0, count=8), _leading(0.6, 0.25, 120.0, 4))


def believe(tubes: tuple[str, ...]) -> Belief:
    """Return what is believed of some tubes.

    Parameters
    ----------
    tubes : tuple of str
        Names; one without a guess on file is taken for a wide grey.

    Returns
    -------
    Belief
    """
    wavelengths, guesses = _guesses()
    log_absorption, log_scattering = np.empty((len(tubes), len(BANDS))), np.empty((len(tubes), len(BANDS)))
    wide = np.ones(len(tubes))
    for i, name in enumerate(tubes):
        reflects, scatters = guesses.get(name, (np.full(len(wavelengths), UNKNOWN_REFLECTS), UNKNOWN_SCATTERS))
        wide[i] = 1.0 if name in guesses else UNKNOWN_WIDER
        R = np.exp(np.interp(BANDS, wavelengths, np.log(reflects)))
        log_scattering[i] = np.log(scatters)
        log_absorption[i] = np.log(ratio_of_reflectance(R)) + log_scattering[i]
    return Belief(log_absorption, log_scattering, wide, shapes())


def _leading(level: float, bend: float, length: float, count: int) -> Floats:
    apart = (BANDS[:, None] - BANDS[None, :]) / length
    covariance = level**2 + bend**2 * np.exp(-0.5 * apart**2)
    size, shape = np.linalg.eigh(covariance)
    leading: Floats = shape[:, ::-1][:, :count] * np.sqrt(size[::-1][:count])
    return leading


@cache
def _guesses() -> tuple[Floats, dict[str, tuple[Floats, float]]]:
    data = json.loads(data_file("pigment-guesses.json").read_text(encoding="utf-8"))
    tubes = {
        name: (np.array(guess["reflects"]) / 100.0, float(guess["scatters"])) for name, guess in data["tubes"].items()
    }
    return np.array(data["wavelengths"], dtype=np.float64), tubes
