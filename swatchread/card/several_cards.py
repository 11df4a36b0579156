"""All cards in one photo: found one after the other, named by letters, and each shown the table without the others."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from string import ascii_lowercase

from swatchread.card.card_detection import find_card
from swatchread.card.card_find import CardFind
from swatchread.colour.cielab import Floats
from swatchread.errors import NoSwatchesError
from swatchread.grid.sight_lines import GridView
from swatchread.photo.masks import polygon_mask, share_of_rectangle
from swatchread.plane.finder_settings import settings
from swatchread.plane.rectification import Plane

MOST_CARDS = 12
"""Cards that are looked for in one photo: more are too small to be read."""


@dataclass(frozen=True, eq=False)
class OtherCard:
    """Another card in the photo: its letter, and its corners in photo pixels, shape (4, 2)."""

    letter: str
    corners: Floats


@dataclass(frozen=True, eq=False)
class NamedCard:
    """A card in a photo.

    Attributes
    ----------
    find : CardFind
        Its plane shows nothing where the other cards lie.
    letter : str
        "a", "b" and so on in reading order where the photo shows several cards; empty for a card that lies alone.
    others : tuple of OtherCard
    """

    find: CardFind
    letter: str = ""
    others: tuple[OtherCard, ...] = ()


def find_cards(plane: Plane) -> tuple[CardFind, ...]:
    """Find all cards with swatches, the likeliest first.

    One is found, then the next on the table that is left. Where nothing speaks for a second card, none is looked for.

    Parameters
    ----------
    plane : Plane

    Returns
    -------
    tuple of CardFind

    Raises
    ------
    NoSwatchesError
        If no surface carries painted areas.
    """
    first = find_card(plane)
    if first.alone:
        return (first,)
    found = [_cut_to_itself(first)]
    while len(found) < MOST_CARDS:
        try:
            found.append(_cut_to_itself(find_card(plane.without([card.outline for card in found]))))
        except NoSwatchesError:
            break
    cards = [found[0], *(card for card in found[1:] if _is_another(card, first))]
    return (first,) if len(cards) == 1 else tuple(replace(card, alone=True) for card in cards)


def _is_another(card: CardFind, first: CardFind) -> bool:
    """Tell whether what was found beside the first card is a card, and not a tube with its label or a cloth."""
    known = settings()
    own, usual = (find.grid.radius / find.plane.resolution for find in (card, first))
    if own < known.grid.least_radius * usual:
        return False
    return len(card.grid.cells) >= known.few or share_of_rectangle(card.surface.card) > known.clear_rectangle


def _cut_to_itself(card: CardFind) -> CardFind:
    """Return a card without ground that is not its own, as where its region runs over another card or the table."""
    surface = card.surface
    view = GridView(card.plane.lab, surface.bare, surface.box[:2], card.grid)
    own = polygon_mask(view.reach() - surface.box[:2], surface.card.shape)
    return replace(card, surface=replace(surface, bare=surface.bare & own, card=surface.card & own))


def name_cards(cards: Sequence[CardFind]) -> tuple[NamedCard, ...]:
    """Name cards by letters in reading order, as the photo is held; a single card gets none.

    Parameters
    ----------
    cards : sequence of CardFind

    Returns
    -------
    tuple of NamedCard
    """
    if len(cards) == 1:
        return (NamedCard(cards[0]),)
    ordered = _in_reading_order(cards)
    marks = [OtherCard(letter, card.corners) for letter, card in zip(ascii_lowercase, ordered, strict=False)]
    named = []
    for card, mark in zip(ordered, marks, strict=True):
        others = [other.outline for other in ordered if other is not card]
        find = replace(card, plane=card.plane.without(others))
        named.append(NamedCard(find, mark.letter, tuple(other for other in marks if other is not mark)))
    return tuple(named)


def _in_reading_order(cards: Sequence[CardFind]) -> list[CardFind]:
    """Return cards from the photo's top to its bottom in rows, and in each row from left to right."""
    left = sorted(cards, key=lambda card: float(card.outline[:, 1].mean()))
    ordered: list[CardFind] = []
    while left:
        end = float(left[0].outline[:, 1].max())
        row = [card for card in left if float(card.outline[:, 1].mean()) < end]
        ordered += sorted(row, key=lambda card: float(card.outline[:, 0].mean()))
        left = [card for card in left if not any(card is one for one in row)]
    return ordered
