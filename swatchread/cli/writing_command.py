"""`swatchread note read-writing`: offer what the handwriting of a note says."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from swatchread.cli.output import print_json, print_table
from swatchread.cli.shared_options import Address, JsonOption

if TYPE_CHECKING:
    from swatchread.archive.confirmed_writing import ConfirmedWriting
    from swatchread.recipes.tubes import TubeList
    from swatchread.writing.offers import Offer


def read_writing(
    note: Annotated[Path, typer.Argument(metavar="NOTE", help="A note file (….note.json), beside its crops.")],
    as_json: JsonOption = False,
    archive: Address = None,
) -> None:
    """Read the handwriting on the card, and offer it as recipes, title, sitter and date.

    Nothing is entered: take what is right over with `note fill`. The archive says which words you use, and how your
    hand looks. It needs an extra: pip install "swatchread[writing]".
    """
    from swatchread.note.model import load_note
    from swatchread.writing.note_writing import WritingReader, confirmed_crops, confirmed_heads

    given = load_note(note)
    tubes, known = known_writing(archive)
    reader = WritingReader(tubes, known.recipes, confirmed_crops(known.crops), confirmed_heads(known.heads))
    offers, heading = dict(reader.read_note(given, note.parent)), reader.read_heading_beside(given, note.parent)
    if as_json:
        head = {} if heading is None else {name: _facts(offer) for name, offer in heading.offers().items()}
        if heading is not None:
            head["date"]["choices"] = list(heading.dates)
        print_json({"swatches": [{"id": swatch, **_facts(offer)} for swatch, offer in offers.items()], "card": head})
        return
    from swatchread.report.writing_table import writing_table

    print_table(writing_table({**(heading.offers() if heading else {}), **offers}))
    if heading is not None and heading.dates:
        typer.echo(f"The date may be {' or '.join(heading.dates)}.")


def _facts(offer: Offer) -> dict[str, Any]:
    words = [{"text": word.text, "confidence": word.confidence} for word in offer.words]
    return {"text": offer.text, "words": words, "crossed_out": offer.crossed_out}


def known_writing(address: str | None) -> tuple[TubeList, ConfirmedWriting]:
    """Return the painter's tubes and what the archive knows of the hand; no archive is made for that."""
    from swatchread.archive.confirmed_writing import ConfirmedWriting
    from swatchread.archive.database import existing_archive
    from swatchread.archive.picture_archive import PictureArchive
    from swatchread.recipes.tubes import load_tubes

    place = existing_archive(address)
    if place is None:
        return load_tubes(), ConfirmedWriting()
    with PictureArchive.open(place) as opened:
        return opened.tubes.known(), opened.known_writing()
