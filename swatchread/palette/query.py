"""From a recipe to amounts of the model's tubes and back."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

import numpy as np

from swatchread.colour.cielab import Floats
from swatchread.errors import UsageError
from swatchread.note.phrases import plain
from swatchread.palette.fitted_palette import FittedPalette
from swatchread.palette.mixture_model import Mask
from swatchread.palette.pigment_prior import TOUCH_SHARE
from swatchread.palette.training_swatches import meaning
from swatchread.recipes.amounts import Amount
from swatchread.recipes.recipe import Ingredient, Recipe, parse_recipe
from swatchread.recipes.tubes import TubeList


@dataclass(frozen=True, eq=False)
class Mixture:
    """A recipe as amounts.

    Attributes
    ----------
    recipe : Recipe
        With every word settled.
    amounts : ndarray, shape (1, t)
        Shares; a touch already put in.
    touches : ndarray of bool, shape (1, t)
    readings : tuple of (str, str)
        Words, and the tubes that they were taken for.
    """

    recipe: Recipe
    amounts: Floats
    touches: Mask
    readings: tuple[tuple[str, str], ...]


def tube_meant(words: str, studio: FittedPalette, tubes: TubeList) -> str:
    """Return the tube of the studio that some words mean.

    Raises
    ------
    UsageError
        If it is none, or one of several.
    """
    match = tubes.match(words)
    here = studio.collected.samples.tubes
    if match.name in here:
        return str(match.name)
    fitting = [name for name in (*match.names, words.casefold()) if name in here]
    fitting = fitting or [r for r in [studio.collected.readings.get(words.casefold())] if r is not None]
    if len(fitting) == 1:
        return fitting[0]
    if fitting:
        raise UsageError(f"“{plain(words)}” may mean {' or '.join(fitting)}", "your cards hold both", "Say which")
    known = ", ".join(here) or "none"
    raise UsageError(
        f"No recipe on your cards holds “{plain(words)}”", f"the tubes on them are: {known}", "Name these tubes alone"
    )


def parse_query(text: str, studio: FittedPalette, tubes: TubeList) -> Mixture:
    """Read a recipe in the painter's words as amounts of tubes that the cards hold.

    Raises
    ------
    UsageError
        If an amount is missing, or a tube is not on any card or is one of several.
    """
    recipe = parse_recipe(text, tubes)
    if not recipe.ingredients:
        raise UsageError("The recipe is empty", "", 'Write it like "3 white + 1 ochre"')
    settled, readings = [], []
    for ingredient in recipe.ingredients:
        if ingredient.parts is Amount.UNSAID:
            raise UsageError(f"How much {plain(ingredient.name)} is not said", "", "Say it in parts, or as a touch")
        name = meaning(ingredient, studio.collected.readings)
        if name not in studio.collected.samples.tubes:
            name = tube_meant(ingredient.name, studio, tubes)
        if name != ingredient.name:
            readings.append((plain(ingredient.name), name))
        settled.append(Ingredient(name, name, ingredient.parts, written=ingredient.written))
    return as_mixture(Recipe(tuple(settled), written=text), studio, tuple(readings))


def as_mixture(recipe: Recipe, studio: FittedPalette, readings: tuple[tuple[str, str], ...] = ()) -> Mixture:
    """Return a settled recipe as amounts of the studio's tubes.

    Raises
    ------
    UsageError
        If nothing but touches is in it.
    """
    names = studio.collected.samples.tubes
    amounts, touches = np.zeros((1, len(names))), np.zeros((1, len(names)), dtype=bool)
    for ingredient in recipe.ingredients:
        place = names.index(ingredient.name)
        if isinstance(ingredient.parts, Fraction):
            amounts[0, place] += float(ingredient.parts)
        else:
            touches[0, place] = True
    touches &= amounts == 0.0
    told = amounts.sum()
    if told <= 0.0:
        raise UsageError("Nothing but touches is in the recipe", "", "Say the other paints in parts")
    touch = studio.model.paints.touch if studio.model else TOUCH_SHARE
    amounts = amounts + touches * touch * told
    return Mixture(recipe, amounts / amounts.sum(), touches, readings)
