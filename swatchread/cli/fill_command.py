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
    prompt: Annotated[bool, typer.Option("--prompt", help="Ask here in the terminal instead of on a page.")] = False,
    table: Annotated[
        Path | None, typer.Option("--from", metavar="FILE", help="Take the words from a CSV file: id, recipe, …")
    ] = None,
    port: Annotated[int, typer.Option(metavar="N", help="The page's port; 0 for any free one.", min=0, max=65535)] = 0,
    browser: Annotated[bool, typer.Option("--browser/--no-browser", help="Open the page in the browser.")] = True,
) -> None:
    """Write recipes and card information into a note.

    Opens a page on this computer that shows each swatch with its handwriting; everything can be done with the keyboard.
    """
    from swatchread.errors import UsageError
    from swatchread.page.note_keeper import NoteKeeper

    if prompt and table:
        raise UsageError("--prompt and --from exclude each other")
    keeper = NoteKeeper(note)
    if table:
        from swatchread.page.word_table import read_words

        words = read_words(table)
        keeper.save(words)
        _tell(words.recipes)
    elif prompt:
        _ask(keeper)
    elif not _serve(keeper, port, browser):
        typer.echo("Closed without saving.", err=True)
        return
    typer.echo(f"Written: {note}", err=True)


def _tell(recipes: Mapping[str, str]) -> None:
    """Say what recipes of a table leave open; on a page and in the terminal it is said while they are written."""
    from swatchread.note.phrases import CARE, plain
    from swatchread.page.understood import tell_recipe
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


def _ask(keeper: NoteKeeper) -> None:
    from swatchread.page.prompt import ask_words
    from swatchread.recipes.tubes import load_tubes

    keeper.save(ask_words(keeper.note, load_tubes(), input, typer.echo))


def _serve(keeper: NoteKeeper, port: int, browser: bool) -> bool:
    from swatchread.page.server import FillServer
    from swatchread.recipes.tubes import load_tubes

    server = FillServer(keeper, load_tubes(), port)
    typer.echo(server.address)
    typer.echo("The page is open until you save and close it; Ctrl-C ends it here.", err=True)
    if browser:
        import webbrowser

        webbrowser.open(server.address)
    server.serve()
    return server.saved
