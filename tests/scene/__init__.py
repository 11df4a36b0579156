"""A seeded, spectral simulator of phone photos of swatch cards, with known truth; shares no code with the reader."""

from .dng import save_dng
from .faults import ordinary_spec
from .files import save
from .render import Scene, draw
from .sampling import chartless_spec, colour_spec, easy_spec, finding_spec, pair_specs, shot_specs
from .spec import SceneSpec
from .truth import SwatchTruth, Truth

__all__ = [
    "Scene",
    "SceneSpec",
    "SwatchTruth",
    "Truth",
    "chartless_spec",
    "colour_spec",
    "draw",
    "easy_spec",
    "finding_spec",
    "ordinary_spec",
    "pair_specs",
    "save",
    "save_dng",
    "shot_specs",
]
