"""`swatchread read --keep-setup` and `--setup` for one photo."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import typer

from swatchread.errors import UsageError

if TYPE_CHECKING:
    from swatchread.archive.store import Archive


@dataclass(frozen=True)
class InSetup:
    """What the command line asks for."""

    chart: str | None
    setup: Path | None
    keep: Path | None
    accept_poor: bool
    as_json: bool

    def require_sense(self, photos: list[Path], *, same_card: bool) -> None:
        """Refuse to keep a set-up from anything but one photo with its chart, and a set-up with another chart."""
        if self.keep and (self.setup or same_card or len(photos) != 1 or photos[0].is_dir()):
            raise UsageError(
                "A set-up is kept from one photo of card and chart",
                "--keep-setup was given together with --setup, --same-card, a folder or several photos",
                "Keep it from one photo first, then read the others with --setup",
            )
        if self.setup and self.chart:
            raise UsageError(
                "A kept set-up and a chart cannot both be given",
                "the set-up holds the chart that it was measured with",
                "Leave out --chart, or --setup",
            )


def read_one_in_setup(photo: Path, folder: Path, archive: Archive | None, wish: InSetup) -> None:
    """Read one photo with a kept set-up, or keep the one that it shows; write and print.

    Raises
    ------
    SwatchreadError
        If it cannot be read, or not so, or a result cannot be written.
    """
    from swatchread.cli.reading_output import finish
    from swatchread.report.reading_files import stem_beside, write_outputs
    from swatchread.setup.keeping import keep_setup
    from swatchread.setup.reader_factory import reader

    reading = reader(wish.chart, wish.setup, accept_poor=wish.accept_poor)(photo)
    kept = keep_setup(reading) if wish.keep is not None else None
    finish(write_outputs(reading, folder, stem_beside(folder, photo)), archive, as_json=wish.as_json)
    if kept is not None and wish.keep is not None:
        kept.save(wish.keep)
        typer.echo(f"Set-up kept: {wish.keep}", err=True)
