"""Pigments that fade in light, told by the words of a recipe: an old swatch no longer shows the colour that was mixed.

Sources: R. Johnston-Feller, R. L. Feller, C. W. Bailie and M. Curran, "The kinetics of fading: opaque paint films
pigmented with alizarin lake and titanium dioxide", Journal of the American Institute for Conservation 23 (1984),
114–129; D. Saunders and J. Kirby, "Light-induced colour changes in red and yellow lake pigments", National Gallery
Technical Bulletin 15 (1994), 79–97.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import Final

from swatchread.recipes.tubes import tokens

_FADING: Final = {
    "alizarin crimson (PR83)": ("alizarin", "pr83", "crimson lake"),
    "madder lake (NR9)": ("madder lake", "rose madder", "nr9"),
    "cochineal lake (NR4)": ("cochineal", "carmine", "nr4"),
    "brazilwood lake": ("brazilwood",),
    "lac lake": ("lac lake",),
    "buckthorn yellow": ("buckthorn", "stil de grain", "dutch pink"),
    "quercitron yellow": ("quercitron",),
    "weld": ("weld",),
}
"""What is said to fade -> words that name it in a recipe. Madder fades slower than the rest."""

_LASTING: Final = r"(?<! permanent) (?:{words}) (?!(?:crimson |lake )?(?:hue|permanent) )"
"""How such words stand by themselves: "permanent alizarin" and "alizarin hue" are made of other pigments."""


def fading_pigments(recipes: Iterable[str]) -> tuple[str, ...]:
    """Return the pigments in some recipes that fade in light.

    Parameters
    ----------
    recipes : iterable of str
        As the painter wrote them.

    Returns
    -------
    tuple of str
        Each once, in the order of the table.
    """
    written = [f" {' '.join(tokens(recipe))} " for recipe in recipes]
    named = {name: re.compile(_LASTING.format(words="|".join(words))) for name, words in _FADING.items()}
    return tuple(name for name, words in named.items() if any(words.search(text) for text in written))
