"""The painter's words of a note: what the machine cannot measure again."""

from __future__ import annotations

from math import dist, sqrt

from swatchread.note.model import CardInfo, Note, Point, Swatch

_SAME_PLACE = 0.5
"""Sides of a swatch within which two readings of a photo show the same one: neighbours lie farther apart."""


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


def named_as(earlier: Note, note: Note) -> Note | None:
    """Return an earlier reading of a photo with its swatches named as a later one names those in the same places.

    Rows and columns are counted anew in every reading: where one row more is found, or the card is taken to lie the
    other way up, an id means another swatch.

    Parameters
    ----------
    earlier, note : Note
        Of one photo.

    Returns
    -------
    Note or None
        With the swatches that have a place in both; None if one that carries a recipe has none.
    """
    places = [(_middle(swatch), swatch) for swatch in note.swatches]
    named: dict[str, Swatch] = {}
    for swatch in sorted(earlier.swatches, key=lambda s: not s.recipe):
        apart, other = _nearest(_middle(swatch), places)
        if apart <= _SAME_PLACE * sqrt(_area(swatch)) and other.id not in named:
            named[other.id] = swatch.model_copy(update={"id": other.id, "row": other.row, "column": other.column})
        elif swatch.recipe:
            return None
    return earlier.model_copy(update={"swatches": tuple(named.values())})


def _nearest(point: Point, places: list[tuple[Point, Swatch]]) -> tuple[float, Swatch]:
    return min(((dist(point, place), swatch) for place, swatch in places), key=lambda found: found[0])


def _middle(swatch: Swatch) -> Point:
    x, y = _sides(swatch)
    return (x[0] + x[1]) / 2.0, (y[0] + y[1]) / 2.0


def _area(swatch: Swatch) -> float:
    x, y = _sides(swatch)
    return (x[1] - x[0]) * (y[1] - y[0])


def _sides(swatch: Swatch) -> tuple[Point, Point]:
    """Return from where to where a swatch reaches, across and down."""
    across, down = ([float(point[axis]) for point in swatch.outline] for axis in (0, 1))
    return (min(across), max(across)), (min(down), max(down))


def same_measurements(one: Note, other: Note) -> bool:
    """Say whether two notes measure the same swatches as the same colours."""
    return [(s.id, s.lab, s.uncertainty) for s in one.swatches] == [
        (s.id, s.lab, s.uncertainty) for s in other.swatches
    ]


def has_words(note: Note) -> bool:
    """Say whether the painter has written anything into a note."""
    return any(s.recipe for s in note.swatches) or any(note.card_info.model_dump().values())
