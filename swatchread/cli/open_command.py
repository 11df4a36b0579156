"""`swatchread open`: the local page."""

from __future__ import annotations

from typing import Annotated

import typer

from swatchread.cli.shared_options import Address


def open_page(
    port: Annotated[int, typer.Option("--port", min=0, max=65535, help="The port; 0 takes one that is free.")] = 0,
    browser: Annotated[bool, typer.Option("--browser/--no-browser", help="Open the page in the browser.")] = True,
    archive: Address = None,
) -> None:
    """Work with your cards on a page in the browser.

    The page runs on this computer only and needs no network. Its address is the first line that is printed.
    """
    from swatchread.archive.picture_archive import PictureArchive
    from swatchread.page.serving import PageServer
    from swatchread.page.studio import open_studio

    with PictureArchive.open(archive) as opened:
        server = PageServer(open_studio(opened), port)
        typer.echo(server.address)
        if browser:
            import webbrowser

            webbrowser.open(server.address)
        server.serve()
