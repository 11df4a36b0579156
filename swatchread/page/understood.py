"""How a recipe was understood, told while it is being written."""

from __future__ import annotations

from dataclasses import dataclass

from swatchread.recipes.recipe import format_recipe, parse_recipe
from swatchread.recipes.tubes import TubeList


@dataclass(frozen=True, slots=True)
class Understood:
    """What to tell about a recipe.

    Parameters
    ----------
    plain : str
        As it was understood; empty if nothing is written.
    doubts : tuple of str
        What it leaves open.
    cautions : tuple of str
        What is harmful in it.
    """

    plain: str
    doubts: tuple[str, ...]
    cautions: tuple[str, ...]


def tell_recipe(text: str, tubes: TubeList) -> Understood:
    """Say how a recipe is understood."""
    recipe = parse_recipe(text, tubes)
    doubts = tuple(doubt.message for doubt in recipe.doubts)
    return Understood(format_recipe(recipe), doubts, tubes.cautions(recipe.tubes))
