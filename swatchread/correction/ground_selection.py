"""Which pieces of the sampled ground belong to the card: the surface around it may look like it.

The edge of a white card on a white table hardly shows, and ground that was sampled beyond it is brighter or darker for
another reason than light. Ground among the swatches certainly belongs to the card. Ground outside of them is left out
if its brightness does not continue the light seen among them. A shadow breaks the light too. It is kept where it
reaches among the swatches, and where one straight line, oblique to the rows, divides it from the rest: a card ends
along its rows, usually on more than one side, and a shadow falls at any angle.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from swatchread.colour.cielab import Floats
from swatchread.correction.light_field import fit_light, shown_by_ground, spacing
from swatchread.correction.shadow_edge import Edge
from swatchread.photo import opencv as cv2

Mask = npt.NDArray[np.bool_]

_OTHER_SURFACE = 0.08
"""Difference in the log ratios X/Y and Z/Y from which ground is another surface (chosen on simulated scenes)."""

_BESIDE = 0.35
"""Ground up to this far outside the swatches is still among them, in distances between neighbouring swatches."""

_LEAST_SWATCHES, _LEAST_AMONG = 3, 16
"""Swatches, and pieces of ground among them, that are needed to tell other ground from the card's."""

_EVEN, _BROKEN = 0.015, 0.1
"""Scatter of log brightness among the swatches above which a shadow lies there, and the share of pieces farther off
than three times that."""

_BREAK, _BREAK_BEYOND = 0.03, 0.015
"""Difference in log brightness that is allowed outside the swatches, and what is added for each distance between
neighbouring swatches."""

_EDGE_RUNS = 0.04
"""How far a shadow's edge may lie from its fitted place where no ground showed it, in places of the light field."""

_DIRECTIONS = 60
"""Directions, evenly spaced over half a turn, that are tried for a dividing line."""

_PARTED = 0.04
"""Share of the ground that may lie on the wrong side of a dividing line."""

_ALONG = np.radians(7.0)
"""Angle to the rows or columns below which a dividing line counts as the card's own edge."""

_LEAST_BRIGHTNESS = 1e-4
"""Luminance factor below which the logarithm is not taken."""

_NORMAL = 1.4826
"""Standard deviation over median absolute deviation of a normal distribution."""


def of_one_colour(xyz: Floats, place: Floats) -> Mask:
    """Tell which pieces of ground have the colour of most: light changes brightness, another surface also colour.

    A shadow that is lit by the sky is bluer than the sunlight beside it. So pieces that one straight line divides from
    the rest are kept here; their brightness has to decide.

    Parameters
    ----------
    xyz : ndarray, shape (m, 3)
    place : ndarray, shape (m, 2)

    Returns
    -------
    ndarray, shape (m,), bool
    """
    positive = np.maximum(xyz, _LEAST_BRIGHTNESS)
    colour = np.log(positive[:, [0, 2]] / positive[:, [1]])
    off = np.hypot(*(colour - np.median(colour, axis=0)).T)
    alike: Mask = off <= max(_OTHER_SURFACE, 3.0 * np.median(off))
    if np.mean(~alike) > _PARTED and len(_dividing_lines(place, alike)):
        return np.ones(len(xyz), dtype=bool)
    return alike


def distance_outside(paint: Floats, ground: Floats) -> Floats:
    """Return how far pieces of ground lie outside the swatches, in distances between neighbouring swatches.

    Parameters
    ----------
    paint : ndarray, shape (n, 2)
        Middles of the swatches.
    ground : ndarray, shape (m, 2)

    Returns
    -------
    ndarray, shape (m,)
        0 on the convex hull of the swatches' middles, negative inside.
    """
    hull = cv2.convexHull(paint.astype(np.float32))
    return np.array([-cv2.pointPolygonTest(hull, (float(x), float(y)), True) for x, y in ground]) / max(
        spacing(paint), 1e-9
    )


