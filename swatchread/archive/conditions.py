"""A question to the archive, and its conditions in SQL."""

from __future__ import annotations

from dataclasses import dataclass
from math import inf
from typing import Any

from sqlalchemy import ColumnElement, Select, and_, or_, select

from swatchread.archive.munsell_range import MunsellRange
from swatchread.archive.note_rows import search_key
from swatchread.archive.same_colour import VISIBLE_DE00
from swatchread.archive.tables import CardRow, IngredientRow, ReadingRow, RecipeRow, SwatchRow
from swatchread.errors import UsageError
from swatchread.recipes.tubes import TubeList


@dataclass(frozen=True, slots=True)
class Near:
    """A colour to look round.

    Parameters
    ----------
    lab : (L, a, b)
        CIELAB, D50, 2 degree.
    radius : float or None
        Largest CIEDE2000; None for any.
    uncertainty_de00 : float
        One-sigma CIEDE2000 of this colour; 0 for one given exactly.
    visible : float
        CIEDE2000 up to which two colours count as one.
    swatch : (str, str) or None
        If it is a card's swatch: the photo's SHA-256 and the swatch's id. It is not its own answer.
    own_de00 : float
        If so: the part of its uncertainty that is its own; towards swatches of the same photo the shared rest
        falls out.
    """

    lab: tuple[float, float, float]
    radius: float | None = None
    uncertainty_de00: float = 0.0
    visible: float = VISIBLE_DE00
    swatch: tuple[str, str] | None = None
    own_de00: float = 0.0


@dataclass(frozen=True, slots=True)
class Query:
    """What is asked; every part that is given must hold.

    Parameters
    ----------
    near : Near, optional
        Order by CIEDE2000 from a colour.
    value : (float, float), optional
        Lowest and highest Munsell value.
    munsell : MunsellRange, optional
    temperature, relative, lean : str, optional
        As in a note.
    sitter, medium : str, optional
        The whole sitter; part of the medium. Case is ignored.
    days : (int, int), optional
        First and last day, YYYYMMDD; a card counts if its date may lie between.
    with_tubes : tuple of str
        Each must be in the recipe, or may be (an ambiguous word counts).
    without_tubes : tuple of str
        None may be in the recipe; swatches without a recipe don't count.
    text : tuple of str
        Each must occur in the recipe or in the card's own words.
    every_reading : bool
        Ask older readings too.
    limit : int or None
        At most so many answers; None for all.
    """

    near: Near | None = None
    value: tuple[float, float] | None = None
    munsell: MunsellRange | None = None
    temperature: str | None = None
    relative: str | None = None
    lean: str | None = None
    sitter: str | None = None
    medium: str | None = None
    days: tuple[int, int] | None = None
    with_tubes: tuple[str, ...] = ()
    without_tubes: tuple[str, ...] = ()
    text: tuple[str, ...] = ()
    every_reading: bool = False
    limit: int | None = 20

    def __post_init__(self) -> None:
        if self.limit is not None and self.limit < 1:
            raise UsageError("At least one answer must be asked for")
        if self.near and self.near.radius is not None and not self.near.radius >= 0.0:
            raise UsageError("A radius cannot be negative")
        if self.near and not 0.0 < self.near.visible < inf:
            raise UsageError("What counts as alike must be a difference above 0")
        if self.days and self.days[0] > self.days[1]:
            raise UsageError("The days asked for end before they begin")


def conditions(query: Query, tubes: TubeList) -> list[ColumnElement[bool]]:
    """Return a query's conditions on `SwatchRow`, but for the colour."""
    found = [*_swatch_conditions(query), *_card_conditions(query)]
    found += [_said(words) for words in query.text]
    found += [SwatchRow.recipe_id.in_(_recipes_with(words, tubes)) for words in query.with_tubes]
    if query.without_tubes:
        found.append(SwatchRow.recipe_id.is_not(None))
        found += [SwatchRow.recipe_id.not_in(_recipes_with(words, tubes)) for words in query.without_tubes]
    if query.near and query.near.swatch:
        found.append(_not_itself(query.near.swatch))
    return found


def _swatch_conditions(query: Query) -> list[ColumnElement[bool]]:
    found: list[ColumnElement[bool]] = []
    if not query.every_reading:
        found.append(SwatchRow.newest == 1)
    if query.value:
        found.append(SwatchRow.value.between(*query.value))
    if query.munsell:
        found += _munsell(query.munsell)
    for column, asked in (
        (SwatchRow.temperature, query.temperature),
        (SwatchRow.relative, query.relative),
        (SwatchRow.lean, query.lean),
    ):
        if asked is not None:
            found.append(column == asked)
    return found


def _card_conditions(query: Query) -> list[ColumnElement[bool]]:
    found: list[ColumnElement[bool]] = []
    if query.sitter is not None:
        found.append(ReadingRow.sitter_key == search_key(query.sitter))
    if query.medium is not None:
        found.append(ReadingRow.medium_key.contains(search_key(query.medium), autoescape=True))
    if query.days:
        first, last = query.days
        found += [ReadingRow.date_first <= last, ReadingRow.date_last >= first]
    return [SwatchRow.reading_id.in_(select(ReadingRow.id).where(*found))] if found else []


def _said(words: str) -> ColumnElement[bool]:
    """Whether a text occurs in the recipe or in the card's own words."""
    key = search_key(words)
    recipes = select(RecipeRow.id).where(RecipeRow.words.contains(key, autoescape=True))
    readings = select(ReadingRow.id).where(ReadingRow.words.contains(key, autoescape=True))
    return or_(SwatchRow.recipe_id.in_(recipes), SwatchRow.reading_id.in_(readings))


def _not_itself(swatch: tuple[str, str]) -> ColumnElement[bool]:
    """Leave out a card's own swatch, in every reading of it."""
    itself = (
        select(SwatchRow.id)
        .join(CardRow, CardRow.id == SwatchRow.card_id)
        .where(CardRow.photo_sha256 == swatch[0], SwatchRow.swatch == swatch[1])
    )
    return SwatchRow.id.not_in(itself)


def _recipes_with(words: str, tubes: TubeList) -> Select[Any]:
    """Recipes that name a tube: one that the words fit, or those very words."""
    keys = {search_key(words), *(search_key(name) for name in tubes.match(words).names)}
    return select(IngredientRow.recipe_id).where(IngredientRow.tube.in_(sorted(keys)))


def _munsell(asked: MunsellRange) -> list[ColumnElement[bool]]:
    found: list[ColumnElement[bool]] = []
    if asked.neutral:
        found.append(and_(SwatchRow.munsell_hue.is_(None), SwatchRow.munsell_chroma == 0.0))
    if asked.hue:
        low, high = asked.hue
        within = SwatchRow.munsell_hue.between(low, high)
        found.append(or_(within, SwatchRow.munsell_hue <= high - 100.0) if high > 100.0 else within)
    if asked.value:
        found.append(SwatchRow.value.between(*asked.value))
    if asked.chroma:
        found.append(SwatchRow.munsell_chroma.between(*asked.chroma))
    return found
