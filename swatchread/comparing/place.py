"""Where a card's swatches lie on the table, measured by the chart beside them.

The chart is the ruler: its corners take photo pixels to the plane of the table, where one card keeps its own lengths
however the camera was held.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from swatchread.charts.definition import load_chart
from swatchread.colour import Floats
from swatchread.errors import ChartDefinitionError
from swatchread.geometry import fit_homography, polygon_area, project
from swatchread.note import Note

_CLASSIC = (6, 4)


@dataclass(frozen=True, eq=False)
class CardPlaces:
    """A card's swatches on the plane of the table.

    Attributes
    ----------
    ids : tuple of str
    centres : ndarray, shape (n, 2)
        In units of the chart's patch pitch, (x, y).
    extents : ndarray, shape (n,)
        Square root of each sampled area, same unit.
    lab : ndarray, shape (n, 3)
        CIELAB, D50, 2 degree.
    pitch : float
        Median distance from a swatch to its nearest neighbour; of a single swatch its extent.
    """

    ids: tuple[str, ...]
    centres: Floats
    extents: Floats
    lab: Floats
    pitch: float


def card_places(note: Note) -> CardPlaces:
    """Measure where the swatches of a note lie.

    Parameters
    ----------
    note : Note

    Returns
    -------
    CardPlaces
    """
    columns, rows = _chart_size(note.chart.name)
    lattice = np.array([[0, 0], [columns, 0], [columns, rows], [0, rows]], dtype=np.float64)
    to_table = fit_homography(np.array(note.chart.corners, dtype=np.float64), lattice)
    outlines = [project(to_table, np.array(s.outline, dtype=np.float64)) for s in note.swatches]
    centres = np.array([_centroid(outline) for outline in outlines])
    extents = np.array([np.sqrt(abs(polygon_area(outline))) for outline in outlines])
    apart = np.linalg.norm(centres[:, None] - centres[None], axis=-1)
    np.fill_diagonal(apart, np.inf)
    pitch = float(np.median(apart.min(axis=1))) if len(centres) > 1 else float(extents[0])
    lab = np.array([s.lab for s in note.swatches], dtype=np.float64)
    return CardPlaces(tuple(s.id for s in note.swatches), centres, extents, lab, max(pitch, 1e-9))


def _chart_size(name: str) -> tuple[int, int]:
    try:
        chart = load_chart(name)
    except ChartDefinitionError:
        return _CLASSIC  # a chart of the painter's own: then lengths are only proportional, which is enough
    return chart.columns, chart.rows


def _centroid(outline: Floats) -> Floats:
    """Return the middle of a polygon's area; of a degenerate one the mean of its corners."""
    (x, y), (u, v) = outline.T, np.roll(outline, -1, axis=0).T
    cross = x * v - u * y
    area = float(cross.sum())
    if abs(area) < 1e-12:
        return np.asarray(outline.mean(axis=0))
    return np.array([((x + u) * cross).sum(), ((y + v) * cross).sum()]) / (3.0 * area)
