"""`swatchread note fill`: write recipes and card information into a note."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Annotated

import typer

from swatchread.cli.shared_options import Address


def fill(
    note: Annotated[Path, typer.Argument(metavar="NOTE", help="A note file (….note.json).")],
    table: Annotated[
        Path | None, typer.Option("--from", metavar="FILE", help="Take the texts from a CSV file: id, recipe, …")
    ] = None,
    browser: Annotated[bool, typer.Option("--browser/--no-browser", help="Open the page in the browser.")] = True,
    archive: Address = None,
) -> None:
    """Write recipes and card information into a note.

    Opens the page of its card, as `swatchread open NOTE` does: the note is put into the archive, and what you type is
    saved there and in the note's own file.
    """
    from swatchread.page.note_keeper import NoteKeeper

    keeper = NoteKeeper(note)
    if table is None:
        from swatchread.cli.open_command import serve_page

        serve_page(note, browser=browser, archive=archive)
        return
    from swatchread.page.word_table import read_words

    words = read_words(table)
    keeper.save(words)
    _tell_doubts(words.recipes)
    typer.echo(f"Written: {note}", err=True)


def _tell_doubts(recipes: Mapping[str, str]) -> None:
    """Print what the recipes of a table leave open; the page tells it while they are typed."""
    from swatchread.note.phrases import CARE, plain
    from swatchread.page.note_keeper import tell_recipe
    from swatchread.recipes.tubes import load_tubes

    tubes = load_tubes()
    doubts: dict[str, list[str]] = {}
    cautions: dict[str, None] = {}
    for name, recipe in recipes.items():
        told = tell_recipe(recipe, tubes)
        for doubt in told.doubts:
            doubts.setdefault(plain(doubt), []).append(plain(name))
        cautions.update(dict.fromkeys(told.cautions))
    for doubt, names in doubts.items():
        typer.echo(f"{', '.join(names)}: {doubt}", err=True)
    for line in (*cautions, *([CARE] if any(recipes.values()) else [])):
        typer.echo(line, err=True)
