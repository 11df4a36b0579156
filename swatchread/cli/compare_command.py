"""`swatchread compare`: whether mixtures dried lighter or darker."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from swatchread.cli.shared_options import Address, ChartOption, JsonOption, require_folder

if TYPE_CHECKING:
    from swatchread.archive.store import Archive
    from swatchread.comparison.comparison_result import Series
    from swatchread.note.model import Note


Sources = Annotated[
    list[str] | None,
    typer.Argument(
        metavar="BEFORE AFTER",
        help="Photos, notes (.json) or numbers of archive cards, in order of time; two or more. One number alone: all "
        "readings of that card in the archive, by date.",
    ),
]
Anchors = Annotated[
    list[str] | None,
    typer.Option(
        "--anchor",
        metavar="ID",
        help="What cannot have changed: a swatch r1c2, a row r1, a column c2, or ground. May be repeated.",
    ),
]
Everything = Annotated[
    bool, typer.Option("--across", help="Show which tubes, grounds and media shift most, over the whole archive.")
]
Folder = Annotated[
    Path | None,
    typer.Option("--into", metavar="DIR", help="Folder for the page and the CSV. [default: beside the last file]"),
]
AcceptPoor = Annotated[bool, typer.Option("--accept-poor", help="Take readings whose colour fit is poor.")]


_LONGEST_NAME = 80
"""Bytes of a photo's name in a result's name: two of them and an ending fit into the 255 that most disks allow."""


def compare(
    sources: Sources = None,
    anchor: Anchors = None,
    across: Everything = False,
    into: Folder = None,
    archive: Address = None,
    chart: ChartOption = None,
    as_json: JsonOption = False,
    accept_poor: AcceptPoor = False,
) -> None:
    """Compare readings of one card, to see what dried lighter, darker, warmer or duller.

    Writes a page to look at and to print (.compare.html) and a table (.compare.csv), and prints the answer.
    """
    from swatchread.errors import UsageError

    named = sources or []
    if across:
        if named:
            raise UsageError(
                "--across compares the whole archive", "it takes no photos, notes or numbers", "Leave them out"
            )
        _across(archive, as_json=as_json)
        return
    if not named:
        raise UsageError("Nothing to compare", "", "Name two readings of one card: photos, notes or archive numbers")
    require_folder(into)
    notes = _notes(named, archive, chart, accept_poor=accept_poor)
    from swatchread.comparison.pair import follow

    series = follow(notes, anchor or ())
    written = _write(series, into or _folder(named))
    if as_json:
        from swatchread.report.comparison_exports import series_to_json

        typer.echo(series_to_json(series), nl=False)
    else:
        from rich.console import Console

        from swatchread.report.console_answers import series_table

        Console(highlight=False).print(series_table(series))
    typer.echo(f"Written: {', '.join(str(path) for path in written)}", err=True)


def _is_number(source: str) -> bool:
    return source.isdecimal() and not Path(source).exists()


def _notes(named: list[str], archive: str | None, chart: str | None, *, accept_poor: bool) -> list[Note]:
    if len(named) == 1 and _is_number(named[0]):
        return _readings_of_one_card(int(named[0]), archive)
    from swatchread.palette.card_sources import archived_note

    return [
        archived_note(archive, int(source))
        if _is_number(source)
        else _read(Path(source), chart, accept_poor=accept_poor)
        for source in named
    ]


def _read(path: Path, chart: str | None, *, accept_poor: bool) -> Note:
    if path.suffix.lower() == ".json":
        from swatchread.note.model import load_note

        return load_note(path)
    from swatchread.chart.definition import load_chart
    from swatchread.reading import read_photo

    typer.echo(f"Reading {path.name} …", err=True)
    return read_photo(path, load_chart(chart) if chart else None, accept_poor=accept_poor)


def _all_notes(opened: Archive) -> dict[int, Note]:
    return opened.notes()


def _readings_of_one_card(number: int, archive: str | None) -> list[Note]:
    """Return all archive readings of one painted card, by date."""
    from swatchread.archive.store import Archive
    from swatchread.comparison.same_card import date_key, same_card
    from swatchread.errors import ArchiveError

    with Archive.open(archive) as opened:
        named = opened.card(number).note
        others = [note for card, note in _all_notes(opened).items() if card != number and same_card(named, note)]
    if not others:
        raise ArchiveError(
            f"The archive has only one reading of card {number}",
            "no other photo shows the same swatches in the same places",
            "Add a later photo's note, or name two numbers",
        )
    return sorted([named, *others], key=date_key)


def _across(archive: str | None, *, as_json: bool) -> None:
    from swatchread.archive.store import Archive
    from swatchread.comparison.across_cards import summarise
    from swatchread.comparison.pair import compare as compare_notes
    from swatchread.comparison.same_card import grouped
    from swatchread.errors import SwatchreadError

    with Archive.open(archive) as opened:
        notes = list(_all_notes(opened).values())
    comparisons = []
    for group in grouped(notes):
        try:
            comparisons.append(compare_notes(notes[group[0]], notes[group[-1]]))
        except SwatchreadError as error:  # one odd pair does not stop the others
            typer.echo(str(error), err=True)
    summary = summarise(comparisons)
    if as_json:
        from swatchread.report.comparison_exports import across_to_json

        typer.echo(across_to_json(summary), nl=False)
        return
    from rich.console import Console

    from swatchread.report.console_answers import across_table

    Console(highlight=False).print(across_table(summary))


def _folder(named: list[str]) -> Path:
    files = [Path(source) for source in named if not _is_number(source)]
    return files[-1].parent if files else Path()


def _file_stem(note: Note) -> str:
    """Return a photo's name as part of a file name: without what a note may smuggle in, and of a long one the end."""
    from swatchread.note.phrases import plain

    name = plain(Path(plain(note.photo.file)).stem).encode()[-_LONGEST_NAME:].decode(errors="ignore")
    return name.strip(" .") or "reading"


def _write(series: Series, folder: Path) -> list[Path]:
    from swatchread.note.safe_files import write_text
    from swatchread.report.comparison_exports import series_to_csv
    from swatchread.report.comparison_page import render_comparison

    stem = "-to-".join(_file_stem(note) for note in (series.first, series.comparisons[-1].after))
    table, page = folder / f"{stem}.compare.csv", folder / f"{stem}.compare.html"
    write_text(table, series_to_csv(series))
    write_text(page, render_comparison(series))
    return [page, table]
