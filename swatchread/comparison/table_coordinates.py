"""Where a card's swatches lie on the table, measured by the chart beside them.

The chart is the ruler: its corners map photo pixels to the plane of the table, where a card has the same lengths
however the camera was held.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from swatchread.chart.definition import load_chart
from swatchread.colour.cielab import Floats
from swatchread.errors import ChartDefinitionError
from swatchread.note.model import Note
from swatchread.photo.geometry import fit_homography, polygon_area, project

_CLASSIC = (6, 4)
"""Columns and rows of the classic 24-patch chart."""
_AFFINE_FROM = 6
"""Places that an affine map is fitted to; fewer only carry a turn, a size and a shift."""
_AFFINE_SPREAD = 0.1
"""Ratio of the spread across to that along, below which the places are nearly on one line."""
_ROUNDS = 5


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
    view = to_table(note)
    outlines = [project(view, np.array(s.outline, dtype=np.float64)) for s in note.swatches]
    centres = np.array([_centroid(outline) for outline in outlines])
    extents = np.array([np.sqrt(abs(polygon_area(outline))) for outline in outlines])
    apart = np.linalg.norm(centres[:, None] - centres[None], axis=-1)
    np.fill_diagonal(apart, np.inf)
    pitch = float(np.median(apart.min(axis=1))) if len(centres) > 1 else float(extents[0])
    lab = np.array([s.lab for s in note.swatches], dtype=np.float64)
    return CardPlaces(tuple(s.id for s in note.swatches), centres, extents, lab, max(pitch, 1e-9))


def in_own_pitch(places: CardPlaces) -> CardPlaces:
    """Return the places with the card's own pitch as the unit of length: they no longer depend on the chart's size.

    Parameters
    ----------
    places : CardPlaces

    Returns
    -------
    CardPlaces
    """
    pitch = places.pitch
    return replace(places, centres=places.centres / pitch, extents=places.extents / pitch, pitch=1.0)


def to_table(note: Note) -> Floats:
    """Return the homography from photo pixels to the plane of the table, in units of the chart's pitch.

    Parameters
    ----------
    note : Note

    Returns
    -------
    ndarray, shape (3, 3)
    """
    columns, rows = _chart_size(note.chart.name)
    lattice = np.array([[0, 0], [columns, 0], [columns, rows], [0, rows]], dtype=np.float64)
    return fit_homography(np.array(note.chart.corners, dtype=np.float64), lattice)


def fit_places(source: Floats, target: Floats) -> Floats:
    """Return the map from places to places: affine if there are enough of them, otherwise turn, size and shift.

    A swatch that one photo shows only in part seems displaced; such places count less, and the rest decides.

    Parameters
    ----------
    source, target : ndarray, shape (n, 2), n >= 2

    Returns
    -------
    ndarray, shape (3, 2)
        ``source @ map[:2] + map[2]`` is near `target`.
    """
    weight = np.ones(len(source))
    map_ = _weighted_fit(source, target, weight)
    for _ in range(_ROUNDS):
        off = np.linalg.norm(source @ map_[:2] + map_[2] - target, axis=1)
        weight = 1.0 / (1.0 + (off / max(2.0 * float(np.median(off)), 1e-9)) ** 2)
        map_ = _weighted_fit(source, target, weight)
    return map_


def fitted_points(source: Floats) -> float:
    """Return how many points' freedom `fit_places` takes: of n places as many fewer tell how far they are off.

    Parameters
    ----------
    source : ndarray, shape (n, 2)
    """
    return 3.0 if _is_affine(source - source.mean(axis=0)) else 2.0


def _is_affine(centred: Floats) -> bool:
    """Tell whether there are enough places, and not nearly on one line, for an affine map."""
    spread = np.linalg.svd(centred, compute_uv=False)
    return bool(len(centred) >= _AFFINE_FROM and spread[1] > _AFFINE_SPREAD * spread[0])


def _weighted_fit(source: Floats, target: Floats, weight: Floats) -> Floats:
    middle, aim = (np.average(points, axis=0, weights=weight) for points in (source, target))
    root = np.sqrt(weight)[:, None]
    one, other = (source - middle) * root, (target - aim) * root
    if _is_affine(one):
        linear = np.linalg.lstsq(one, other, rcond=None)[0]
    else:
        p, q = one @ np.array([1.0, 1.0j]), other @ np.array([1.0, 1.0j])
        z = (np.conj(p) @ q) / max(float((np.abs(p) ** 2).sum()), 1e-12)
        linear = np.array([[z.real, z.imag], [-z.imag, z.real]])
    return np.concatenate([linear, [aim - middle @ linear]])


def _chart_size(name: str) -> tuple[int, int]:
    try:
        chart = load_chart(name)
    except ChartDefinitionError:
        return _CLASSIC  # a chart of the painter's own: lengths are then only proportional, which is enough
    return chart.columns, chart.rows


def _centroid(outline: Floats) -> Floats:
    """Return the centroid of a polygon's area; of a degenerate polygon the mean of its corners."""
    (x, y), (u, v) = outline.T, np.roll(outline, -1, axis=0).T
    cross = x * v - u * y
    area = float(cross.sum())
    if abs(area) < 1e-12:
        mean: Floats = outline.mean(axis=0)
        return mean
    return np.array([((x + u) * cross).sum(), ((y + v) * cross).sum()]) / (3.0 * area)
