"""Which cards are photos of one painting: wet and dry, in two lights, read again years later.

Left out to judge the model, a card must be left out in all its photos: its paint is the same, and a guess that has seen
it in another photo is no guess.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Sequence

from swatchread.comparison.same_card import same_card
from swatchread.note.model import Note
from swatchread.note.phrases import plain

_SHARE = 0.6
"""Of the recipes on the card that holds fewer: so many must be on both before places and colours are compared."""


def painting_of(notes: Sequence[Note]) -> list[int]:
    """Return for each note the number of the first one that shows the same painted card: its own if none does.

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
        alike = (
            j
            for j, number in sorted(shared.items())
            if number >= _SHARE * min(recipes[j].total(), recipes[k].total()) and same_card(notes[j], note)
        )
        found.append(next(alike, k))
        if found[k] == k:
            for text in recipes[k]:
                holding[text].append(k)
    return found
