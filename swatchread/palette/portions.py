"""A recipe in small whole parts, and what each tube comes to for an amount of the mixture: "15 ml in all"."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction

import numpy as np

from swatchread.errors import UsageError
from swatchread.note.phrases import plain
from swatchread.palette.whole_parts import effort, whole_parts
from swatchread.recipes.amounts import LEADING, PERCENT, Amount, read_amount
from swatchread.recipes.recipe import Ingredient, Recipe

_DOUBLING_WORTH = 0.01
"""Share by which an amount may be missed more to save one doubling of parts; nobody doses finer (assumed)."""
_MOST_IN_ALL = 100_000
"""Units of a mixture beyond which the amount is a slip of the pen."""


@dataclass(frozen=True)
class InAll:
    """How much of each mixture is wanted.

    Attributes
    ----------
    number : float
    unit : str
        As in recipes: ``ml``, ``g``, ``cm`` of tube; ``parts`` if none was named.
    """

    number: float
    unit: str

    def __str__(self) -> str:
        """Return it as a painter writes it: "15 ml"."""
        return f"{self.number:g} {self.unit}"


def parse_in_all(text: str) -> InAll | None:
    """Read how much is wanted: "15 ml", "40 g", "12 parts"; None for an empty text.

    Raises
    ------
    UsageError
        If it is no amount.
    """
    if not text.strip():
        return None
    found = LEADING.fullmatch(text.strip())
    quantity = read_amount(found) if found else None
    if quantity is not None and isinstance(quantity.parts, Fraction) and quantity.measure != PERCENT:
        number = float(quantity.parts)
        if 0.0 < number <= _MOST_IN_ALL:
            return InAll(number, quantity.measure or "parts")
    raise UsageError(f"“{plain(text)}” is no amount of paint", "", 'Say it like "15 ml", "40 g" or "12 parts"')


def in_whole_parts(recipe: Recipe) -> Recipe:
    """Write a recipe in small whole parts that are about as good as what it says; touches stay touches.

    Parameters
    ----------
    recipe : Recipe
        Each tube once, with an amount.
    """
    counted = [i for i in recipe.ingredients if isinstance(i.parts, Fraction)]
    if not counted:
        return recipe
    amounts = np.array([float(i.parts) for i in counted])
    if np.all(amounts % 1.0 == 0.0):  # the painter counts already
        best = amounts / np.gcd.reduce(amounts.astype(np.int64))
    else:
        ways = whole_parts(amounts)
        missed = np.ptp(np.log(ways / amounts), axis=1) / 2.0
        best = ways[int(np.argmin(missed + _DOUBLING_WORTH * effort(ways)))]
    of = {i.name: Fraction(int(parts)) for i, parts in zip(counted, best, strict=True)}
    return Recipe(tuple(Ingredient(i.name, i.tube, of.get(i.name, i.parts)) for i in recipe.ingredients))


def parts_said(recipe: Recipe) -> dict[str, str]:
    """Return tube -> parts, or ``"touch"``."""
    return {i.name: str(i.parts) for i in recipe.ingredients}


def portions(recipe: Recipe, in_all: InAll | None) -> dict[str, str]:
    """Return tube -> how much of it an amount of the mixture takes: "11.3 ml"; a touch stays one, and takes no room.

    Empty without an amount.
    """
    if in_all is None:
        return {}
    counted = {i.name: float(i.parts) for i in recipe.ingredients if isinstance(i.parts, Fraction)}
    each = in_all.number / sum(counted.values())
    return {
        i.name: f"{_rounded(counted[i.name] * each)} {in_all.unit}" if i.name in counted else str(Amount.TOUCH)
        for i in recipe.ingredients
    }


def portion_words(measured: Mapping[str, str]) -> str:
    """Write portions as a recipe: "11.3 ml titanium white + touch of viridian"."""
    return " + ".join(f"{p} of {tube}" if p == Amount.TOUCH else f"{p} {tube}" for tube, p in measured.items())


def _rounded(number: float) -> str:
    """Write an amount as finely as it can be measured out: to a tenth, or to a hundredth below one."""
    return f"{number:.1f}" if number >= 1.0 else f"{number:.2f}"
