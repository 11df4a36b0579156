"""Cautions for the recipes that a command names: only where one of them holds a pigment that can hurt."""

from __future__ import annotations

import re
from collections.abc import Iterable

from swatchread.note.phrases import CARE, plain
from swatchread.recipes.recipe import parse_recipe
from swatchread.recipes.tubes import load_tubes

_NUMBER = re.compile(r"\d+")


def cautions_of(recipes: Iterable[str]) -> tuple[str, ...]:
    """Return the general caution and one for each kind of dangerous pigment; nothing if no recipe names any.

    Parameters
    ----------
    recipes : iterable of str
        As the painter wrote them.

    Returns
    -------
    tuple of str
        Sentences.
    """
    # Recipes that differ in their amounts alone name the same tubes; understanding one of them is enough.
    wanted = {_NUMBER.sub("", text): text for recipe in recipes if (text := plain(recipe))}
    if not wanted:
        return ()
    listed = load_tubes()
    tubes = tuple(dict.fromkeys(tube for text in wanted.values() for tube in parse_recipe(text, listed).tubes))
    found = listed.cautions(tubes)
    return (CARE, *(f"{line[:1].upper()}{line[1:]}." for line in found)) if found else ()
