"""Which pieces of the sampled ground are the card's own: what lies round it may look alike and is another surface.

A white card on a white table ends where hardly anything shows it, and ground that was sampled beyond its edge is
brighter or darker for another reason than light. Among the swatches the ground is the card's beyond doubt; what lies
outside of them and does not go on in the light seen there is left out. A shadow breaks the light too. It stays where
it reaches among the swatches, and where one straight line across the card's own directions parts what is off: a card
ends along its rows, mostly on more sides than one, and a shadow falls as it likes.
"""

from __future__ import annotations

import cv2
import numpy as np
import numpy.typing as npt

from swatchread.colour.cielab import Floats
from swatchread.colour.order import median, medians
from swatchread.correction.light_field import fit_light, shown_by_ground
from swatchread.correction.shadow_edge import Edge

Mask = npt.NDArray[np.bool_]

_OTHER_SURFACE = 0.08
_BESIDE = 0.35
"""Share of the distance between swatches by which the ground round the outermost is still among them."""

_LEAST_SWATCHES, _LEAST_AMONG = 3, 16
_EVEN, _BROKEN = 0.015, 0.1
"""Scatter of log brightness among the swatches, and share beyond three times it, above which a shadow lies there."""

_BREAK, _BREAK_BEYOND = 0.03, 0.015
"""Log brightness by which ground outside may be off, and what is added for as far away as the swatches lie apart."""

_EDGE_RUNS = 0.04
"""How far beside its place a shadow's edge may run where it was not seen."""

_TURNS = 60
_PARTED = 0.04
"""Share of the ground that may lie on the wrong side of a shadow's edge."""

_ALONG = np.radians(7.0)


def of_one_colour(xyz: Floats, place: Floats) -> Mask:
    """Tell which pieces of ground have the colour of most: light changes their brightness, another surface more.

    A shadow that the sky lights is bluer than the sun beside it: what one straight line parts from the rest stays, and
    its brightness has to tell.

    Parameters
    ----------
    xyz : ndarray, shape (m, 3)
    place : ndarray, shape (m, 2)

    Returns
    -------
    ndarray, shape (m,), bool
    """
    positive = np.maximum(xyz, 1e-4)
    colour = np.log(positive[:, [0, 2]] / positive[:, [1]])
    off = np.hypot(*(colour - medians(colour)).T)
    alike = np.asarray(off <= max(_OTHER_SURFACE, 3.0 * median(off)))
    if np.mean(~alike) > _PARTED and len(_parting(place, alike)):
        return np.ones(len(xyz), dtype=bool)
    return alike


def among(paint: Floats, ground: Floats) -> Floats:
    """Return how far pieces of ground lie outside of the swatches, in distances between neighbouring swatches.

    Parameters
    ----------
    paint : ndarray, shape (n, 2)
        Middles of the swatches.
    ground : ndarray, shape (m, 2)

    Returns
    -------
    ndarray, shape (m,)
        0 on the line round the outermost swatches' middles, negative inside.
    """
    apart = np.linalg.norm(paint[:, None] - paint[None], axis=-1)
    np.fill_diagonal(apart, np.inf)
    pitch = median(apart.min(axis=1))
    hull = cv2.convexHull(paint.astype(np.float32))
    return np.array([-cv2.pointPolygonTest(hull, (float(x), float(y)), True) for x, y in ground]) / max(pitch, 1e-9)


def select_card_ground(brightness: Floats, place: Floats, paint: Floats) -> Mask:
    """Tell which pieces of ground go on in the light that is seen among the swatches.

    Parameters
    ----------
    brightness : ndarray, shape (m,)
        Luminance factors, not evened.
    place : ndarray, shape (m, 2)
        On the table seen from above, about -1 to 1 over the scene.
    paint : ndarray, shape (n, 2)
        Middles of the swatches, in the same way.

    Returns
    -------
    ndarray, shape (m,), bool
    """
    every = np.ones(len(brightness), dtype=bool)
    if len(paint) < _LEAST_SWATCHES:
        return every
    outside = among(paint, place)
    sure = outside <= _BESIDE
    if sure.sum() < _LEAST_AMONG or sure.all():
        return every
    light = fit_light(shown_by_ground(place[sure], brightness[sure]), 2)
    off = np.log(np.maximum(brightness, 1e-4)) - light.smooth(place)
    off = off - median(off[sure])
    if 1.4826 * median(np.abs(off[sure])) > _EVEN or np.mean(np.abs(off[sure]) > 3.0 * _EVEN) > _BROKEN:
        return every
    loose = _loose(light.edge, place)
    fits = np.asarray(sure | (np.abs(off) < _BREAK + _BREAK_BEYOND * np.maximum(outside, 0.0) + loose))
    return every if _parts_obliquely(place, fits, paint) else fits


def _loose(edge: Edge | None, place: Floats) -> Floats:
    """Return by how much the light at places is unsure, as a shadow's edge was seen to run elsewhere only."""
    if edge is None:
        return np.zeros(len(place))
    across = _EDGE_RUNS * np.array([np.cos(edge.angle), np.sin(edge.angle)])
    return np.abs(edge.at(place + across) - edge.at(place - across))


def _parts_obliquely(place: Floats, fits: Mask, paint: Floats) -> bool:
    """Tell whether one straight line, not along the rows or columns, parts what fits from what does not."""
    clean = _parting(place, fits)
    if fits.all() or not len(clean):
        return False
    # Angles of lines repeat after half a turn.
    across = np.angle(np.exp(2j * clean).sum()) / 2.0
    turned = (across - _rows(paint) + np.pi / 4.0) % (np.pi / 2.0) - np.pi / 4.0
    return bool(abs(turned) > _ALONG)


def _parting(place: Floats, fits: Mask) -> Floats:
    """Return the directions across the straight lines that part pieces best, radians; none if no line parts them."""
    count = len(fits)
    angle = np.linspace(0.0, np.pi, _TURNS, endpoint=False)
    order = np.argsort(place @ np.stack([np.cos(angle), np.sin(angle)]), axis=0)
    lower = np.concatenate([np.zeros((1, _TURNS)), np.cumsum(~fits[order], axis=0)])
    wrong = lower + np.arange(count, -1, -1)[:, None] - (lower[-1] - lower)
    best = np.minimum(wrong, count - wrong).min(axis=0)
    return angle[best == best.min()] if best.min() <= _PARTED * count else np.zeros(0)


def _rows(paint: Floats) -> float:
    """Return the direction of the rows or of the columns, radians: of the way from each swatch to its neighbours."""
    way = paint[:, None] - paint[None]
    apart = np.linalg.norm(way, axis=-1)
    np.fill_diagonal(apart, np.inf)
    nearest = np.argsort(apart, axis=1)[:, :2]
    near = np.take_along_axis(way, nearest[:, :, None], axis=1).reshape(-1, 2)
    return float(np.angle(np.exp(4j * np.arctan2(near[:, 1], near[:, 0])).sum()) / 4.0)
