"""`swatchread note`: show a note, fill it in, turn it into other formats."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Annotated, Literal

import typer

from swatchread.cli.fill_command import fill
from swatchread.cli.output import print_json, print_table
from swatchread.cli.shared_options import Address, command_group, kind_of
from swatchread.cli.writing_command import read_writing

app = command_group("note", "Show a note, fill it in, export it, draw its map.")
app.command("fill")(fill)
app.command("read-writing", short_help="Offer what the handwriting says.")(read_writing)


@app.command("schema")
def schema() -> None:
    """Print the JSON Schema of a note."""
    from swatchread.note.model import note_schema

    print_json(note_schema())


@app.command("show", short_help="Show a note, or an archived card.")
def show(
    note: Annotated[
        str, typer.Argument(metavar="NOTE|CARD", help="A note file, or the number of a card in the archive.")
    ],
    reading: Annotated[
        str | None, typer.Option(metavar="VERSION", help="Of an archived card: the reading by this version.")
    ] = None,
    archive: Address = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print the note as JSON instead of a table.")] = False,
) -> None:
    """Show a note, or an archived card with its readings, as a table."""
    from swatchread.archive.question_words import card_number
    from swatchread.errors import UsageError
    from swatchread.note.model import load_note
    from swatchread.report.console import note_table

    number = card_number(note)
    if number is not None:
        from swatchread.archive.store import Archive
        from swatchread.report.console import card_view

        with Archive.open(archive) as opened:
            view, tubes = opened.card(number, reading), opened.tubes.known()
        shown, table = view.note, card_view(view, tubes)
    elif reading is not None:
        raise UsageError("--reading needs an archived card", f"{note} is no card's number", "Name the card's number")
    else:
        shown = load_note(Path(note))
        table = note_table(shown)
    if as_json:
        typer.echo(shown.to_json(), nl=False)
    else:
        print_table(table)


@app.command("export", short_help="Write a note as CSV, CGATS text, a page or a map.")
def export(
    note: Annotated[Path, typer.Argument(metavar="NOTE", help="A note file (….note.json).")],
    kind: Annotated[
        Literal["csv", "cgats", "html", "map"] | None,
        typer.Option("--as", help="The format; cgats is ISO 28178 text, map the value-and-warmth map as SVG."),
    ] = None,
    into: Annotated[
        Path | None,
        typer.Option(
            metavar="FILE",
            help="Where to write. Without it csv and cgats go to standard output, html and map beside the note.",
        ),
    ] = None,
) -> None:
    """Write a note as CSV, as CGATS text, as a page or as its value-and-warmth map."""
    from swatchread.errors import UsageError
    from swatchread.note.model import load_note
    from swatchread.note.safe_files import write_text
    from swatchread.report.note_exports import SUFFIXES, export_note

    wanted = kind_of(kind, into, ("csv", "cgats", "html", "map"))
    if wanted is None:
        raise UsageError("--as is missing", "", "Say which format is wanted: csv, cgats, html or map")
    text = export_note(load_note(note), wanted, note)
    target = _beside(note, SUFFIXES[wanted]) if into is None and wanted in {"html", "map"} else into
    if target is None:
        typer.echo(text, nl=False)
        return
    if os.path.realpath(target) == os.path.realpath(note):
        raise UsageError(
            f"{target.name} is the note itself", "it would be overwritten", "Name another file with --into"
        )
    write_text(target, text)
    typer.echo(f"Written: {target}", err=True)


def _beside(note: Path, suffix: str) -> Path:
    return note.with_suffix(suffix) if note.suffix == ".json" else note.with_name(note.name + suffix)
