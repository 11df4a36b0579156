"""Sheets to print, shared by the commands that write them."""

from __future__ import annotations

from pathlib import Path

import typer


def check_sheet(path: Path | None) -> None:
    """Refuse a sheet that is not called a page, before any work is done."""
    from swatchread.errors import UsageError

    if path is None or path.suffix.lower() in {".html", ".htm"}:
        return
    raise UsageError(
        f"{path.name} is not the name of a page",
        "sheets are written as HTML",
        f"Name it {path.with_suffix('.html').name}, open it in the browser, and print it or save it as PDF there",
    )


def write_sheet(path: Path, page: str) -> None:
    """Write a sheet, and say so."""
    from swatchread.note.safe_files import write_text

    write_text(path, page)
    typer.echo(f"Written: {path}. Open it in the browser to print it.", err=True)
