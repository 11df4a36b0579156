"""A recipe in small whole parts, and what each tube comes to for an amount of the mixture: "15 ml in all"."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction

import numpy as np

from swatchread.colour.cielab import Floats
from swatchread.errors import UsageError
from swatchread.note.phrases import plain
from swatchread.palette.whole_parts import effort, whole_parts
from swatchread.recipes.amounts import LEADING, PERCENT, Amount, read_amount
from swatchread.recipes.recipe import Ingredient, Recipe

_DOUBLING_WORTH = 0.01
"""Share by which an amount may be missed more to save one doubling of parts; nobody doses finer (assumed)."""
_STEP = 0.5
"""Of whatever unit: the least that a hand squeezes out or weighs with some certainty (common practice)."""
_NEAR_ENOUGH = 0.08
"""Factor by which portions in such steps may miss the parts either way; nobody doses finer (assumed)."""
_MORE = 1.5
"""Times the amount wanted, up to which more is mixed so that the least part can be measured out (our choice)."""
_DOZEN = 12
_MOST_TOTALS = 200
"""Totals that are tried; where they are large, the first of them is near enough."""
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


def is_counted(recipe: Recipe) -> bool:
    """Tell whether a recipe is written in parts that a painter counts out: whole ones, up to a dozen of each."""
    counted = [i.parts for i in recipe.ingredients if isinstance(i.parts, Fraction)]
    return all(parts.denominator == 1 and parts <= _DOZEN for parts in counted)


def parts_said(recipe: Recipe) -> dict[str, str]:
    """Return tube -> parts, or ``"touch"``."""
    return {i.name: str(i.parts) for i in recipe.ingredients}


def portions(recipe: Recipe, in_all: InAll | None) -> dict[str, str]:
    """Return tube -> how much of it an amount of the mixture takes, in half units: "11.5 ml".

    Where the least part would be too small to be measured, up to half as much again is mixed; where even that is not
    enough, the part is "under 0.5 ml". A touch stays one, and takes no room. Empty without an amount.
    """
    if in_all is None:
        return {}
    counted = {i.name: float(i.parts) for i in recipe.ingredients if isinstance(i.parts, Fraction)}
    measured = dict(zip(counted, _measured_out(np.array(list(counted.values())), in_all.number), strict=True))
    said = {name: f"{amount:g}" if amount else f"under {_STEP:g}" for name, amount in measured.items()}
    return {
        i.name: f"{said[i.name]} {in_all.unit}" if i.name in said else str(Amount.TOUCH) for i in recipe.ingredients
    }


def portion_words(measured: Mapping[str, str], in_all: InAll) -> str:
    """Write portions in the order of their recipe: "11.5 + 3.5 ml"; and what they come to where that is more."""
    amounts = [amount.removesuffix(f" {in_all.unit}") for amount in measured.values() if amount != Amount.TOUCH]
    touches = " + touch" * (len(measured) - len(amounts))
    total = sum(float(amount) for amount in amounts if not amount.startswith("under"))
    more = f", {total:g} {in_all.unit} in all" if total > in_all.number + _STEP else ""
    return f"{' + '.join(amounts)} {in_all.unit}{touches}{more}"


def _measured_out(parts: Floats, wanted: float) -> Floats:
    """Return the amounts in half units that keep the proportions of some parts, for the wanted total or a little more.

    The smallest total that keeps them well enough is taken, else the one that keeps them best; the wanted one if in all
    of them the least part comes to nothing.
    """
    first = int(np.ceil(wanted / _STEP - 1e-9))
    totals = np.arange(first, max(first, int(wanted * _MORE / _STEP)) + 1)[:_MOST_TOTALS]
    steps = np.rint(totals[:, None] * parts / parts.sum())
    missed = np.ptp(np.log(np.maximum(steps, 1.0) / parts), axis=1) / 2.0
    missed[(steps == 0.0).any(axis=1)] = np.inf
    near = np.flatnonzero(missed <= _NEAR_ENOUGH)
    amounts: Floats = steps[near[0] if len(near) else int(np.argmin(missed))] * _STEP
    return amounts
