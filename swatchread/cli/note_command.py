"""`swatchread note`: show a note, turn it into other formats, draw its map."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from swatchread.cli.fill_command import fill

if TYPE_CHECKING:
    from swatchread.note.model import Note

app = typer.Typer(
    name="note",
    no_args_is_help=True,
    add_completion=False,
    rich_markup_mode=None,
    help="Show a note, fill it in, export it, draw its map.",
)
app.command("fill")(fill)

MAX_WRITING_BYTES = 2 * 1024 * 1024

NoteFile = Annotated[Path, typer.Argument(metavar="NOTE", help="A note file (….note.json).")]


class Kind(StrEnum):
    """What a note can be exported as."""

    csv = "csv"
    cgats = "cgats"
    html = "html"


@app.command("schema")
def schema() -> None:
    """Print the JSON Schema of a note."""
    import json

    from swatchread.note.model import note_schema

    typer.echo(json.dumps(note_schema(), indent=1, ensure_ascii=False))


@app.command("show")
def show(
    note: NoteFile,
    as_json: Annotated[bool, typer.Option("--json", help="Print the note as JSON instead of a table.")] = False,
) -> None:
    """Show a note as a table."""
    from swatchread.note.model import load_note

    read = load_note(note)
    if as_json:
        typer.echo(read.to_json(), nl=False)
        return
    from swatchread.report.console import print_note

    print_note(read)


@app.command("export")
def export(
    note: NoteFile,
    kind: Annotated[Kind, typer.Option("--as", help="The format: csv, cgats (ISO 28178 text) or html.")],
    into: Annotated[
        Path | None,
        typer.Option(
            metavar="FILE",
            help="Where to write. Without it csv and cgats go to standard output, html beside the note.",
        ),
    ] = None,
) -> None:
    """Write a note as CSV, as CGATS text or as a page."""
    from swatchread.note.model import load_note

    read = load_note(note)
    text = _exported(read, kind, note.parent)
    target = _beside(note, ".html") if into is None and kind is Kind.html else into
    if target is None:
        typer.echo(text, nl=False)
    else:
        _write(target, text, note)


@app.command("map")
def draw_map(
    note: NoteFile,
    into: Annotated[
        Path | None, typer.Option(metavar="FILE", help="The SVG file to write. [default: beside the note]")
    ] = None,
) -> None:
    """Draw a note's value-and-warmth map as SVG."""
    from swatchread.note.model import load_note
    from swatchread.report.value_map import value_map_svg

    _write(into or _beside(note, ".map.svg"), value_map_svg(load_note(note)), note)


def _exported(note: Note, kind: Kind, folder: Path) -> str:
    if kind is Kind.csv:
        from swatchread.report.note_csv import note_to_csv

        return note_to_csv(note)
    if kind is Kind.cgats:
        from swatchread.report.cgats import note_to_cgats

        return note_to_cgats(note)
    from swatchread.report.note_page import render_page

    return render_page(note, writing=_writing(note, folder))


def _writing(note: Note, folder: Path) -> dict[str, bytes]:
    """Collect the crops of handwriting that lie beside the note; a note never reaches into other folders."""
    crops = {}
    for swatch in note.swatches:
        name = swatch.writing or ""
        # "\\" and ":" would leave the folder on other systems; a zero byte is no name at all.
        if not name or name != Path(name).name or any(sign in name for sign in "\\:\0"):
            continue
        file = folder / name
        if file.is_file() and not file.is_symlink() and file.stat().st_size <= MAX_WRITING_BYTES:
            crops[swatch.id] = file.read_bytes()
    return crops


def _beside(note: Path, suffix: str) -> Path:
    return note.with_suffix(suffix) if note.suffix == ".json" else note.with_name(note.name + suffix)


def _write(target: Path, text: str, note: Path) -> None:
    from swatchread.errors import UsageError
    from swatchread.note.safe_files import write_text

    if target.resolve() == note.resolve():
        raise UsageError(
            f"{target.name} is the note itself", "it would be overwritten", "Name another file with --into"
        )
    write_text(target, text)
    typer.echo(f"Written: {target}", err=True)
