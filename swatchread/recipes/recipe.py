"""Recipes: the painter's own words become parts of tubes, and parts are written as words again.

A recipe is read as it is written. What it leaves open is never guessed: it is listed in `Recipe.doubts`, and the
ingredient has no tube or the amount `Amount.UNSAID`.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from fractions import Fraction

from swatchread.recipes.amounts import PERCENT, Amount, Parts, Quantity
from swatchread.recipes.recipe_splitting import Piece, split_recipe
from swatchread.recipes.tubes import TubeList

MAX_RECIPE_LETTERS = 1000
WHOLE_PERCENT = 100
_REFERS = re.compile(
    r"\s*(?:(?:[↑↓←→⇒\"″〃]|->|<-|\bditto\b|\bdo\.|\bidem\b)[\s.]*)+(?=$|[+,;&]|but\b|plus\b|with\b)"
    r"|\s*(?:the\s+)?(?:same\s+)?as\s+(?:above|before|left|below|r\d+c\d+)\b"
    r"|\s*(?:the\s+)?same\s*(?=$|[+,;]|but\b|plus\b|with\b)",
    re.IGNORECASE,
)
"""A recipe that says no more than that it is another swatch's: "same as above", "ditto", an arrow."""
_SPOKEN = frozenset({2, 3, 4, 6, 8})
"""Denominators of fractions that are written as such: 1/2, 2/3."""

_FINEST = 1000
"""Denominator of the finest amount that is written as a decimal number."""

_DECIMAL_POINT = re.compile(r"(?:\d[.,]|(?<!\S)\.)\d")

_LARGE = 1_000_000
"""Amounts from here on are written as they are stored; a mixture has none."""


@dataclass(frozen=True, slots=True)
class Doubt:
    """Something a recipe leaves open.

    Parameters
    ----------
    code : str
        ``ambiguous_tube``, ``unknown_tube``, ``amount``, ``amount_unsaid``, ``percentages``,
        ``measures``, ``ratio``, ``twice``, ``refers`` or ``too_long``.
    about : str
        The words that it is about.
    message : str
        What to tell the painter.
    """

    code: str
    about: str
    message: str


@dataclass(frozen=True, slots=True)
class Ingredient:
    """One paint of a mixture.

    Parameters
    ----------
    name : str
        The tube's name, or the painter's words if they do not mean exactly one tube.
    tube : str or None
        The tube's name if exactly one is meant.
    parts : fractions.Fraction or Amount
        Relative amount, exact and >= 0; ``Amount.TOUCH`` for a touch, ``Amount.UNSAID`` if it is not given.
    possible : tuple of str
        The tubes that the words fit if they fit several.
    written : str
        The painter's words; two ingredients may be equal without them.
    """

    name: str
    tube: str | None
    parts: Parts
    possible: tuple[str, ...] = ()
    written: str = field(default="", compare=False)


@dataclass(frozen=True, slots=True)
class Recipe:
    """A mixture.

    Parameters
    ----------
    ingredients : tuple of Ingredient
        In the order written.
    doubts : tuple of Doubt
        What is open; two recipes may be equal without it.
    written : str
        The whole text as it was written; two recipes may be equal without it.
    """

    ingredients: tuple[Ingredient, ...]
    doubts: tuple[Doubt, ...] = field(default=(), compare=False)
    written: str = field(default="", compare=False)

    @property
    def tubes(self) -> tuple[str, ...]:
        """Names of the tubes that are certainly in it."""
        return tuple(dict.fromkeys(i.tube for i in self.ingredients if i.tube is not None))


def parse_recipe(text: str, tubes: TubeList) -> Recipe:
    """Read a recipe in the painter's own words.

    It may hold lists ("3 titanium white + 1 yellow ochre + touch cad red"; also commas, "and", "with"),
    ratios ("2:1 white ochre", "white:ochre 2:1"), whole numbers, fractions (½, 1/2, 1 1/2), decimals, number
    words, percentages, ml, g, cm and other measures (all of one kind), and a touch, dot, bit … of something.

    Parameters
    ----------
    text : str
        At most 1000 characters; a longer text is not read, and a doubt says so.
    tubes : TubeList

    Returns
    -------
    Recipe
        Without ingredients if the text is empty.
    """
    if len(text) > MAX_RECIPE_LETTERS:
        message = f"longer than {MAX_RECIPE_LETTERS} characters: not read as a recipe"
        return Recipe((), (Doubt("too_long", text[:40], message),), text)
    if _REFERS.match(text):
        message = f"“{text.strip()}” points at another swatch: write the recipe out"
        return Recipe((), (Doubt("refers", text.strip(), message),), text)
    split, misfits = split_recipe(text, tubes)
    doubts = [Doubt("ratio", words, message) for words, message in misfits]
    pieces = _check_measures(_check_percentages(split, doubts), doubts)
    ingredients = tuple(_ingredient(piece, len(pieces) == 1, tubes, doubts) for piece in pieces)
    names = [ingredient.name for ingredient in ingredients]
    doubts.extend(
        Doubt("twice", name, f"{name} is named more than once")
        for name in dict.fromkeys(names)
        if names.count(name) > 1
    )
    return Recipe(ingredients, tuple(doubts), text)


def tube_words(text: str, tubes: TubeList) -> tuple[str, ...]:
    """Return the words for tubes in a recipe, each once, whatever they mean; none for a text that is no recipe.

    Parameters
    ----------
    text : str
    tubes : TubeList
        Tells where one name ends and the next begins when nothing separates them.
    """
    if len(text) > MAX_RECIPE_LETTERS or _REFERS.match(text):
        return ()
    pieces, _ = split_recipe(text, tubes)
    return tuple(dict.fromkeys(" ".join(piece.name.split()) for piece in pieces))


