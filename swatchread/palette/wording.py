"""The painter's words for a difference and for what to do about it."""

from __future__ import annotations

from typing import Final

import numpy as np

from swatchread.colour.cielab import Floats, delta_e_2000, lab_to_lch, value_of_lab
from swatchread.palette.answer_records import AddedTube
from swatchread.palette.fitted_palette import FittedPalette
from swatchread.palette.hue_family import hue_word
from swatchread.palette.recipe_search import Proposal
from swatchread.recipes.recipe import format_recipe

_A_TOUCH = 2.5
"""CIEDE2000 below which a difference is called "a touch" (our convention)."""
_MUCH = 9.0
"""CIEDE2000 above which a difference is called "much too" (our convention)."""
_CLEARLY_CHROMA = 1.5
"""Ratio of the change in chroma to that in hue above which only the chroma is named (our convention)."""
VISIBLE: Final = 0.8
"""CIEDE2000 that half of the observers see (Paravina et al. 2015, dental ceramics)."""
LEAVE_IT: Final = "no difference that the eye and these readings can show: leave it"
_PINK_FROM = 6.0
"""Munsell value from which a red lean is called pink (common practice)."""


def difference_words(start: Floats, target: Floats, uncertainty: float) -> str:
    """Say how a mixture differs from the colour wanted: "too pink and a touch light".

    Parameters
    ----------
    start, target : ndarray, shape (3,)
        CIELAB, D50, 2 degree.
    uncertainty : float
        CIEDE2000 below which a part of the difference is not named.

    Returns
    -------
    str
        Empty if every part lies within the uncertainty.
    """
    clear = [(size, word) for size, word in (_value(start, target), _colour(start, target)) if size > uncertainty]
    clear.sort(key=lambda part: -part[0])
    return " and ".join(f"{_how_much(size)} {word}" for size, word in clear)


def addition_words(additions: tuple[AddedTube, ...]) -> str:
    """Say what to add: "1 part yellow ochre to 12 of the mixture, then a dot of viridian"."""
    said = []
    for number, a in enumerate(additions):
        mixture = "the mixture" if number == 0 else "what you began with"
        parts = f"{a.parts} part{'' if a.parts == 1 else 's'}"
        said.append(f"{parts} {a.tube} to {a.of_mixture} of {mixture}" if a.parts != "dot" else f"a dot of {a.tube}")
    return ", then ".join(said)


def nudge_words(start: Floats, target: Floats, additions: tuple[AddedTube, ...], clear: float) -> str:
    """Say in one line how a mixture differs from the colour wanted, and what to add.

    Parameters
    ----------
    start, target : ndarray, shape (3,)
        CIELAB, D50, 2 degree.
    additions : tuple of AddedTube
    clear : float
        CIEDE2000 up to which the difference may be noise, or is not seen.
    """
    if delta_e_2000(start, target) <= clear:
        return LEAVE_IT
    words = difference_words(start, target, clear) or "a touch off"
    advice = addition_words(additions) or "no addition of these tubes is sure to bring it nearer"
    return f"{words}: {advice}"


def afresh_words(recipe: Proposal, expected_de00: float) -> str:
    """Say that mixing afresh is better than adding, and by how much.

    Parameters
    ----------
    recipe : Proposal
    expected_de00 : float
        CIEDE2000 to be expected after the additions, or as the mixture is.
    """
    nearer = f"expect ΔE00 {recipe.expected_de00:.1f} instead of {expected_de00:.1f}"
    return f"; better mix it afresh, {format_recipe(recipe.recipe)}: {nearer}"


def trust_words(palette: FittedPalette) -> str:
    """Say in one line how far the model was off on cards left out; empty if no card could be left out."""
    if palette.held is None:
        return ""
    de00 = palette.held.de00
    return (
        f"Tested on {len(de00)} of your own swatches, each calculated from the other cards alone: half came within "
        f"ΔE00 {palette.held.median:.1f} of the paint, nine in ten within {np.quantile(de00, 0.9):.1f} "
        f"(the nearest mixture on those cards: half within {palette.held.nearest_de00:.1f})."
    )


def _value(start: Floats, target: Floats) -> tuple[float, str]:
    same = np.array([target[0], start[1], start[2]])
    return float(delta_e_2000(start, same)), "light" if start[0] > target[0] else "dark"


def _colour(start: Floats, target: Floats) -> tuple[float, str]:
    level = np.array([target[0], start[1], start[2]])
    size = float(delta_e_2000(level, target))
    da, db = start[1:] - target[1:]
    more = float(lab_to_lch(start)[1] - lab_to_lch(target)[1])
    across = float(np.sqrt(max(da**2 + db**2 - more**2, 0.0)))
    if abs(more) > _CLEARLY_CHROMA * across:
        return size, "strong in colour" if more > 0 else "grey"
    towards = float(np.degrees(np.arctan2(db, da)) % 360.0)
    word = hue_word(towards)
    if word == "red" and value_of_lab(start) >= _PINK_FROM:
        word = "pink"
    return size, word


def _how_much(size: float) -> str:
    if size < _A_TOUCH:
        return "a touch"
    return "too" if size < _MUCH else "much too"
