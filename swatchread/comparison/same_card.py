"""Which readings show one and the same painted card: wet and dry, in two lights, read again years later."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Sequence

import numpy as np

from swatchread.archive.question_words import day_range
from swatchread.comparison.card_matching import match_cards
from swatchread.comparison.table_coordinates import CardPlaces, card_places
from swatchread.errors import DifferentCardsError
from swatchread.note.model import Note
from swatchread.note.phrases import plain

_LEAST_COMMON = 0.6
"""Share of the larger number of swatches that the smaller one must reach."""
_LARGEST_RATIO = 1.7
"""Ratio of two cards' extents, each in its own pitch, beyond which they cannot be one (assumed)."""
_LEAST_RECIPES = 0.6
"""Share of the recipes, of the card with fewer, that both must hold before places and colours are compared."""


def same_card(one: Note, other: Note) -> bool:
    """Tell whether two readings are of one card, as far as geometry and colour show.

    Parameters
    ----------
    one, other : Note
    """
    if not _could_be_one(card_places(one), card_places(other)):
        return False
    try:
        match_cards(one, other)
    except DifferentCardsError:
        return False
    return True


def grouped(notes: Sequence[Note]) -> tuple[tuple[int, ...], ...]:
    """Group the readings that are of one card.

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
    return tuple(tuple(sorted(g, key=lambda k: date_key(notes[k]))) for g in groups if len(g) > 1)


def painting_of(notes: Sequence[Note]) -> list[int]:
    """Return for each note the number of the first one that shows the same painted card: its own if none does.

    Only cards that share most of their recipes are compared, so that a large archive is quickly sorted.

    Parameters
    ----------
    notes : sequence of Note
    """
    recipes = [Counter(text for swatch in note.swatches if (text := plain(swatch.recipe))) for note in notes]
    holding: dict[str, list[int]] = defaultdict(list)  # recipe -> first notes of their paintings that hold it
    found: list[int] = []
    for k, note in enumerate(notes):
        shared: Counter[int] = Counter()
        for text, count in recipes[k].items():
            for j in holding[text]:
                shared[j] += min(count, recipes[j][text])
        same = (
            j
            for j, number in sorted(shared.items())
            if number >= _LEAST_RECIPES * min(recipes[j].total(), recipes[k].total()) and same_card(notes[j], note)
        )
        found.append(next(same, k))
        if found[k] == k:
            for text in recipes[k]:
                holding[text].append(k)
    return found


def date_key(note: Note) -> tuple[str, str]:
    """Return a key that sorts readings by the photo's date, else the card's, else when the note was made.

    The card's date counts only if it names a day: "spring 2024" may be before or after 1 May 2024.
    """
    first, last = day_range(note.card_info.date) or (0, 1)
    day = f"{first // 10000:04d}-{first // 100 % 100:02d}-{first % 100:02d}" if first == last else ""
    return (note.photo.taken or day or note.made, note.made)


def _could_be_one(first: CardPlaces, second: CardPlaces) -> bool:
    """Tell quickly whether the number and the extent of the swatches allow that two cards are one."""
    fewer, more = sorted((len(first.ids), len(second.ids)))
    ratio = _radius(first) / _radius(second)
    return fewer >= _LEAST_COMMON * more and 1 / _LARGEST_RATIO < ratio < _LARGEST_RATIO


def _radius(places: CardPlaces) -> float:
    """Return the distance from the middle of the swatches to the farthest, in the card's pitch; 1 for a lone swatch."""
    return float(np.linalg.norm(places.centres - places.centres.mean(axis=0), axis=1).max()) / places.pitch or 1.0
