"""`swatchread note fill`: write recipes and card information into a note."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from swatchread.page.note_keeper import NoteKeeper


def fill(
    note: Annotated[Path, typer.Argument(metavar="NOTE", help="A note file (….note.json).")],
    table: Annotated[
        Path | None, typer.Option("--from", metavar="FILE", help="Take the texts from a CSV file: id, recipe, …")
    ] = None,
    browser: Annotated[bool, typer.Option("--browser/--no-browser", help="Open the page in the browser.")] = True,
) -> None:
    """Write recipes and card information into a note.

    Opens a page on this computer that shows each swatch with its handwriting. The keyboard is enough to use it.
    """
    from swatchread.page.note_keeper import NoteKeeper

    keeper = NoteKeeper(note)
    if table:
        from swatchread.page.word_table import read_words

        words = read_words(table)
        keeper.save(words)
        _tell_doubts(words.recipes)
    elif not _serve(keeper, browser):
        typer.echo("Closed without saving.", err=True)
        return
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


def _serve(keeper: NoteKeeper, browser: bool) -> bool:
    """Serve the page until it is closed; return whether anything was saved."""
    from swatchread.page.server import FillServer
    from swatchread.recipes.tubes import load_tubes

    server = FillServer(keeper, load_tubes())
    typer.echo(server.address)
    typer.echo("The page is open until you save and close it; Ctrl-C ends it here.", err=True)
    if browser:
        import webbrowser

        webbrowser.open(server.address)
    server.serve()
    return server.saved
