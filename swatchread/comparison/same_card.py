"""Which archive cards are photos of one and the same painted card."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from swatchread.archive.dates import day_range
from swatchread.comparison.card_matching import match_cards
from swatchread.comparison.table_coordinates import CardPlaces, card_places
from swatchread.errors import DifferentCardsError
from swatchread.note.model import Note

_LEAST_COMMON = 0.6
_SIZE = 1.25


def same_card(one: Note, other: Note) -> bool:
    """Say whether two readings are of one card, as far as geometry and colour can tell.

    Parameters
    ----------
    one, other : Note
    """
    first, second = card_places(one), card_places(other)
    if not _may_be_one(first, second):
        return False
    try:
        match_cards(one, other)
    except DifferentCardsError:
        return False
    return True


def grouped(notes: Sequence[Note]) -> tuple[tuple[int, ...], ...]:
    """Put readings together that are of one card.

    Parameters
    ----------
    notes : sequence of Note

    Returns
    -------
    tuple of tuple of int
        Indices into `notes`, each group in the order of the photos' dates; readings that stand alone are left out.
    """
    groups: list[list[int]] = []
    for k, note in enumerate(notes):
        for group in groups:
            if same_card(notes[group[0]], note):
                group.append(k)
                break
        else:
            groups.append([k])
    return tuple(tuple(sorted(g, key=lambda k: when(notes[k]))) for g in groups if len(g) > 1)


def when(note: Note) -> tuple[str, str]:
    """Return a key that sorts readings by the photo's date, else the card's, else when the note was made.

    A card's date counts as far as it says a day: of "spring 2024" no one can tell whether it is before 1 May 2024.
    """
    first, last = day_range(note.card_info.date) or (0, 1)
    day = f"{first // 10000:04d}-{first // 100 % 100:02d}-{first % 100:02d}" if first == last else ""
    return (note.photo.taken or day or note.made, note.made)


def _may_be_one(first: CardPlaces, second: CardPlaces) -> bool:
    """Tell, before anything is tried, whether number and reach of the swatches allow that two cards are one."""
    fewer, more = sorted((len(first.ids), len(second.ids)))
    ratio = _reach(first) / _reach(second)
    return fewer >= _LEAST_COMMON * more and 1 / _SIZE < ratio < _SIZE


def _reach(places: CardPlaces) -> float:
    return float(np.linalg.norm(places.centres - places.centres.mean(axis=0), axis=1).max()) or places.pitch
