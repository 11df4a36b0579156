"""`swatchread archive`: years of cards, and the questions asked of them."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from swatchread.cli import search_options as ask
from swatchread.cli.sheet_files import check_sheet, write_sheet

if TYPE_CHECKING:
    from rich.console import RenderableType

    from swatchread.archive.conditions import Query
    from swatchread.archive.results import Found

app = typer.Typer(
    name="archive",
    no_args_is_help=True,
    add_completion=False,
    rich_markup_mode=None,
    help="Keep notes, and find swatches again.",
)

AsJson = Annotated[bool, typer.Option("--json", help="Print JSON instead of a table.")]
Card = Annotated[int, typer.Argument(metavar="CARD", help="The card's number, as `list` shows it.")]
Reading = Annotated[str | None, typer.Option(metavar="VERSION", help="The reading by this version of swatchread.")]


class Kind(StrEnum):
    """What found swatches can be exported as."""

    csv = "csv"
    json = "json"
    cgats = "cgats"
    html = "html"


@app.command("add")
def add(
    notes: Annotated[list[Path], typer.Argument(metavar="NOTE", help="Note files to keep.")],
    archive: ask.Address = None,
    erase_words: Annotated[
        bool, typer.Option("--erase-words", help="Let empty recipes and card information erase the archive's.")
    ] = False,
    as_json: AsJson = False,
) -> None:
    """Put notes into the archive; the same photo is never doubled."""
    from swatchread.archive.store import Archive
    from swatchread.cli.messages import tell
    from swatchread.errors import NoteError
    from swatchread.note.model import load_note

    results: list[dict[str, Any]] = []
    failed: list[NoteError] = []
    with Archive.open(archive) as opened:
        for path in notes:
            try:
                added = opened.add(load_note(path), path.parent, erase_words=erase_words)
            except NoteError as error:  # one bad note does not stop the others
                tell(error)
                failed.append(error)
                results.append({"note": str(path), "outcome": "failed", "message": str(error)})
                continue
            results.append({"note": str(path), "outcome": added.outcome, "card": added.card, "message": added.message})
            if not as_json:
                remark = f" ({added.message})" if added.message else ""
                typer.echo(f"{path.name}: {added.outcome}, card {added.card}{remark}")
    if as_json:
        _print_json(results)
    if failed:
        raise typer.Exit(failed[0].exit_status if len(notes) == 1 else 1)


@app.command("list")
def list_cards(archive: ask.Address = None, as_json: AsJson = False) -> None:
    """List the cards."""
    from dataclasses import asdict

    from swatchread.archive.store import Archive

    with Archive.open(archive) as opened:
        cards, address = opened.cards(), opened.address
    if as_json:
        _print_json([asdict(card) for card in cards])
        return
    from swatchread.note.phrases import plain
    from swatchread.report.console import cards_table

    if not cards:
        typer.echo(f"The archive {plain(address)} is empty. Put notes in with `swatchread archive add NOTE`.")
        return
    _print(cards_table(cards))


@app.command("show")
def show(card: Card, reading: Reading = None, archive: ask.Address = None, as_json: AsJson = False) -> None:
    """Show a card: its swatches and its readings."""
    from swatchread.archive.store import Archive

    with Archive.open(archive) as opened:
        view = opened.card(card, reading)
    if as_json:
        typer.echo(view.note.to_json(), nl=False)
        return
    from swatchread.report.console import card_view

    _print(card_view(view))


@app.command("find", short_help="Find swatches by colour, value, words, tubes, dates.")
def find(
    archive: ask.Address = None,
    near: ask.NearText = None,
    within: ask.Within = None,
    alike: ask.Alike = 0.8,
    value: ask.Value = None,
    munsell: ask.Munsell = None,
    temperature: ask.Temperature = None,
    relative: ask.Relative = None,
    lean: ask.Lean = None,
    sitter: ask.Sitter = None,
    medium: ask.Medium = None,
    since: ask.Since = None,
    until: ask.Until = None,
    tube: ask.Tubes = None,
    without: ask.NoTubes = None,
    text: ask.Words = None,
    every_reading: ask.Every = False,
    limit: ask.Limit = 20,
    sheet: Annotated[
        Path | None, typer.Option("--sheet", metavar="FILE", help="Lay them out on a sheet, a page to print.")
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Find swatches; every condition given must hold, and near a colour the nearest come first."""
    from swatchread.archive.store import Archive

    asked = ask.Asked.of(locals())
    check_sheet(sheet)
    with Archive.open(archive) as opened:
        query = asked.query(opened)
        found, more = ask.first_of(opened, query)
    if sheet is not None:
        from swatchread.report.contact_sheet import contact_sheet

        question = asked.in_words() + (f" (the first {len(found)} of more)" if more else "")
        write_sheet(sheet, contact_sheet(found, question))
    if as_json:
        from swatchread.report.search_exports import found_to_json

        typer.echo(found_to_json(found), nl=False)
    else:
        _show_found(found, near, query)
    for doubt in ask.strange_tubes(asked, found=bool(found)):
        typer.echo(doubt, err=True)
    if more:
        typer.echo(f"These are the first {len(found)}; more answer that. --limit 0 shows all.", err=True)


