"""The options of `swatchread read` for a painter whose eye knows better than the program."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from swatchread.errors import UsageError

if TYPE_CHECKING:
    from swatchread.card.manual_hints import ManualHints

Four = tuple[str, str, str, str]
_CORNERS = "x,y x,y x,y x,y"

GridOption = Annotated[
    str | None,
    typer.Option("--grid", metavar="ROWSxCOLUMNS", help="How many rows and columns of paint the card has: 6x3."),
]
CardOption = Annotated[
    Four | None,
    typer.Option("--card", metavar=_CORNERS, help="Where the card lies: its four corners, in pixels of the photo."),
]
ChartAtOption = Annotated[
    Four | None,
    typer.Option(
        "--chart-at", metavar=_CORNERS, help="Where the chart lies: the outer corners of its corner patches, in pixels."
    ),
]


def pointed(grid: str | None, card: Four | None, chart_at: Four | None, *, one: bool) -> ManualHints | None:
    """Return what the options point at; None where they are left away.

    Raises
    ------
    UsageError
        If they cannot be read, or more than one photo is to be read.
    """
    if grid is None and card is None and chart_at is None:
        return None
    if not one:
        raise UsageError(
            "--grid, --card and --chart-at tell about one photo",
            "several photos or a folder were named",
            "Read that photo alone",
        )
    from swatchread.card.manual_hints import ManualHints, parse_corners, parse_grid

    return ManualHints(
        grid=parse_grid(grid) if grid is not None else None,
        card=parse_corners(card, "card") if card is not None else None,
        chart=parse_corners(chart_at, "chart") if chart_at is not None else None,
    )
