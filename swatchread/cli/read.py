"""`swatchread read`: photos in, notes out."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from swatchread.cli.messages import tell
from swatchread.errors import SwatchreadError

if TYPE_CHECKING:
    from swatchread.charts.definition import ChartDefinition
    from swatchread.note import Note

SOME_FAILED = 1

ChartOption = Annotated[
    str | None, typer.Option("--chart", metavar="NAME|FILE", help="The chart: a known name, or a definition file.")
]


def read(
    photos: Annotated[list[Path], typer.Argument(metavar="PHOTO…", help="Photos of a card beside a chart.")],
    into: Annotated[
        Path | None, typer.Option("--into", metavar="DIR", help="Folder for the results. [default: beside the photo]")
    ] = None,
    chart: ChartOption = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print the note as JSON instead of a table.")] = False,
    accept_poor: Annotated[
        bool, typer.Option("--accept-poor", help="Take a reading whose colour fit is poor; the note says so.")
    ] = False,
) -> None:
    """Read painted swatch cards from photos into measured colour notes.

    Writes beside each photo, or into DIR: the note (.note.json), its table (.note.csv and .note.cgats.txt), the photo
    with what was measured marked on it (.marked.jpg), and a page to look at (.note.html).
    """
    from swatchread.charts.definition import load_chart

    definition = load_chart(chart) if chart else load_chart()
    stems = _stems(photos)
    notes: list[Note] = []
    failures: list[tuple[Path, SwatchreadError]] = []
    for photo, stem in zip(photos, stems, strict=True):
        try:
            notes.append(_read_one(photo, into or photo.parent, stem, definition, accept_poor=accept_poor))
        except SwatchreadError as error:
            if len(photos) == 1:
                raise
            failures.append((photo, error))
        else:
            if not as_json:
                _print(notes[-1], into or photo.parent, stem)
    if as_json:
        _print_json(notes, alone=len(photos) == 1)
    if failures:
        _report(failures, len(photos))


def _stems(photos: list[Path]) -> list[str]:
    """Return a distinct name for each photo's results: its stem, with the suffix where two would meet."""
    plain = [(p.parent, p.stem) for p in photos]
    return [p.stem if plain.count((p.parent, p.stem)) == 1 else p.name.replace(".", "-") for p in photos]


def _read_one(photo: Path, folder: Path, stem: str, chart: ChartDefinition, *, accept_poor: bool) -> Note:
    from swatchread.outputs import write_outputs
    from swatchread.reading import read_card

    reading = read_card(photo, chart, accept_poor=accept_poor)
    write_outputs(reading, folder, stem)
    return reading.note


def _print(note: Note, folder: Path, stem: str) -> None:
    from swatchread.pictures.table import print_note

    print_note(note)
    typer.echo(f"Written: {folder / stem}.note.json, .note.html, .note.csv, .note.cgats.txt, .marked.jpg", err=True)


def _print_json(notes: list[Note], *, alone: bool) -> None:
    import json

    if alone:
        typer.echo(notes[0].to_json(), nl=False)
    else:
        typer.echo(json.dumps([note.model_dump(mode="json") for note in notes], ensure_ascii=False, indent=1))


def _report(failures: list[tuple[Path, SwatchreadError]], count: int) -> None:
    for photo, error in failures:
        tell(error, str(photo))
    typer.echo(f"{len(failures)} of {count} photos could not be read.", err=True)
    raise typer.Exit(SOME_FAILED)
