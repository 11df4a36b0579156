"""`swatchread open`: the local page."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from swatchread.cli.shared_options import Address, ChartOption

if TYPE_CHECKING:
    from swatchread.page.studio import Studio


def open_page(
    what: Annotated[
        Path | None,
        typer.Argument(
            metavar="FOLDER|NOTE|PHOTO",
            help="A folder from which photos are read as they arrive; or a note or a photo, whose card is opened.",
        ),
    ] = None,
    port: Annotated[int, typer.Option("--port", min=0, max=65535, help="The port; 0 takes one that is free.")] = 0,
    browser: Annotated[bool, typer.Option("--browser/--no-browser", help="Open the page in the browser.")] = True,
    archive: Address = None,
    chart: ChartOption = None,
    shortcut: Annotated[
        bool, typer.Option("--shortcut", help="Put a starter for this on the desktop, and do nothing else.")
    ] = False,
) -> None:
    """Work with your cards on a page in the browser.

    Drop photos on it, correct what was read wrongly by dragging, type recipes, find colours again, compare, plan a
    sitting, mix. It runs on this computer only and needs no network. The page's address is the first line that is
    printed; Ctrl-C ends it.
    """
    if shortcut:
        from swatchread.cli.shortcut import write_shortcut

        typer.echo(f"Written: {write_shortcut()}", err=True)
        return
    serve_page(what, port=port, browser=browser, archive=archive, chart=chart)


def serve_page(
    what: Path | None, *, port: int = 0, browser: bool = True, archive: str | None = None, chart: str | None = None
) -> None:
    """Serve the page until Ctrl-C."""
    from swatchread.archive.picture_archive import PictureArchive
    from swatchread.page.serving import PageServer
    from swatchread.page.studio import open_studio

    if chart:
        from swatchread.chart.definition import load_chart

        load_chart(chart)
    with PictureArchive.open(archive) as opened:
        studio = open_studio(opened, chart=chart)
        watched = what if what is not None and what.is_dir() else None
        first = "" if what is None or watched else _page_of(what, studio)
        server = PageServer(studio, port, watched)
        typer.echo(server.address)
        if first:
            typer.echo(f"The card: {server.address}{first}", err=True)
        typer.echo("The page is open until you press Ctrl-C here. All you type is saved at once.", err=True)
        if browser:
            import webbrowser

            webbrowser.open(server.address + first)
        try:
            server.serve()
        except KeyboardInterrupt:
            typer.echo("Closed.", err=True)


def _page_of(path: Path, studio: Studio) -> str:
    """Put a note, or a photo that is then read, where the page works on it; return the address of its page."""
    from swatchread.errors import PhotoError, why_unread

    if path.suffix.lower() == ".json":
        from swatchread.note.model import load_note

        card = studio.archive.add(load_note(path), path.parent).card
        studio.note_files[card] = path
        return f"cards/{card}"
    try:
        with path.open("rb") as file:
            arrival = studio.inbox.take(file, path.name)
    except OSError as error:
        raise PhotoError(f"{path.name or path} cannot be opened", *why_unread(error)) from error
    return f"photos/{arrival.id}/open"