def format_recipe(recipe: Recipe) -> str:
    """Write a recipe plainly: "3 titanium white + 1/2 yellow ochre + touch of viridian".

    An amount that was not given is written "?". Reading the result gives the same ingredients.

    Parameters
    ----------
    recipe : Recipe

    Returns
    -------
    str
    """
    # All amounts of a recipe are written alike: 6.3 + 0.5, not 6.3 + 1/2; and 3.5 as the painter wrote it.
    weighed = any(isinstance(i.parts, Fraction) and _is_weighed(i.parts) for i in recipe.ingredients)
    decimal = weighed or _DECIMAL_POINT.search(recipe.written) is not None
    return " + ".join(f"{format_parts(i.parts, decimal=decimal)} {i.name}" for i in recipe.ingredients)


def format_parts(parts: Parts, *, decimal: bool = False) -> str:
    """Return an amount as `format_recipe` writes it: "3", "1/2", "1 1/2", "5.7", "touch of" or "?".

    Halves, thirds and quarters are written as fractions, or as decimal numbers if `decimal` is set; tenths and finer
    amounts are always written as decimal numbers.
    """
    if not isinstance(parts, Fraction):
        return "touch of" if parts is Amount.TOUCH else "?"
    if parts.denominator > 1 and parts < _LARGE:
        if _FINEST % parts.denominator == 0 and (decimal or _is_weighed(parts)):
            return f"{float(parts):.3f}".rstrip("0")
        whole, rest = divmod(parts, 1)
        if whole and parts.denominator in _SPOKEN:
            return f"{whole} {rest}"
    return str(parts)


def _is_weighed(parts: Fraction) -> bool:
    return parts.denominator > 1 and parts.denominator not in _SPOKEN and _FINEST % parts.denominator == 0


def _ingredient(piece: Piece, alone: bool, tubes: TubeList, doubts: list[Doubt]) -> Ingredient:
    match = tubes.match(piece.name)
    name = match.name or " ".join(piece.name.split())
    if match.name is None:
        doubts.append(_tube_doubt(name, match.names, tubes))
    amount = piece.amount
    parts: Parts = Amount.UNSAID
    if amount is not None:
        parts = amount.parts
        if amount.doubt:
            code = "amount_unsaid" if parts is Amount.UNSAID else "amount"
            doubts.append(Doubt(code, piece.written, amount.doubt.replace("{paint}", name)))
    elif alone:
        parts = Fraction(1)  # a paint by itself is the whole mixture
    else:
        doubts.append(Doubt("amount_unsaid", piece.written, f"how much {name} is not said"))
    if match.name is None and parts is not Amount.UNSAID and not _reads_back(parts, name, tubes):
        parts = Amount.UNSAID
        doubts.append(Doubt("amount_unsaid", piece.written, f"“{name}” cannot be told from an amount"))
    return Ingredient(name, match.name, parts, match.names if match.name is None else (), piece.written)


def _reads_back(parts: Parts, name: str, tubes: TubeList) -> bool:
    pieces, _ = split_recipe(f"{format_parts(parts)} {name}", tubes)
    return len(pieces) == 1 and pieces[0].name == name and pieces[0].amount == Quantity(parts)


def _tube_doubt(name: str, possible: tuple[str, ...], tubes: TubeList) -> Doubt:
    if possible:
        return Doubt("ambiguous_tube", name, f"“{name}” could be {', '.join(possible)}")
    near = tubes.like(name)
    hint = f" (is {near[0]} meant?)" if near else ""
    return Doubt("unknown_tube", name, f"“{name}” is not in the list of tubes{hint}")


def _numbers(pieces: tuple[Piece, ...]) -> list[Quantity]:
    """Return the amounts that are given as numbers."""
    return [p.amount for p in pieces if p.amount and isinstance(p.amount.parts, Fraction)]


def _check_percentages(pieces: tuple[Piece, ...], doubts: list[Doubt]) -> tuple[Piece, ...]:
    """Doubt percentages that are mixed with parts, which stay open, or that do not add up to 100."""
    numbers = _numbers(pieces)
    percents = [amount for amount in numbers if amount.measure == PERCENT]
    if not percents:
        return pieces
    if len(percents) < len(numbers):
        doubts.append(Doubt("percentages", "%", "percentages and parts are mixed: the percentages stay open"))
        return tuple(p.left_open() if p.amount and p.amount.measure == PERCENT else p for p in pieces)
    total = sum(amount.parts for amount in percents if isinstance(amount.parts, Fraction))
    if total != WHOLE_PERCENT:
        doubts.append(Doubt("percentages", "%", f"the percentages add up to {float(total):g}, not 100"))
    return pieces


def _check_measures(pieces: tuple[Piece, ...], doubts: list[Doubt]) -> tuple[Piece, ...]:
    """Take amounts in one measure as parts; leave them open if there are several, which cannot be converted."""
    measures = list(dict.fromkeys(amount.measure or "parts" for amount in _numbers(pieces)))
    if len(measures) < 2:
        return pieces
    doubts.append(Doubt("measures", measures[0], f"{' and '.join(measures)} are mixed: the amounts stay open"))
    return tuple(p.left_open() if p.amount and isinstance(p.amount.parts, Fraction) else p for p in pieces)
