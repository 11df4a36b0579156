"""`swatchread read`: photos in, notes out."""

from __future__ import annotations

from contextlib import nullcontext
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer
from typer.core import TyperCommand

if TYPE_CHECKING:
    from swatchread.archive.store import Archive
    from swatchread.note import Note

SOME_FAILED = 1
_ARCHIVE = "--archive"

ChartOption = Annotated[
    str | None, typer.Option("--chart", metavar="NAME|FILE", help="The chart: a known name, or a definition file.")
]


class ReadCommand(TyperCommand):
    """A command whose ``--archive`` may stand without an address."""

    def parse_args(self, ctx: Any, args: list[str]) -> list[str]:
        """Give a bare ``--archive`` an empty address: it is the last word, or an option or a folder follows."""
        given = []
        for word, following in zip(args, [*args[1:], "-"], strict=False):
            given.append(word)
            if word == _ARCHIVE and (following.startswith("-") or Path(following).is_dir()):
                given.append("")
        return super().parse_args(ctx, given)


COMMAND = ReadCommand


def read(
    photos: Annotated[
        list[Path], typer.Argument(metavar="PHOTO|FOLDER…", help="Photos of a card beside a chart, or folders of them.")
    ],
    into: Annotated[
        Path | None, typer.Option("--into", metavar="DIR", help="Folder for the results. [default: beside the photo]")
    ] = None,
    archive: Annotated[
        str | None,
        typer.Option(_ARCHIVE, metavar="[URL]", help="Keep the notes in this archive; without URL, in the usual one."),
    ] = None,
    chart: ChartOption = None,
    jobs: Annotated[
        int | None, typer.Option("--jobs", metavar="N", min=1, help="Photos read at a time. [default: one a core]")
    ] = None,
    again: Annotated[bool, typer.Option("--again", help="Of several photos, read those too that were read.")] = False,
    report: Annotated[
        Path | None, typer.Option("--report", metavar="FILE", help="Where the report on several photos goes, as CSV.")
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print JSON instead of a table.")] = False,
    accept_poor: Annotated[
        bool, typer.Option("--accept-poor", help="Take a reading whose colour fit is poor; the note says so.")
    ] = False,
) -> None:
    """Read painted swatch cards from photos into measured colour notes.

    Writes beside each photo, or into DIR: the note (.note.json), its table (.note.csv and .note.cgats.txt), the photo
    with what was measured marked on it (.marked.jpg), the handwriting (.r1c1.writing.jpg) and a page to look at
    (.note.html).

    Several photos are read in parallel, past bad ones, with a report at the end (read-report.csv). Those that were
    read before by this version are passed over: the same command takes up where it was stopped.
    """
    with _opened(archive) as kept:
        if len(photos) == 1 and not photos[0].is_dir():
            _read_one(photos[0], into or photos[0].parent, kept, chart, accept_poor=accept_poor, as_json=as_json)
            return
        from swatchread.cli.read_many import Wish, read_many

        wish = Wish(photos, into, chart, accept_poor, again, jobs, report, as_json)
        status = read_many(wish, kept)
    if status:
        raise typer.Exit(status)


def _opened(archive: str | None) -> Any:
    if archive is None:
        return nullcontext()
    from swatchread.archive.store import Archive

    return Archive.open(archive or None)


def _read_one(
    photo: Path, folder: Path, archive: Archive | None, chart: str | None, *, accept_poor: bool, as_json: bool
) -> None:
    from swatchread.charts.definition import load_chart
    from swatchread.outputs import write_outputs
    from swatchread.reading import read_card

    reading = read_card(photo, load_chart(chart) if chart else load_chart(), accept_poor=accept_poor)
    note = write_outputs(reading, folder, photo.stem).note
    _print(note, folder, photo.stem, as_json=as_json)
    if archive is not None:
        added = archive.add(note, folder)
        remark = f" ({added.message})" if added.message else ""
        typer.echo(f"Archive: {added.outcome}, card {added.card}{remark}", err=True)


def _print(note: Note, folder: Path, stem: str, *, as_json: bool) -> None:
    if as_json:
        typer.echo(note.to_json(), nl=False)
        return
    from swatchread.pictures.table import print_note

    print_note(note)
    typer.echo(f"Written: {folder / stem}.note.json, .note.html, .note.csv, .note.cgats.txt, .marked.jpg", err=True)
