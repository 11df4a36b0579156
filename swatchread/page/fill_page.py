"""The page for filling a note in: the swatch at hand large, the list of all beside it."""

from __future__ import annotations

from importlib.resources import files

from swatchread.colour.screen import hex_colours
from swatchread.note.model import Note
from swatchread.note.phrases import heading, plain
from swatchread.page.note_keeper import CARD_FIELDS, MAX_LETTERS, tell_recipe
from swatchread.recipes.tubes import TubeList
from swatchread.report.pages import render

FILES = {"fill.css": "text/css", "fill.js": "text/javascript"}
"""Files of the page -> media type."""


def page_file(name: str) -> bytes:
    """Return a file that belongs to the page; `name` is a key of `FILES`."""
    return (files("swatchread.page") / name).read_bytes()


def fill_page(note: Note, tubes: TubeList, crops: frozenset[str]) -> str:
    """Write the page.

    Parameters
    ----------
    note : Note
    tubes : TubeList
    crops : frozenset of str
        Ids of the swatches whose handwriting can be shown.

    Returns
    -------
    str
        HTML; it asks for ``fill.css``, ``fill.js`` and ``writing/ID`` beside its own address.
    """
    colours, _ = hex_colours([swatch.lab for swatch in note.swatches])
    items = [
        {
            "swatch": swatch,
            "colour": colour,
            "name": f"value {swatch.value:.1f} {plain(swatch.value_name)}, {plain(swatch.munsell)}",
            "understood": tell_recipe(swatch.recipe, tubes),
        }
        for swatch, colour in zip(note.swatches, colours, strict=True)
    ]
    return render(
        "page/templates/fill.html",
        title=heading(note),
        items=items,
        crops=crops,
        fields=CARD_FIELDS,
        card=note.card_info.model_dump(),
        longest=MAX_LETTERS,
    )
