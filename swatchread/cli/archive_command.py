"""`swatchread archive`: keep notes, search them, take them out again."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, ClassVar

import typer

from swatchread.cli import search_options as ask
from swatchread.cli.colour_words import ColourCommand
from swatchread.cli.grouped_help import RARE
from swatchread.cli.output import print_json, print_table
from swatchread.cli.shared_options import Address, JsonOption, Kind, KindOption, command_group, kind_of

if TYPE_CHECKING:
    from swatchread.archive.conditions import Query
    from swatchread.archive.results import Found

app = command_group("archive", "Keep notes, and find swatches again.")

Card = Annotated[int, typer.Argument(metavar="CARD", help="The card's number, as `list` shows it.")]
Reading = Annotated[str | None, typer.Option(metavar="VERSION", help="The reading by this version of swatchread.")]


@app.command("add")
def add(
    notes: Annotated[list[Path], typer.Argument(metavar="NOTE", help="Note files to keep.")],
    archive: Address = None,
    erase_words: Annotated[
        bool, typer.Option("--erase-words", help="Where the note's recipe or line is empty, empty the archive's, too.")
    ] = False,
    as_json: JsonOption = False,
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
        print_json(results)
    if failed:
        raise typer.Exit(failed[0].exit_status if len(notes) == 1 else 1)


@app.command("list")
def list_cards(archive: Address = None, as_json: JsonOption = False) -> None:
    """List the cards."""
    from dataclasses import asdict

    from swatchread.archive.store import Archive

    with Archive.open(archive) as opened:
        cards, address = opened.cards(), opened.address
    if as_json:
        print_json([asdict(card) for card in cards])
        return
    from swatchread.note.phrases import plain
    from swatchread.report.console import cards_table

    if not cards:
        typer.echo(ask.EMPTY.format(plain(address)))
        return
    print_table(cards_table(cards))


class _FindCommand(ColourCommand):
    """`archive find`, whose conditions stand in groups."""

    sections: ClassVar[Mapping[str, tuple[str, ...]]] = {
        "By warmth": ("temperature", "relative", "lean"),
        "By words and dates": ("without", "text", "medium", "since", "until"),
        RARE: ("alike", "every_reading", "archive", "kind", "as_json", "help"),
    }


@app.command("find", cls=_FindCommand, short_help="Find swatches by colour, value, words, tubes, dates.")
def find(
    archive: Address = None,
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
    kind: KindOption = None,
    into: ask.Into = None,
    as_json: JsonOption = False,
) -> None:
    """Find swatches, dark to light; every condition given must hold."""
    options = dict(locals())
    from swatchread.archive.store import Archive
    from swatchread.errors import UsageError

    wanted = kind_of(kind, into, ("csv", "cgats", "html"))
    if as_json and wanted is not None and into is None:
        raise UsageError("--json and --as both print their answer", "", "Name a file for the other one with --into")
    with Archive.open(archive) as opened:
        query = ask.query_of(options, opened)
        told = ask.answer(opened, query)
        tubes = None if as_json or wanted else opened.tubes.known()
    if as_json:
        from swatchread.report.search_exports import found_to_json

        typer.echo(found_to_json(told.found), nl=False)
    else:
        _tell_colour(near, query, told.nearest, err=wanted is not None)
    if wanted is not None:
        _export(told, wanted, into, ask.in_words(options))
    elif not as_json:
        from swatchread.report.console import found_table

        print_table(found_table(told.found, tubes))
    for remark in ask.remarks(options, told):
        typer.echo(remark, err=True)


@app.command("remove", short_help="Remove a card, or one reading of it.")
def remove(
    card: Card,
    reading: Reading = None,
    yes: Annotated[bool, typer.Option("--yes", help="Do not ask.")] = False,
    archive: Address = None,
) -> None:
    """Remove a card, or one reading of it, from the archive. Photos and note files stay."""
    from swatchread.archive.store import Archive
    from swatchread.note.phrases import plain

    what = f"the reading by {reading} of card {card}" if reading else f"card {card}"
    with Archive.open(archive) as opened:
        # From the list, for a card whose note is damaged must be removable, too.
        names = {line.card: plain(line.title) or plain(line.photo) for line in opened.cards()}
        if card in names and not yes and not typer.confirm(f"Remove {what} ({names[card]})?", err=True):
            typer.echo("Nothing was removed.", err=True)
            raise typer.Exit(1)
        count = opened.remove(card, reading)
    typer.echo(f"removed {what} ({count} reading{'' if count == 1 else 's'})")


@app.command("check", short_help="Look for damage.")
def check(archive: Address = None, as_json: JsonOption = False) -> None:
    """Check whether the archive is damaged, and whether it still says what its notes say."""
    from dataclasses import asdict

    from swatchread.archive.store import Archive
    from swatchread.errors import ArchiveError

    with Archive.open(archive) as opened:
        faults, address = opened.check(), opened.address
    if as_json:
        print_json([asdict(fault) for fault in faults])
    else:
        for fault in faults:
            typer.echo(fault.message if fault.card is None else f"card {fault.card}: {fault.message}")
        if not faults:
            typer.echo(f"{address}: no fault was found")
    if faults:
        raise typer.Exit(ArchiveError.exit_status)


def _tell_colour(near: str | None, query: Query, nearest: Found | None, *, err: bool) -> None:
    """Say which colour was taken for the swatch that was named, and which swatch comes nearest."""
    from swatchread.note.phrases import minus, plain

    if query.near is not None:
        lab = ", ".join(minus(x) for x in query.near.lab)
        typer.echo(f"Near {plain(near or '')}: L*a*b* {lab}", err=err)
        if nearest is not None:
            typer.echo(f"Nearest: card {nearest.card}, {nearest.swatch}, ΔE00 {nearest.de00:.1f}", err=err)


def _export(told: ask.Answer, kind: Kind, into: Path | None, question: str) -> None:
    found = told.found
    if kind == "html":
        from swatchread.report.sheets import contact_sheet

        text = contact_sheet(found, question + (f" (the first {len(found)} of {told.total})" if told.more else ""))
    else:
        from swatchread.report.search_exports import found_to_cgats, found_to_csv

        text = found_to_csv(found) if kind == "csv" else found_to_cgats(found)
    if into is None:
        typer.echo(text, nl=False)
        return
    from swatchread.note.phrases import swatches
    from swatchread.note.safe_files import write_text

    write_text(into, text)
    typer.echo(f"Written: {into}, {swatches(len(found))}", err=True)
