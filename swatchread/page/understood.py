"""How a recipe is understood, to be told while it is typed."""

from __future__ import annotations

from dataclasses import dataclass

from swatchread.recipes.recipe import format_recipe, parse_recipe
from swatchread.recipes.tubes import TubeList


@dataclass(frozen=True, slots=True)
class Understood:
    """A recipe as it was understood.

    Parameters
    ----------
    plain : str
        The recipe written plainly; empty if there is none.
    doubts : tuple of str
        What it leaves open.
    cautions : tuple of str
        The hazards of its paints.
    """

    plain: str
    doubts: tuple[str, ...]
    cautions: tuple[str, ...]


def tell_recipe(text: str, tubes: TubeList) -> Understood:
    """Return how a recipe is understood."""
    recipe = parse_recipe(text, tubes)
    doubts = tuple(doubt.message for doubt in recipe.doubts)
    return Understood(format_recipe(recipe), doubts, tubes.cautions(recipe.tubes))
