"""Recipes: the painter's own words to parts, and back.

A recipe is read as it stands. What it leaves open stays open: it is listed in `Recipe.doubts` and in the
ingredient itself (no tube, `Amount.UNSAID`), and is never settled by a guess.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from difflib import get_close_matches
from fractions import Fraction

from swatchread.recipes.amounts import PERCENT, Amount, Parts, Read
from swatchread.recipes.recipe_splitting import Piece, split_recipe
from swatchread.recipes.tubes import TubeList, tokens

MAX_RECIPE_LETTERS = 1000
WHOLE_PERCENT = 100
_SPOKEN = frozenset({2, 3, 4, 6, 8})
_FINEST = 1000
_LARGE = 1_000_000


@dataclass(frozen=True, slots=True)
class Doubt:
    """Something a recipe leaves open.

    Parameters
    ----------
    code : str
        ``ambiguous_tube``, ``unknown_tube``, ``part_of_name``, ``amount``, ``amount_unsaid``,
        ``percentages``, ``measures``, ``ratio``, ``twice`` or ``too_long``.
    about : str
        The words in question.
    message : str
        For the painter.
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
        The tube's name, or the painter's words where no single tube is meant.
    tube : str or None
        The tube's name if exactly one is meant.
    parts : fractions.Fraction or Amount
        Relative amount, exact and >= 0; ``Amount.TOUCH`` for a touch, ``Amount.UNSAID`` if not told.
    possible : tuple of str
        Where the words fit several tubes: these.
    written : str
        The painter's words; not compared.
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
        What is open; not compared.
    written : str
        The whole text as written; not compared.
    """

    ingredients: tuple[Ingredient, ...]
    doubts: tuple[Doubt, ...] = field(default=(), compare=False)
    written: str = field(default="", compare=False)

    @property
    def is_clear(self) -> bool:
        """Whether nothing is left open."""
        return not self.doubts

    @property
    def tubes(self) -> tuple[str, ...]:
        """Names of the tubes that are surely in it."""
        return tuple(dict.fromkeys(i.tube for i in self.ingredients if i.tube is not None))


def parse_recipe(text: str, tubes: TubeList) -> Recipe:
    """Read a recipe in the painter's own words.

    Understood are lists ("3 titanium white + 1 yellow ochre + touch cad red"; also commas, "and", "with"),
    ratios ("2:1 white ochre", "white:ochre 2:1"), whole numbers, fractions (½, 1/2, 1 1/2), decimals, number
    words, percentages, ml, g, cm and other measures (all of one kind), and a touch, dot, bit … of something.

    Parameters
    ----------
    text : str
        At most 1000 characters; of a longer text nothing is read and the doubt says so.
    tubes : TubeList

    Returns
    -------
    Recipe
        Without ingredients if the text is empty.
    """
    if len(text) > MAX_RECIPE_LETTERS:
        message = f"longer than {MAX_RECIPE_LETTERS} characters: not read as a recipe"
        return Recipe((), (Doubt("too_long", text[:40], message),), text)
    split = split_recipe(text, tubes)
    doubts = [Doubt("ratio", words, message) for words, message in split.doubts]
    pieces = _settle_measures(_settle_percentages(split.pieces, doubts), doubts)
    ingredients = tuple(_ingredient(piece, len(pieces) == 1, tubes, doubts) for piece in pieces)
    names = [ingredient.name for ingredient in ingredients]
    doubts.extend(
        Doubt("twice", name, f"{name} is named more than once")
        for name in dict.fromkeys(names)
        if names.count(name) > 1
    )
    return Recipe(ingredients, tuple(doubts), text)


def format_recipe(recipe: Recipe) -> str:
    """Write a recipe plainly: "3 titanium white + 1/2 yellow ochre + touch of viridian".

    An amount that is not said is written "?". Reading the result again gives the same ingredients.

    Parameters
    ----------
    recipe : Recipe

    Returns
    -------
    str
    """
    # One way of writing in one recipe: 6.3 + 0.5, not 6.3 + 1/2.
    decimal = any(isinstance(i.parts, Fraction) and _is_weighed(i.parts) for i in recipe.ingredients)
    return " + ".join(f"{format_parts(i.parts, decimal=decimal)} {i.name}" for i in recipe.ingredients)


def format_parts(parts: Parts, *, decimal: bool = False) -> str:
    """Return an amount as `format_recipe` writes it: "3", "1/2", "1 1/2", "5.7", "touch of" or "?".

    Halves, thirds and quarters are written as they are spoken, unless `decimal` asks for 0.5; tenths and finer as the
    decimal numbers they came from.
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
    elif match.how == "part":
        doubts.append(Doubt("part_of_name", piece.name, f"“{piece.name}” is read as {name}"))
    amount = piece.amount
    parts: Parts = Amount.UNSAID
    if amount is not None:
        parts = amount.parts
        if amount.doubt:
            code = "amount_unsaid" if parts is Amount.UNSAID else "amount"
            doubts.append(Doubt(code, piece.written, amount.doubt.replace("{paint}", name)))
    elif alone:
        parts = Fraction(1)  # one paint by itself: its share is the whole
    else:
        doubts.append(Doubt("amount_unsaid", piece.written, f"how much {name} is not said"))
    if match.name is None and parts is not Amount.UNSAID and not _reads_back(parts, name, tubes):
        parts = Amount.UNSAID
        doubts.append(Doubt("amount_unsaid", piece.written, f"“{name}” cannot be told from an amount"))
    return Ingredient(name, match.name, parts, match.names if match.name is None else (), piece.written)


