"""`swatchread note fill`: write recipes and card information into a note."""

from __future__ import annotations

from collections.abc import Mapping
from contextlib import nullcontext
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from swatchread.cli.shared_options import Address

if TYPE_CHECKING:
    from contextlib import AbstractContextManager

    from swatchread.archive.store import Archive
    from swatchread.note.model import Note

_MOST_NAMED = 4
"""Swatches that a doubt names; of more it says how many there are."""


def fill(
    note: Annotated[Path, typer.Argument(metavar="NOTE", help="A note file (….note.json).")],
    table: Annotated[
        Path | None, typer.Option("--from", metavar="FILE", help="Take the texts from a CSV table (example above).")
    ] = None,
    browser: Annotated[bool, typer.Option("--browser/--no-browser", help="Open the page in the browser.")] = True,
    archive: Address = None,
) -> None:
    """Write recipes and card information into a note.

    Opens the page of its card, as `swatchread open NOTE` does: the note is put into the archive, and what you type is
    saved there and in the note's own file.

    A table for --from has one row for each swatch. Card columns may stand in any row; an empty cell changes nothing:

    \b
        id,recipe,title,sitter,date,medium
        r1c1,3 white + 1 yellow ochre,Flesh in shade,K,2024-05-31,oil
        r1c2,2 red ochre + 1 ivory black,,,,

    The note's own table (.note.csv) will do: its ids stand there already, so type into its column `recipe`.
    """  # noqa: D301 - the help keeps lines as they are after this control character
    from swatchread.page.note_keeper import NoteKeeper

    keeper = NoteKeeper(note)
    if table is None:
        from swatchread.cli.open_command import serve_page

        serve_page(note, browser=browser, archive=archive)
        return
    from swatchread.page.word_table import read_words

    words = read_words(table)
    saved = keeper.save(words)
    with _archive_at(archive) as opened:
        _tell_doubts(words.recipes, opened)
        typer.echo(f"Written: {note}", err=True)
        if opened is not None:
            _update_archive(saved, note.parent, opened)


def _archive_at(address: str | None) -> AbstractContextManager[Archive | None]:
    """Open the archive if there is one; none is made."""
    from swatchread.archive.database import existing_archive
    from swatchread.archive.store import Archive

    place = existing_archive(address)
    return nullcontext() if place is None else Archive.open(place)


def _update_archive(note: Note, folder: Path, archive: Archive) -> None:
    """Let the archive take over the words of a note that it holds."""
    if archive.holds(note.identity, note.tool.version) is None:
        return
    added = archive.add(note, folder)
    remark = f" ({added.message})" if added.message else ""
    typer.echo(f"Archive: {added.outcome}, card {added.card}{remark}", err=True)


def _tell_doubts(recipes: Mapping[str, str], archive: Archive | None) -> None:
    """Print what the recipes of a table leave open; the page tells it while they are typed."""
    from swatchread.note.phrases import first_of, plain
    from swatchread.page.note_keeper import tell_recipe
    from swatchread.recipes.tubes import load_tubes
    from swatchread.report.cautions import cautions_of

    tubes = archive.tubes.known() if archive else load_tubes()
    doubts: dict[str, list[str]] = {}
    ambiguous = False
    for name, recipe in recipes.items():
        told = tell_recipe(recipe, tubes)
        ambiguous |= told.ambiguous
        for doubt in told.doubts:
            doubts.setdefault(plain(doubt), []).append(plain(name))
    for doubt, names in doubts.items():
        typer.echo(f"{first_of(names, _MOST_NAMED)}: {doubt}", err=True)
    if ambiguous:
        typer.echo("`swatchread tubes --ask` settles such words once for all cards of the archive.", err=True)
    for line in cautions_of(recipes.values(), tubes):
        typer.echo(line, err=True)
