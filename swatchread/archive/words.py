"""The painter's words of a note: what the machine cannot measure again."""

from __future__ import annotations

from swatchread.note import CardInfo, Note


def take_words(old: Note, new: Note, *, erase: bool = False) -> Note:
    """Return `old` with the recipes, crops and card information of `new`.

    Parameters
    ----------
    old, new : Note
        Of one photo. Swatches are matched by id.
    erase : bool
        Whether an empty text in `new` empties the one in `old`; otherwise the older words stay.

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
    taken = old.model_copy(update={"swatches": tuple(swatches), "card_info": info})
    return old if taken == old else taken


def same_measurements(one: Note, other: Note) -> bool:
    """Say whether two notes measure the same swatches as the same colours."""
    return [(s.id, s.lab, s.uncertainty) for s in one.swatches] == [
        (s.id, s.lab, s.uncertainty) for s in other.swatches
    ]


def has_words(note: Note) -> bool:
    """Say whether the painter has written anything into a note."""
    return any(s.recipe for s in note.swatches) or any(note.card_info.model_dump().values())
