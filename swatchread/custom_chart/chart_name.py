"""Names for the painter's own charts."""

from __future__ import annotations

import re

from swatchread.chart.definition import NAME_PATTERN, chart_names
from swatchread.errors import UsageError


def check_name(name: str) -> None:
    """Refuse a name that a chart file cannot carry, or that a shipped chart has.

    Raises
    ------
    UsageError
    """
    if not re.fullmatch(NAME_PATTERN, name):
        raise UsageError(
            f"{name!r} cannot be the name of a chart", "", "Use small letters, figures and hyphens, at most 61 of them"
        )
    if name in chart_names():
        raise UsageError(f"{name} is the name of a chart that comes with the program", "", "Choose another name")
