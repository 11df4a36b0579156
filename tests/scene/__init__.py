"""A seeded, spectral simulator of phone photos of swatch cards, with known truth; shares no code with the reader."""

from .render import Scene, draw
from .spec import SceneSpec
from .truth import SwatchTruth, Truth

__all__ = ["Scene", "SceneSpec", "SwatchTruth", "Truth", "draw"]