@app.command("export", short_help="Write found swatches as a table or a sheet.")
def export(
    kind: Annotated[Kind, typer.Option("--as", help="csv, json, cgats (ISO 28178 text); html to print.")],
    into: Annotated[
        Path | None, typer.Option(metavar="FILE", help="Where to write. [default: standard output]")
    ] = None,
    archive: ask.Address = None,
    near: ask.NearText = None,
    within: ask.Within = None,
    alike: ask.Alike = 0.8,
    value: ask.Value = None,
    munsell: ask.Munsell = None,
    temperature: ask.Temperature = None,
    relative: ask.Relative = None,
    lean: ask.Lean = None,
    sitter: ask.Sitter = None,
    medium: ask.Medium = None,
    since: ask.Since = None,
    until: ask.Until = None,
    tube: ask.Tubes = None,
    without: ask.NoTubes = None,
    text: ask.Words = None,
    every_reading: ask.Every = False,
    limit: ask.Limit = 0,
) -> None:
    """Write found swatches as a table, as CGATS text or as a sheet to print."""
    from swatchread.archive.store import Archive

    asked = ask.Asked.of(locals())
    with Archive.open(archive) as opened:
        found = opened.find(asked.query(opened))
    written = _exported(found, kind, asked.in_words())
    if into is None:
        typer.echo(written, nl=False)
        return
    from swatchread.note.phrases import swatches
    from swatchread.note.safe_files import write_bytes

    write_bytes(into, written.encode("utf-8"))
    typer.echo(f"Written: {into}, {swatches(len(found))}", err=True)


@app.command("remove", short_help="Take a card, or one reading of it, out.")
def remove(
    card: Card,
    reading: Reading = None,
    yes: Annotated[bool, typer.Option("--yes", help="Do not ask.")] = False,
    archive: ask.Address = None,
) -> None:
    """Take a card, or one reading of it, out of the archive. Photos and note files stay."""
    from swatchread.archive.store import Archive
    from swatchread.note.phrases import heading

    with Archive.open(archive) as opened:
        view = opened.card(card, reading)
        what = f"the reading by {reading} of card {card}" if reading else f"card {card}"
        if not yes and not typer.confirm(f"Remove {what} ({heading(view.note)})?", err=True):
            typer.echo("Nothing was removed.", err=True)
            raise typer.Exit(1)
        count = opened.remove(card, reading)
    typer.echo(f"removed {what} ({count} reading{'' if count == 1 else 's'})")


@app.command("check")
def check(
    repair: Annotated[bool, typer.Option("--repair", help="Build again what does not agree with the notes.")] = False,
    archive: ask.Address = None,
    as_json: AsJson = False,
) -> None:
    """Check that the archive holds together."""
    from dataclasses import asdict

    from swatchread.archive.store import Archive
    from swatchread.errors import ArchiveError

    with Archive.open(archive) as opened:
        faults = opened.check(repair=repair)
        address = opened.address
    if as_json:
        _print_json([asdict(fault) for fault in faults])
    else:
        for fault in faults:
            where = f"card {fault.card}: " if fault.card is not None else ""
            typer.echo(f"{where}{fault.message}{' (repaired)' if fault.repaired else ''}")
        if not faults:
            typer.echo(f"{address} holds together")
    if any(not fault.repaired for fault in faults):
        raise typer.Exit(ArchiveError.exit_status)


def _show_found(found: tuple[Found, ...], near: str | None, query: Query) -> None:
    from swatchread.note.phrases import minus, plain
    from swatchread.report.console import found_table

    if query.near is not None:
        # Of a photo it tells what was taken for the swatch: it may have been a whole card.
        typer.echo(f"Near {plain(near or '')}: L*a*b* {', '.join(minus(x) for x in query.near.lab)}")
    _print(found_table(found))


def _exported(found: Any, kind: Kind, question: str) -> str:
    if kind is Kind.html:
        from swatchread.report.contact_sheet import contact_sheet

        return contact_sheet(found, question)
    from swatchread.report.search_exports import found_to_cgats, found_to_csv, found_to_json

    return {Kind.csv: found_to_csv, Kind.json: found_to_json, Kind.cgats: found_to_cgats}[kind](found)


def _print_json(data: Any) -> None:
    import json

    typer.echo(json.dumps(data, ensure_ascii=False, indent=1))


def _print(table: RenderableType) -> None:
    from rich.console import Console

    Console(highlight=False).print(table)
