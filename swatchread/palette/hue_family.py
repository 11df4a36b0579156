"""Families of hue: what a run of mixtures keeps to, so that the shadow of a flesh colour is not a green."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from swatchread.colour.cielab import Floats, lab_to_lch, value_of_lab
from swatchread.errors import UsageError
from swatchread.note.phrases import plain

HUES: Final = (("red", 0.0), ("orange", 50.0), ("yellow", 90.0), ("green", 165.0), ("blue", 260.0), ("violet", 320.0))
"""Words for directions in the a*, b* plane, in degrees (our convention, common practice)."""
ANY: Final = "any"
"""What to ask for where a run may mix all hues."""
_HALF_WIDTH = 35.0
"""Degrees of hue to either side; a flesh run goes from about 35 in the shadow to 80 in the light (from memory)."""
_NEUTRAL = 6.0
"""C*ab up to which a mixture has no hue to speak of and suits every family (assumed)."""
_VALUE_BIN = 0.5
"""Munsell value; a family is as large as the part of the scale that its mixtures cover."""
_ENOUGH = 3
"""Mixtures in one bin of value beyond which more do not make a family larger."""


@dataclass(frozen=True)
class HueFamily:
    """A range of hue.

    Attributes
    ----------
    name : str
        The nearest of the words in `HUES`.
    hue : float
        Its middle, in degrees of h_ab (CIELAB, D50).
    half_width : float
        Degrees to either side.
    """

    name: str
    hue: float
    half_width: float = _HALF_WIDTH

    def holds(self, lab: Floats) -> npt.NDArray[np.bool_]:
        """Tell which colours, shape (..., 3), belong to the family; near-greys belong to each."""
        held: npt.NDArray[np.bool_] = self.shows(lab) | (lab_to_lch(lab)[..., 1] <= _NEUTRAL)
        return held

    def shows(self, lab: Floats) -> npt.NDArray[np.bool_]:
        """Tell which colours, shape (..., 3), have a hue, and one of the family."""
        _, chroma, hue = np.moveaxis(lab_to_lch(lab), -1, 0)
        off = np.abs((hue - self.hue + 180.0) % 360.0 - 180.0)
        shown: npt.NDArray[np.bool_] = (off <= self.half_width) & (chroma > _NEUTRAL)
        return shown


def hue_word(degrees: float) -> str:
    """Return the word for a direction in the a*, b* plane."""
    return min(HUES, key=lambda hue: abs((degrees - hue[1] + 180.0) % 360.0 - 180.0))[0]


def check_hue(word: str) -> str:
    """Return a word for a family of hue in small letters; empty for the painter's largest.

    Raises
    ------
    UsageError
        If it is not one of them.
    """
    asked = word.strip().casefold()
    words = [name for name, _ in HUES]
    if asked in {"", ANY, *words}:
        return asked
    raise UsageError(f"“{plain(word)}” is no family of hue", "", f"Say {', '.join(words)}, or {ANY} for all of them")


def find_family(labs: Floats, asked: str = "") -> HueFamily | None:
    """Return the family that a run keeps to.

    Parameters
    ----------
    labs : ndarray, shape (n, 3)
        Recorded mixtures, CIELAB, D50, 2 degree.
    asked : str
        A word of `HUES`, `ANY`, or empty for the family that covers most of the scale of values.

    Returns
    -------
    HueFamily or None
        None if any hue will do, or no mixture has one.
    """
    if asked == ANY:
        return None
    if asked:
        return HueFamily(asked, dict(HUES)[asked])
    _, chroma, hue = lab_to_lch(labs).T
    centres = hue[chroma > _NEUTRAL]
    if not len(centres):
        return None
    value = np.floor(value_of_lab(labs) / _VALUE_BIN).astype(int)
    families = [_centred(labs[chroma > _NEUTRAL], float(centre)) for centre in centres]
    return max(families, key=lambda family: _size(family, labs, value))


def _centred(labs: Floats, hue: float) -> HueFamily:
    """Return the family whose middle is the mean hue of the mixtures around a hue."""
    around = labs[HueFamily("", hue).holds(labs)]
    unit = around[:, 1:] / np.hypot(*around[:, 1:].T)[:, None]
    middle = float(np.degrees(np.arctan2(*unit.mean(axis=0)[::-1])) % 360.0)
    return HueFamily(hue_word(middle), middle)


def _size(family: HueFamily, labs: Floats, value: npt.NDArray[np.intp]) -> tuple[int, int]:
    held = family.holds(labs)
    return int(np.minimum(np.bincount(value[held]), _ENOUGH).sum()), int(held.sum())
