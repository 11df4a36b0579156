"""`swatchread note fill`: write recipes and card information into a note."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from swatchread.cli.shared_options import Address

if TYPE_CHECKING:
    from swatchread.note.model import Note


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
    _tell_doubts(words.recipes)
    typer.echo(f"Written: {note}", err=True)
    _update_archive(saved, note.parent, archive)


def _update_archive(note: Note, folder: Path, address: str | None) -> None:
    """Let the archive take over the words of a note that it holds. No archive is made for that."""
    from swatchread.archive.database import archive_address
    from swatchread.archive.store import Archive

    place = archive_address(address)
    if "://" not in place and not Path(place).expanduser().is_file():
        return
    with Archive.open(place) as opened:
        if opened.holds(note.identity, note.tool.version) is None:
            return
        added = opened.add(note, folder)
    remark = f" ({added.message})" if added.message else ""
    typer.echo(f"Archive: {added.outcome}, card {added.card}{remark}", err=True)


def _tell_doubts(recipes: Mapping[str, str]) -> None:
    """Print what the recipes of a table leave open; the page tells it while they are typed."""
    from swatchread.note.phrases import plain
    from swatchread.page.note_keeper import tell_recipe
    from swatchread.recipes.tubes import load_tubes
    from swatchread.report.cautions import cautions_of

    tubes = load_tubes()
    doubts: dict[str, list[str]] = {}
    for name, recipe in recipes.items():
        for doubt in tell_recipe(recipe, tubes).doubts:
            doubts.setdefault(plain(doubt), []).append(plain(name))
    for doubt, names in doubts.items():
        typer.echo(f"{', '.join(names)}: {doubt}", err=True)
    for line in cautions_of(recipes.values()):
        typer.echo(line, err=True)
