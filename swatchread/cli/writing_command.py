"""`swatchread note read-writing`: offer what the handwriting of a note says."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from swatchread.cli.output import print_json, print_table
from swatchread.cli.shared_options import Address, JsonOption

if TYPE_CHECKING:
    from swatchread.archive.confirmed_writing import ConfirmedWriting
    from swatchread.recipes.tubes import TubeList


def read_writing(
    note: Annotated[Path, typer.Argument(metavar="NOTE", help="A note file (….note.json), beside its crops.")],
    as_json: JsonOption = False,
    archive: Address = None,
) -> None:
    """Read the handwriting beside the swatches, and offer it as recipes.

    Nothing is entered: take what is right over with `note fill`. The archive says which words you use, and how your
    hand looks. It needs an extra: pip install "swatchread[writing]".
    """
    from swatchread.note.model import load_note
    from swatchread.writing.note_writing import WritingReader, confirmed_crops

    given = load_note(note)
    tubes, known = known_writing(archive)
    reader = WritingReader(tubes, known.recipes, confirmed_crops(known.crops))
    offers = dict(reader.read_note(given, note.parent))
    if as_json:
        print_json(
            {
                "swatches": [
                    {
                        "id": swatch,
                        "text": offer.text,
                        "words": [{"text": word.text, "confidence": word.confidence} for word in offer.words],
                        "crossed_out": offer.crossed_out,
                    }
                    for swatch, offer in offers.items()
                ]
            }
        )
        return
    from swatchread.report.writing_table import writing_table

    print_table(writing_table(offers))


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
