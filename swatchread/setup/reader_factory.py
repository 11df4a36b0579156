"""The function that reads a photo: with the chart beside the card, or with a kept set-up."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from swatchread.card.manual_hints import ManualHints
from swatchread.chart.definition import load_chart
from swatchread.reading import Reading, read_card
from swatchread.setup.setup_file import load_setup
from swatchread.setup.setup_reading import read_in_setup


def reader(
    chart: str | None, setup: Path | None, *, accept_poor: bool, pointed: ManualHints | None = None
) -> Callable[[Path], Reading]:
    """Return a function that reads one photo.

    Parameters
    ----------
    chart : str or None
        A known chart's name or a definition file; None for the usual one.
    setup : pathlib.Path or None
        File of a kept set-up, which contains its own chart.
    accept_poor : bool
    pointed : ManualHints, optional
        What the painter pointed at; not for a kept set-up.

    Returns
    -------
    callable
        From a photo's path to its `Reading`.

    Raises
    ------
    ChartDefinitionError, SetupFileError
        If a file cannot be used.
    """
    if setup is None:
        definition = load_chart(chart) if chart else load_chart()
        return lambda path: read_card(path, definition, accept_poor=accept_poor, pointed=pointed)
    kept = load_setup(setup)
    return lambda path: read_in_setup(path, kept, accept_poor=accept_poor)
