"""Options that several commands share."""

from __future__ import annotations

from typing import Annotated

import typer

ChartOption = Annotated[
    str | None, typer.Option("--chart", metavar="NAME|FILE", help="The chart: a known name, or a definition file.")
]
