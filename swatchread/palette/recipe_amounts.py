"""From a recipe to amounts of the model's tubes and back."""

from __future__ import annotations

from dataclasses import dataclass

from swatchread.colour.cielab import Floats
from swatchread.errors import UsageError
from swatchread.note.phrases import plain
from swatchread.palette.fitted_palette import FittedPalette
from swatchread.palette.mixture_model import Mask
from swatchread.palette.pigment_prior import TOUCH_SHARE
from swatchread.palette.training_data import amounts_of, meaning, shares_of
from swatchread.recipes.amounts import Amount
from swatchread.recipes.recipe import Ingredient, Recipe, parse_recipe


@dataclass(frozen=True, eq=False)
class Mixture:
    """A recipe as amounts.

    Attributes
    ----------
    recipe : Recipe
        With a tube for every word.
    amounts : ndarray, shape (1, t)
        Shares that sum to 1; touches are among them.
    touches : ndarray of bool, shape (1, t)
    readings : tuple of (str, str)
        Words, and the tubes that they were taken for.
    """

    recipe: Recipe
    amounts: Floats
    touches: Mask
    readings: tuple[tuple[str, str], ...]


def tube_meant(words: str, palette: FittedPalette) -> str:
    """Return the tube of the palette that some words mean.

    Raises
    ------
    UsageError
        If it is none, or one of several.
    """
    match = palette.vocabulary.match(words)
    here = palette.collected.samples.tubes
    if match.name in here:
        return str(match.name)
    fitting = [name for name in (*match.names, words.casefold()) if name in here]
    fitting = fitting or [r for r in [palette.collected.readings.get(words.casefold())] if r is not None]
    if len(fitting) == 1:
        return fitting[0]
    if fitting:
        raise UsageError(f"“{plain(words)}” may mean {' or '.join(fitting)}", "your cards hold both", "Say which")
    known = ", ".join(here) or "none"
    raise UsageError(
        f"No recipe on your cards holds “{plain(words)}”", f"the tubes on them are: {known}", "Name only these tubes"
    )


def tubes_named(palette: FittedPalette, words: list[str] | tuple[str, ...]) -> tuple[str, ...]:
    """Return the tubes that some words name; without words, all that the cards hold.

    Raises
    ------
    UsageError
        If a word names none of them, or one of several.
    """
    if not words:
        return palette.collected.samples.tubes
    return tuple(dict.fromkeys(tube_meant(word, palette) for word in words))


def parse_query(text: str, palette: FittedPalette) -> Mixture:
    """Read a recipe in the painter's words as amounts of tubes that the cards hold.

    Raises
    ------
    UsageError
        If an amount is missing, or a tube is not on any card or is one of several.
    """
    recipe = parse_recipe(text, palette.vocabulary)
    if not recipe.ingredients:
        raise UsageError("The recipe is empty", "", 'Write it like "3 white + 1 ochre"')
    ingredients, readings = [], []
    for ingredient in recipe.ingredients:
        if ingredient.parts is Amount.UNSAID:
            raise UsageError(
                f"The recipe does not say how much {plain(ingredient.name)}", "", "Say it in parts, or as a touch"
            )
        name = meaning(ingredient, palette.collected.readings)
        if name not in palette.collected.samples.tubes:
            name = tube_meant(ingredient.name, palette)
        if name != ingredient.name:
            readings.append((plain(ingredient.name), name))
        ingredients.append(Ingredient(name, name, ingredient.parts, written=ingredient.written))
    return as_mixture(Recipe(tuple(ingredients), written=text), palette, tuple(readings))


def as_mixture(recipe: Recipe, palette: FittedPalette, readings: tuple[tuple[str, str], ...] = ()) -> Mixture:
    """Return a recipe of the palette's tubes as amounts.

    Raises
    ------
    UsageError
        If nothing but touches is in it.
    """
    names = palette.collected.samples.tubes
    amounts, touches = amounts_of([recipe.ingredients], [[i.name for i in recipe.ingredients]], names)
    if not amounts.any():
        raise UsageError("The recipe holds nothing but touches", "", "Say the other paints in parts")
    touch = palette.model.paints.touch if palette.model else TOUCH_SHARE
    return Mixture(recipe, shares_of(amounts, touches, touch), touches, readings)
