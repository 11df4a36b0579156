"""Invented reflectances of the things about the card, and their camera values under the scene's light or lights."""

import numpy as np

from . import camera, paints
from .paints import edge
from .spectra import GRID_NM


def things():
    """Reflectances (71,) by name."""
    one = np.ones(GRID_NM.size)
    return {
        "frame": 0.036 * one,
        "pencil": 0.16 * one,
        "ink black": 0.045 * one,
        "ink blue": edge(480, 20, 0.30, 0.06) + 0 * one,
        "tape": edge(500, 40, 0.55, 0.74),
        "masking": edge(505, 30, 0.38, 0.68),
        "wood light": edge(560, 60, 0.22, 0.56),
        "wood dark": edge(590, 50, 0.07, 0.26),
        "slate": 0.055 * one,
        "slate light": 0.09 * one,
        "laminate": 0.78 * one,
        "laminate shade": 0.70 * one,
        "metal": 0.48 * one,
        "bristle": edge(600, 50, 0.06, 0.20),
        "rag": edge(450, 60, 0.5, 0.62),
        "rag stain": edge(590, 25, 0.12, 0.45),
        "skin": edge(585, 22, 0.22, 0.58),
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
        name = paints.BRIGHT[rng.integers(len(paints.BRIGHT))]
        return self.of(paints.mix({name: 1.0, "titanium white": white}))