def select_card_ground(brightness: Floats, place: Floats, paint: Floats) -> Mask:
    """Tell which pieces of ground continue the light that is seen among the swatches.

    Parameters
    ----------
    brightness : ndarray, shape (m,)
        Luminance factors with the light still in them.
    place : ndarray, shape (m, 2)
        Where they are on the table seen from above, about -1 to 1.
    paint : ndarray, shape (n, 2)
        Middles of the swatches, in the same coordinates.

    Returns
    -------
    ndarray, shape (m,), bool
    """
    all_of_it = np.ones(len(brightness), dtype=bool)
    if len(paint) < _LEAST_SWATCHES:
        return all_of_it
    outside = distance_outside(paint, place)
    sure = outside <= _BESIDE
    if sure.sum() < _LEAST_AMONG or sure.all():
        return all_of_it
    light = fit_light(shown_by_ground(place[sure], brightness[sure]), 2)
    off = np.log(np.maximum(brightness, _LEAST_BRIGHTNESS)) - light.smooth(place)
    off = off - np.median(off[sure])
    if _NORMAL * np.median(np.abs(off[sure])) > _EVEN or np.mean(np.abs(off[sure]) > 3.0 * _EVEN) > _BROKEN:
        return all_of_it
    edge_doubt = _edge_doubt(light.edge, place)
    fits = sure | (np.abs(off) < _BREAK + _BREAK_BEYOND * np.maximum(outside, 0.0) + edge_doubt)
    return all_of_it if _divided_obliquely(place, fits, paint) else fits


def _edge_doubt(edge: Edge | None, place: Floats) -> Floats:
    """Return the doubt about the log light at places, because a shadow's edge was only seen elsewhere."""
    if edge is None:
        return np.zeros(len(place))
    across = _EDGE_RUNS * np.array([np.cos(edge.angle), np.sin(edge.angle)])
    return np.abs(edge.at(place + across) - edge.at(place - across))


def _divided_obliquely(place: Floats, fits: Mask, paint: Floats) -> bool:
    """Tell whether one straight line, oblique to rows and columns, divides what fits from what does not."""
    normals = _dividing_lines(place, fits)
    if fits.all() or not len(normals):
        return False
    # The angle of a line repeats after half a turn.
    normal = np.angle(np.exp(2j * normals).sum()) / 2.0
    turned = (normal - _row_direction(paint) + np.pi / 4.0) % (np.pi / 2.0) - np.pi / 4.0
    return bool(abs(turned) > _ALONG)


def _dividing_lines(place: Floats, fits: Mask) -> Floats:
    """Return the normals, in radians, of the straight lines that divide the pieces best; none if no line does."""
    count = len(fits)
    angle = np.linspace(0.0, np.pi, _DIRECTIONS, endpoint=False)
    order = np.argsort(place @ np.stack([np.cos(angle), np.sin(angle)]), axis=0)
    lower = np.concatenate([np.zeros((1, _DIRECTIONS)), np.cumsum(~fits[order], axis=0)])
    wrong = lower + np.arange(count, -1, -1)[:, None] - (lower[-1] - lower)
    best = np.minimum(wrong, count - wrong).min(axis=0)
    return angle[best == best.min()] if best.min() <= _PARTED * count else np.zeros(0)


def _row_direction(paint: Floats) -> float:
    """Return the direction of the rows or columns, in radians, from the vectors between neighbouring swatches."""
    offsets = paint[:, None] - paint[None]
    apart = np.linalg.norm(offsets, axis=-1)
    np.fill_diagonal(apart, np.inf)
    nearest = np.argsort(apart, axis=1)[:, :2]
    near = np.take_along_axis(offsets, nearest[:, :, None], axis=1).reshape(-1, 2)
    return float(np.angle(np.exp(4j * np.arctan2(near[:, 1], near[:, 0])).sum()) / 4.0)
