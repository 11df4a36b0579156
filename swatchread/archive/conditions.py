"""A question to the archive, and its conditions in SQL."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import inf
from typing import Final

from sqlalchemy import ColumnElement, and_, or_

from swatchread.archive.note_rows import search_key
from swatchread.archive.question_words import MunsellRange
from swatchread.archive.tables import CardRow, ReadingRow, SwatchRow
from swatchread.archive.tube_words import swatches_with_tube
from swatchread.errors import UsageError
from swatchread.recipes.tubes import TubeList

VISIBLE_DE00: Final = 0.8
"""CIEDE2000 difference that half of the observers see: Paravina et al. 2015 (found on dental ceramics)."""

_MOST_ANSWERS: Final = 2**31 - 1
"""The largest limit, which both databases can count to."""


@dataclass(frozen=True, slots=True)
class Near:
    """A colour whose neighbours are wanted.

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
        For a swatch of a card: the photo's SHA-256 and the swatch's id. The swatch is not its own answer.
    own_de00 : float
        For a swatch of a card: the part of its uncertainty that is its own. The rest is shared by all swatches of the
        photo, and cancels out between them.
    """

    lab: tuple[float, float, float]
    radius: float | None = None
    uncertainty_de00: float = 0.0
    visible: float = VISIBLE_DE00
    swatch: tuple[str, str] | None = None
    own_de00: float = 0.0


@dataclass(frozen=True, slots=True)
class Query:
    """A question; every condition that is given must hold.

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
        First and last day, YYYYMMDD. A card is found if its date may lie between them.
    with_tubes : tuple of str
        The recipe must name each of them, or a word that could mean it.
    without_tubes : tuple of str
        The recipe must name none of them. Swatches without a recipe are not found.
    text : tuple of str
        Each must occur in the recipe or in the card's own words.
    every_reading : bool
        Search older readings too.
    limit : int or None
        The largest number of answers; None for all.
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
        if self.limit is not None and not 1 <= self.limit <= _MOST_ANSWERS:
            raise UsageError(f"The limit must be 1 to {_MOST_ANSWERS}")
        if self.near and self.near.radius is not None and not self.near.radius >= 0.0:
            raise UsageError("A radius cannot be negative")
        if self.near and not 0.0 < self.near.visible < inf:
            raise UsageError("The difference up to which colours count as alike must be above 0")
        if self.days and self.days[0] > self.days[1]:
            raise UsageError("The last day lies before the first")


def conditions(query: Query, tubes: TubeList, known: Sequence[str]) -> list[ColumnElement[bool]]:
    """Return all conditions of a query but the colour, on `SwatchRow` joined with its `ReadingRow` and `CardRow`.

    Parameters
    ----------
    query : Query
    tubes : TubeList
        The painter's.
    known : sequence of str
        All words for tubes in the archive; needed if the query names a tube.
    """
    found = [*_swatch_conditions(query), *_reading_conditions(query)]
    found += [_contains_words(words) for words in query.text]
    found += [SwatchRow.id.in_(swatches_with_tube(words, known, tubes)) for words in query.with_tubes]
    if query.without_tubes:
        found.append(SwatchRow.recipe != "")
        found += [SwatchRow.id.not_in(swatches_with_tube(words, known, tubes)) for words in query.without_tubes]
    if query.near and query.near.swatch:
        photo, swatch = query.near.swatch
        found.append(or_(CardRow.photo_sha256 != photo, SwatchRow.swatch != swatch))
    return found


def _swatch_conditions(query: Query) -> list[ColumnElement[bool]]:
    found: list[ColumnElement[bool]] = []
    if query.value:
        found.append(SwatchRow.value.between(*query.value))
    if query.munsell:
        found += _munsell_conditions(query.munsell)
    for column, wanted in (
        (SwatchRow.temperature, query.temperature),
        (SwatchRow.relative, query.relative),
        (SwatchRow.lean, query.lean),
    ):
        if wanted is not None:
            found.append(column == wanted)
    return found


def _reading_conditions(query: Query) -> list[ColumnElement[bool]]:
    found: list[ColumnElement[bool]] = []
    if not query.every_reading:
        found.append(ReadingRow.newest == 1)
    if query.sitter is not None:
        found.append(ReadingRow.sitter_key == search_key(query.sitter))
    if query.medium is not None:
        found.append(ReadingRow.medium_key.contains(search_key(query.medium), autoescape=True))
    if query.days:
        first, last = query.days
        found += [ReadingRow.date_first <= last, ReadingRow.date_last >= first]
    return found


def _contains_words(words: str) -> ColumnElement[bool]:
    """Require a text in the recipe or in the card's own words."""
    key = search_key(words)
    return or_(SwatchRow.recipe_key.contains(key, autoescape=True), ReadingRow.words.contains(key, autoescape=True))


def _munsell_conditions(wanted: MunsellRange) -> list[ColumnElement[bool]]:
    found: list[ColumnElement[bool]] = []
    if wanted.neutral:
        found.append(and_(SwatchRow.munsell_hue.is_(None), SwatchRow.munsell_chroma == 0.0))
    if wanted.hue:
        low, high = wanted.hue
        within = SwatchRow.munsell_hue.between(low, high)
        found.append(or_(within, SwatchRow.munsell_hue <= high - 100.0) if high > 100.0 else within)
    if wanted.value:
        found.append(SwatchRow.value.between(*wanted.value))
    if wanted.chroma:
        found.append(SwatchRow.munsell_chroma.between(*wanted.chroma))
    return found
