"""What `swatchread read` is asked to do, and whether that makes sense."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from swatchread.cli.shared_options import require_folder
from swatchread.errors import UsageError

if TYPE_CHECKING:
    from swatchread.archive.store import Archive
    from swatchread.batch.photo_addresses import Place
    from swatchread.correction.known_stock import KnownStocks
    from swatchread.hints.manual_hints import ManualHints
    from swatchread.reading import Reading

Corners = tuple[str, str, str, str]
"""Four corners as they are typed: x,y each."""


@dataclass(frozen=True, kw_only=True)
class ReadingRequest:
    """The arguments and options of `swatchread read`, under the names of its parameters."""

    photos: list[Place]
    into: Path | None = None
    archive: str | None = None
    chart: str | None = None
    jobs: int | None = None
    reread: bool = False
    same_card: bool = False
    keep_setup: Path | None = None
    setup: Path | None = None
    as_json: bool = False
    accept_poor: bool = False
    grid: str | None = None
    card: Corners | None = None
    chart_at: Corners | None = None
    support: str | None = None
    same_stock: bool = False
    cluster: str | None = None

    @property
    def files(self) -> list[Path]:
        """The photos and folders that are on this computer, and not at an address."""
        return [place for place in self.photos if isinstance(place, Path)]

    @property
    def is_one_photo(self) -> bool:
        """Whether a single photo was named that is read here, and no folder."""
        return self.cluster is None and len(self.photos) == 1 and not self.files[0].is_dir()

    @property
    def folder(self) -> Path:
        """Where the results of a single photo go."""
        return self.into or self.files[0].parent

    @property
    def report_folder(self) -> Path:
        """Where the report on several photos goes; for photos at an address, if nothing is said, the current folder."""
        first = next(iter(self.files), Path("photo"))
        return self.into or (first if first.is_dir() else first.parent)

    def check(self) -> None:
        """Refuse what makes no sense before a photo is read.

        Raises
        ------
        UsageError
            If two options contradict each other.
        OutputError
            If nothing can be written into the folder for the results.
        """
        self._check_where()
        require_folder(self.folder if self.is_one_photo else self.into)
        if self.grid is not None:  # "--grid 6 by 3" leaves words that look like more photos
            from swatchread.hints.manual_hints import parse_grid

            parse_grid(self.grid)
        has_hints = any(hint is not None for hint in (self.grid, self.card, self.chart_at))
        if has_hints and (not self.is_one_photo or self.same_card or self.setup or self.keep_setup):
            raise UsageError(
                "--grid, --card and --chart-at are for one photo with its chart",
                "several photos, a folder or a kept set-up were named",
                "Read that photo alone",
            )
        if self.keep_setup and (self.setup or self.same_card or not self.is_one_photo):
            raise UsageError(
                "A set-up is kept from one photo of card and chart",
                "--keep-setup was given together with --setup, --same-card, a folder or several photos",
                "Keep it from one photo first, then read the others with --setup",
            )
        if self.same_stock and (self.archive is None or self.setup):
            raise UsageError(
                "--same-stock needs an archive that knows the stock",
                "without --archive no earlier card tells what its ground looks like"
                if self.archive is None
                else "a kept set-up knows its ground by itself",
                "Add --archive, or leave out --same-stock" if self.archive is None else "Leave out --same-stock",
            )
        if self.setup and self.chart:
            raise UsageError(
                "A kept set-up and a chart cannot both be given",
                "the set-up holds the chart that it was measured with",
                "Leave out --chart, or --setup",
            )

    def _check_where(self) -> None:
        """Refuse what does not go with the places of the photos, or with a cluster."""
        addressed = next((place for place in self.photos if not isinstance(place, Path)), None)
        if addressed is not None and self.cluster is None:
            raise UsageError(
                f"{addressed} is read on a cluster",
                "photos at an address are fetched by its workers, and --cluster names none",
                "Add --cluster, or copy the photos to this computer",
            )
        if addressed is not None and self.archive is None and self.into is None:
            raise UsageError(
                f"The notes of {addressed} have no place",
                "nothing is written beside photos at an address",
                "Add --archive, or --into with a folder that the workers share",
            )
        if self.cluster is not None and (self.same_card or self.keep_setup or self.jobs):
            raise UsageError(
                "--cluster reads each photo by itself, on other computers",
                "--same-card, --keep-setup and --jobs are for this one",
                "Leave them out, or --cluster",
            )

    def hints(self) -> ManualHints:
        """Return what the painter pointed at.

        Raises
        ------
        UsageError
            If the grid or the corners cannot be read.
        """
        from swatchread.hints.manual_hints import ManualHints, parse_corners, parse_grid

        return ManualHints(
            grid=parse_grid(self.grid) if self.grid is not None else None,
            card=parse_corners(self.card, "card") if self.card is not None else None,
            chart=parse_corners(self.chart_at, "chart") if self.chart_at is not None else None,
        )

    def stocks(self, archive: Archive | None) -> KnownStocks:
        """Return what is known of the stock of these cards: its name, and what the archive's cards showed."""
        from swatchread.correction.known_stock import KnownStocks

        named = (self.support or "").strip()
        if archive is None:
            return KnownStocks(named=named)
        from swatchread.archive.stocks import known_stocks

        return KnownStocks(known_stocks(archive), named, self.same_stock)

    def reader(self, archive: Archive | None) -> Callable[[Path], Reading]:
        """Return the function that reads one photo as requested."""
        from swatchread.setup.setup_reading import reader

        stocks = self.stocks(archive)
        return reader(self.chart, self.setup, accept_poor=self.accept_poor, pointed=self.hints(), stocks=stocks)

    def cards_reader(self, archive: Archive | None) -> Callable[[Path], tuple[Reading, ...]]:
        """Return the function that reads all cards in one photo as requested."""
        from swatchread.setup.setup_reading import cards_reader

        stocks = self.stocks(archive)
        return cards_reader(self.chart, self.setup, accept_poor=self.accept_poor, pointed=self.hints(), stocks=stocks)
