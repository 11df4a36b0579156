"""Cautions for the recipes that a command names: where one of them holds a pigment that can hurt, or that fades."""

from __future__ import annotations

import re
from collections.abc import Iterable

from swatchread.note.phrases import CARE, plain
from swatchread.recipes.fading import fading_pigments
from swatchread.recipes.recipe import parse_recipe
from swatchread.recipes.tubes import TubeList, load_tubes

_FADES = "These fade in light, so an old swatch may be paler and yellower than the mixture was"
"""Alizarin lake mixed with white turns to a yellow form that fades in turn (Johnston-Feller and others, 1984)."""

_NUMBER = re.compile(r"\d+")


def cautions_of(recipes: Iterable[str], tubes: TubeList | None = None) -> tuple[str, ...]:
    """Return the general caution and one for each kind of dangerous pigment, and a word on those that fade.

    Of words that may mean a dangerous tube among others, one line says so.

    Parameters
    ----------
    recipes : iterable of str
        As the painter wrote them.
    tubes : TubeList, optional
        Under the painter's own words; by default the tubes that come with the program.

    Returns
    -------
    tuple of str
        Sentences; none if no recipe names such a pigment.
    """
    # Recipes that differ in their amounts alone name the same tubes; understanding one of them is enough.
    wanted = {_NUMBER.sub("", text): text for recipe in recipes if (text := plain(recipe))}
    if not wanted:
        return ()
    known = tubes or load_tubes()
    parsed = (parse_recipe(text, known) for text in wanted.values())
    names = tuple(dict.fromkeys(one.tube or one.name for each in parsed for one in each.ingredients))
    found, possible = known.cautions(names), known.possible_cautions(names)
    told = [f"{line[:1].upper()}{line[1:]}." for line in (*found, *possible)]
    fading = fading_pigments(wanted.values())
    aged = [f"{_FADES}: {', '.join(fading)}."] if fading else []
    return (CARE, *told, *aged) if found else (*told, *aged)
