"""Which of the cards in a photo the painter means."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from swatchread.card.card_find import CardFind
from swatchread.card.several_cards import NamedCard, name_cards
from swatchread.colour.cielab import Floats
from swatchread.errors import SeveralCardsError
from swatchread.hints.manual_hints import ManualHints
from swatchread.photo.masks import holds, polygon_mask

_AS_NEAR = 1.0
"""Pitches by which a card may be further from the chart than the nearest one and still lie beside it (choice)."""


def meant_cards(found: Sequence[CardFind], given: CardFind | None, pointed: ManualHints) -> tuple[NamedCard, ...]:
    """Return the cards that are meant: all, or the one that the painter has pointed at.

    Parameters
    ----------
    found : sequence of CardFind
        From `find_cards`; not empty unless a card is given.
    given : CardFind or None
        The card with the corners that the painter gave.
    pointed : ManualHints

    Returns
    -------
    tuple of NamedCard

    Raises
    ------
    SeveralCardsError
        If what was told is true of one card only, and the photo shows several.
    """
    if given is not None and pointed.card is not None:
        return (_given_card(given, pointed.card, found),)
    named = name_cards(found)
    if pointed.meant is not None:
        place = pointed.meant.mean(axis=0)
        return (min(named, key=lambda one: float(np.linalg.norm(one.find.outline.mean(axis=0) - place))),)
    if len(named) > 1 and pointed.is_about_swatches:
        name = found[0].plane.sample.find.photo.path.name
        places = "; ".join(f"{one.letter}: {_told(one.find.corners)}" for one in named)
        raise SeveralCardsError(
            f"{name} shows {len(named)} cards, and rows and columns are told of one",
            f"their corners are {places}",
            "Say which card is meant: give its four corners with --card",
        )
    return named


def largest_beside_chart(cards: Sequence[NamedCard]) -> NamedCard:
    """Return the card with most swatches of those that lie nearest to the chart, up to a pitch further than any other.

    A card to be read is laid beside the chart (common practice); what looks like another one may be a box of pans.

    Parameters
    ----------
    cards : sequence of NamedCard
        Not empty.
    """
    gaps = [one.find.gap_to_chart for one in cards]
    near = [one for one, gap in zip(cards, gaps, strict=True) if gap < min(gaps) + _AS_NEAR]
    return max(near, key=lambda one: len(one.find.grid.cells))


def _given_card(given: CardFind, corners: Floats, found: Sequence[CardFind]) -> NamedCard:
    """Return the card with these corners, under the letter that it has beside the others in the photo."""
    rest = [card for card in found if not _holds_middle(corners, card)]
    if not rest or len(rest) == len(found):
        return NamedCard(given)
    return next(one for one in name_cards([given, *rest]) if one.find.surface is given.surface)


def _holds_middle(corners: Floats, card: CardFind) -> bool:
    """Tell whether the middle of a card lies between four corners, all in photo pixels."""
    low = corners.min(axis=0)
    size = np.ceil(np.ptp(corners, axis=0)).astype(int) + 1
    return holds(polygon_mask(corners - low, (int(size[1]), int(size[0]))), card.outline.mean(axis=0) - low)


def _told(corners: Floats) -> str:
    return " ".join(f"{x:.0f},{y:.0f}" for x, y in corners)