def _reads_back(parts: Parts, name: str, tubes: TubeList) -> bool:
    pieces = split_recipe(f"{format_parts(parts)} {name}", tubes).pieces
    return len(pieces) == 1 and pieces[0].name == name and pieces[0].amount == Read(parts)


def _tube_doubt(name: str, possible: tuple[str, ...], tubes: TubeList) -> Doubt:
    if possible:
        return Doubt("ambiguous_tube", name, f"“{name}” could be {', '.join(possible)}")
    known = [tube.name for tube in tubes.tubes]
    near = get_close_matches(" ".join(tokens(name)), known, n=1, cutoff=0.8)
    hint = f" (is {near[0]} meant?)" if near else ""
    return Doubt("unknown_tube", name, f"“{name}” is not in the list of tubes{hint}")


def _numbers(pieces: tuple[Piece, ...]) -> list[Read]:
    """Return the amounts that are numbers."""
    return [p.amount for p in pieces if p.amount and isinstance(p.amount.parts, Fraction)]


def _settle_percentages(pieces: tuple[Piece, ...], doubts: list[Doubt]) -> tuple[Piece, ...]:
    told = _numbers(pieces)
    percents = [amount for amount in told if amount.measure == PERCENT]
    if not percents:
        return pieces
    if len(percents) < len(told):
        doubts.append(Doubt("percentages", "%", "percentages and parts are mixed: the percentages stay open"))
        return tuple(p.left_open() if p.amount and p.amount.measure == PERCENT else p for p in pieces)
    total = sum(amount.parts for amount in percents if isinstance(amount.parts, Fraction))
    if total != WHOLE_PERCENT:
        doubts.append(Doubt("percentages", "%", f"the percentages add up to {float(total):g}, not 100"))
    return pieces


def _settle_measures(pieces: tuple[Piece, ...], doubts: list[Doubt]) -> tuple[Piece, ...]:
    """Take amounts of one measure for parts; of several, nobody knows how many of one make one of the other."""
    measures = list(dict.fromkeys(amount.measure or "parts" for amount in _numbers(pieces)))
    if len(measures) < 2:
        return pieces
    doubts.append(Doubt("measures", measures[0], f"{' and '.join(measures)} are mixed: the amounts stay open"))
    return tuple(p.left_open() if p.amount and isinstance(p.amount.parts, Fraction) else p for p in pieces)
