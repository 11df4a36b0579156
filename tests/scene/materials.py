"""Invented reflectances of the things about the card, and their camera values under the scene's light or lights."""

import numpy as np

from . import camera, paints
from .spectra import GRID_NM


def _ramp(centre, width, low, high):
    return low + (high - low) / (1 + np.exp(-(GRID_NM - centre) / width))


def things():
    """Reflectances (71,) by name."""
    one = np.ones(GRID_NM.size)
    return {
        "frame": 0.036 * one,
        "pencil": 0.16 * one,
        "ink black": 0.045 * one,
        "ink blue": _ramp(480, 20, 0.30, 0.06) + 0 * one,
        "tape": _ramp(500, 40, 0.55, 0.74),
        "masking": _ramp(505, 30, 0.38, 0.68),
        "wood light": _ramp(560, 60, 0.22, 0.56),
        "wood dark": _ramp(590, 50, 0.07, 0.26),
        "slate": 0.055 * one,
        "slate light": 0.09 * one,
        "laminate": 0.78 * one,
        "laminate shade": 0.70 * one,
        "metal": 0.48 * one,
        "bristle": _ramp(600, 50, 0.06, 0.20),
        "rag": _ramp(450, 60, 0.5, 0.62),
        "rag stain": _ramp(590, 25, 0.12, 0.45),
        "skin": _ramp(585, 22, 0.22, 0.58),
        "white": one,
    }


class Palette:
    """Camera values of reflectances: 3 channels, or 6 when a second light shines."""

    def __init__(self, spec):
        self.spec = spec
        self.lights = [spec.light, *([spec.second_light] if spec.second_light else [])]
        self._things = things()

    @property
    def channels(self):
        return 3 * len(self.lights)

    def of(self, reflectance):
        """Camera values (..., channels) float32 of reflectances (..., 71)."""
        parts = [camera.responses(reflectance, self.spec.camera, light) for light in self.lights]
        return np.concatenate(parts, axis=-1).astype(np.float32)

    def __getitem__(self, name):
        return self.of(self._things[name])

    def tube(self, rng, white=0.0):
        """Draw a bright printed or painted colour."""
        bright = (
            "viridian",
            "cadmium red",
            "cadmium yellow",
            "ultramarine",
            "quinacridone rose",
            "phthalo green",
        )
        name = bright[rng.integers(len(bright))]
        return self.of(paints.mix({name: 1.0, "titanium white": white}))
