"""An archive for Find, Changes, Sitting, Mix and Tubes: cards in short words, and one card in three photos."""

from __future__ import annotations

from swatchread.archive.picture_archive import PictureArchive
from tests.comparing_data import painted, photographed
from tests.mixing_data import invented_world

CARDS = 14
"""Cards of the world; the three photos of one card follow them."""
SHORT = {"titanium white": "white", "red ochre": "red earth"}


def studio_notes():
    notes = []
    for number, note in enumerate(invented_world(cards=CARDS, seed=4).notes):
        short = SHORT | ({"yellow ochre": "ochre"} if number % 3 == 0 else {})
        swatches = []
        for swatch in note.swatches:
            recipe = swatch.recipe
            for name, word in short.items():
                recipe = recipe.replace(name, word)
            swatches.append(swatch.model_copy(update={"recipe": recipe}))
        info = note.card_info.model_copy(
            update={"title": f"harbour evening {number + 1} (invented)", "date": f"2026-0{1 + number % 9}-12"}
        )
        notes.append(note.model_copy(update={"swatches": tuple(swatches), "card_info": info}))
    return notes


def drying_notes():
    """One card wet, a day later and a month later: it darkens by five and by seven CIELAB units."""
    card = painted(7)
    days = ("2026-05-01T10:00:00", "2026-05-02T10:00:00", "2026-06-01T10:00:00")
    shifts = ((0, 0, 0), (-5, 0, 0), (-7, 0, 1))
    return [
        photographed(card, 90 + k, shift=shift, taken=day, info={"title": "the drying card (invented)"})
        for k, (shift, day) in enumerate(zip(shifts, days, strict=True))
    ]


def fill_archive(path):
    """Make the archive; return the numbers of the three photos of one card."""
    with PictureArchive.open(str(path)) as archive:
        archive.add_all([(note, None) for note in studio_notes()])
        return [added.card for added in archive.add_all([(note, None) for note in drying_notes()])]
