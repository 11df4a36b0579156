"""Drawings made with matplotlib, as SVG that stands inside a page, each with its text alternative."""

from __future__ import annotations

import io
import logging
import re
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from swatchread.report.pages import markup

if TYPE_CHECKING:
    from markupsafe import Markup
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

POINTS_PER_INCH: Final = 72
"""Figures are sized in points, at one unit of the drawing a point."""

_NUMBERED_ID = re.compile(r' id="(?!C\d)[\w.]+_\d+"')
"""Names that matplotlib gives in every drawing alike, and never refers to. Those like C0 it does refer to."""
_NO_METADATA: Final = dict.fromkeys(("Creator", "Date", "Format", "Type"))


@dataclass(frozen=True)
class Drawing:
    """A drawing for a page.

    Attributes
    ----------
    svg : markupsafe.Markup
        One ``<svg>`` element with its texts as text.
    told : str
        What it shows, in words.
    """

    svg: Markup
    told: str


@contextmanager
def default_style() -> Iterator[None]:
    """Draw in matplotlib's own style, whatever settings lie on this computer, and keep its remarks on fonts quiet."""
    from matplotlib import rc_context, rcdefaults

    logging.getLogger("matplotlib").setLevel(logging.ERROR)
    with rc_context():
        rcdefaults()
        yield


def new_figure(size: tuple[float, float], frame: tuple[float, float, float, float], ground: str) -> tuple[Figure, Axes]:
    """Return an empty figure with one frame for data, without lines round it.

    Parameters
    ----------
    size : (width, height)
        Points.
    frame : (left, bottom, right, top)
        Sides of the frame, points from the figure's lower left.
    ground : str
        Colour of the whole figure.
    """
    from matplotlib.figure import Figure

    width, height = size
    left, bottom, right, top = frame
    figure = Figure((width / POINTS_PER_INCH, height / POINTS_PER_INCH), dpi=POINTS_PER_INCH, facecolor=ground)
    axes = figure.add_axes((left / width, bottom / height, (right - left) / width, (top - bottom) / height))
    axes.set_facecolor("none")
    axes.spines[:].set_visible(False)
    return figure, axes


def as_drawing(figure: Figure, told: str) -> Drawing:
    """Write a figure as SVG.

    Parameters
    ----------
    figure : matplotlib.figure.Figure
    told : str
        The text alternative. It also makes the names inside the drawing its own, so that many can share a page.
    """
    from matplotlib import rc_context

    buffer = io.StringIO()
    with rc_context({"svg.fonttype": "none", "svg.hashsalt": told}):
        figure.savefig(buffer, format="svg", metadata=_NO_METADATA)
    text = buffer.getvalue()
    # Without the file's head, and without the numbers by which matplotlib calls its groups in every drawing alike.
    return Drawing(markup(_NUMBERED_ID.sub("", text[text.index("<svg") :])), told)
