"""What the painter has written into a note: it cannot be measured again, and must not be lost."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from swatchread.colour.cielab import Floats
from swatchread.note.model import CardInfo, Note, Swatch

_SAME_PLACE = 0.5
"""Distance, in sides of a swatch, within which two readings of a photo mean the same swatch; neighbours are farther."""

_SAME_COLOUR = 0.002
"""CIELAB units by which two computers may differ over one photo: two of the last digit that a note keeps. The sample
photos, read with and without the processor's vector instructions, agreed in that digit."""


def words_of(note: Note) -> dict[str, str]:
    """Return all that was written into a note: swatch id, or field of `CardInfo` -> text that is not empty."""
    texts = {swatch.id: swatch.recipe for swatch in note.swatches} | note.card_info.model_dump()
    return {name: text for name, text in texts.items() if text}


def take_words(old: Note, new: Note, *, erase: bool = False) -> Note:
    """Return `old` with the recipes, crops, card information and settled doubts of `new`.

    Parameters
    ----------
    old, new : Note
        Of one photo. Swatches are matched by id.
    erase : bool
        Whether an empty text in `new` erases the one in `old`.

    Returns
    -------
    Note
        `old` itself if nothing differs.
    """
    theirs = {swatch.id: swatch for swatch in new.swatches}
    swatches = []
    for swatch in old.swatches:
        other = theirs.get(swatch.id)
        if other is None:
            swatches.append(swatch)
            continue
        recipe = other.recipe if erase or other.recipe else swatch.recipe
        swatches.append(swatch.model_copy(update={"recipe": recipe, "writing": other.writing or swatch.writing}))
    before, after = old.card_info.model_dump(), new.card_info.model_dump()
    info = CardInfo(**{key: after[key] if erase or after[key] else before[key] for key in before})
    settled = tuple(sorted({*old.settled, *new.settled}))
    taken = old.model_copy(update={"swatches": tuple(swatches), "card_info": info, "settled": settled})
    return old if taken == old else taken


def with_words(note: Note, words: Mapping[str, str]) -> Note:
    """Return a note with these texts in it; names as in `words_of`. Fields without a text here keep theirs."""
    swatches = tuple(
        swatch.model_copy(update={"recipe": words[swatch.id]}) if swatch.id in words else swatch
        for swatch in note.swatches
    )
    info = note.card_info.model_copy(update={name: words[name] for name in CardInfo.model_fields if name in words})
    return note.model_copy(update={"swatches": swatches, "card_info": info})


@dataclass(frozen=True, slots=True)
class Merged:
    """Words that were changed in two places, brought together.

    Attributes
    ----------
    changed : dict of str to str
        Texts that `theirs` changed and `mine` did not.
    conflicts : tuple of str
        Names of those that both changed, each in another way.
    """

    changed: dict[str, str]
    conflicts: tuple[str, ...]


def merge_words(base: Mapping[str, str], mine: Mapping[str, str], theirs: Mapping[str, str]) -> Merged:
    """Tell which texts of `theirs` can be taken without losing one of `mine`.

    Parameters
    ----------
    base : mapping of str to str
        The texts that both started from. A name that is missing stands for an empty text.
    mine, theirs : mapping of str to str
        The texts now. `theirs` may name some only; the others count as unchanged.
    """
    differing = {name: text for name, text in theirs.items() if text not in (base.get(name, ""), mine.get(name, ""))}
    conflicts = tuple(name for name in differing if mine.get(name, "") != base.get(name, ""))
    return Merged({name: text for name, text in differing.items() if name not in conflicts}, conflicts)


def carried_words(earlier: Note, note: Note) -> Note:
    """Return a later reading of a photo with the words of an earlier one, as far as its swatches are the same.

    Parameters
    ----------
    earlier, note : Note
        Of one photo. Texts that `note` has itself and that `earlier` lacks stay.
    """
    return take_words(note, _in_the_same_places(earlier, note))


def named_as(earlier: Note, note: Note) -> Note | None:
    """Return an earlier reading of a photo with the ids that a later reading gives to the swatches in the same places.

    Rows and columns are counted anew in every reading. Where a reading finds one row more, or takes the card to lie the
    other way up, an id means another swatch.

    Parameters
    ----------
    earlier, note : Note
        Of one photo.

    Returns
    -------
    Note or None
        With the swatches that are in both readings; None if a swatch with a recipe is not.
    """
    named = _in_the_same_places(earlier, note)
    lost = sum(bool(swatch.recipe) for swatch in earlier.swatches) - sum(bool(s.recipe) for s in named.swatches)
    return None if lost else named


def _in_the_same_places(earlier: Note, note: Note) -> Note:
    """Return an earlier reading with those of its swatches that a later one has too, under the later one's ids."""
    middles = np.array([_middle_and_side(swatch)[0] for swatch in note.swatches])
    named: dict[str, Swatch] = {}
    for swatch in sorted(earlier.swatches, key=lambda s: not s.recipe):
        middle, side = _middle_and_side(swatch)
        distances = np.linalg.norm(middles - middle, axis=1)
        other = note.swatches[distances.argmin()]
        if distances.min() <= _SAME_PLACE * side and other.id not in named:
            named[other.id] = swatch.model_copy(update={"id": other.id, "row": other.row, "column": other.column})
    return earlier.model_copy(update={"swatches": tuple(named.values())})


def _middle_and_side(swatch: Swatch) -> tuple[Floats, float]:
    """Return the middle of a swatch's bounding box, and the side of a square of the same area."""
    outline = np.array(swatch.outline)
    low, high = outline.min(axis=0), outline.max(axis=0)
    return (low + high) / 2.0, float(np.sqrt(np.prod(high - low)))


def same_measurements(one: Note, other: Note) -> bool:
    """Tell whether two notes measure the same swatches as the same colours, to what another computer may differ by."""
    return [s.id for s in one.swatches] == [s.id for s in other.swatches] and np.allclose(
        _measurements(one), _measurements(other), rtol=0.0, atol=_SAME_COLOUR
    )


def _measurements(note: Note) -> list[tuple[float, ...]]:
    return [(*s.lab, s.uncertainty.L, s.uncertainty.a, s.uncertainty.b, s.uncertainty.de00) for s in note.swatches]


def has_words(note: Note) -> bool:
    """Tell whether the painter has written anything into a note."""
    return any(s.recipe for s in note.swatches) or any(note.card_info.model_dump().values())
