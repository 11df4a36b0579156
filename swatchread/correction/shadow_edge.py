"""A shadow's edge across the table: the light falls off along a straight, soft line.

Most things that cast a shadow on a table are straight and far away (a window frame, a shelf), so the edge is taken as a
straight line with a soft profile. A polynomial of low degree cannot follow it, and swings most over the chart, where
the colours depend on it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from swatchread.colour.cielab import Floats

_ANGLES, _OFFSETS = 24, 33
"""Angles over half a turn, and offsets across the table, of the edges that are tried first."""

_WIDTHS = (0.02, 0.06, 0.18)
"""Widths that are tried first, in places of the light field: from a sharp edge to a soft one."""

_NARROWEST, _WIDEST = 0.005, 0.4
"""Limits of the width."""

_SEARCHES = 6
"""Searches in turn, each over steps half as large as the one before."""

_STEP = np.array([np.pi / _ANGLES, 2.0 / _OFFSETS, 0.4])
"""Steps of the first search: of angle, of offset and of the log of the width."""

_LEAST_SEEN = 30.0
"""Sum of squares that is added to an edge's own, so that an edge that hardly any place shows does not become deep."""


@dataclass(frozen=True, eq=False)
class Edge:
    """A straight, soft edge in the log of the light.

    Attributes
    ----------
    angle : float
        Direction across the edge, radians.
    offset : float
        Place of the edge along that direction.
    width : float
        Width of its profile, a hyperbolic tangent.
    depth : float
        Log light beyond the edge minus that before it.
    """

    angle: float
    offset: float
    width: float
    depth: float

    def at(self, place: Floats) -> Floats:
        """Return what the edge adds to the log light at places, shape (n,); it is 0 in the middle of the chart."""
        here = np.concatenate([np.zeros((1, 2)), place])
        profile = _profiles(here, np.array([[self.angle, self.offset, self.width]]))[:, 0]
        return np.asarray(self.depth * (profile[1:] - profile[0]))


def find_shadow_edge(place: Floats, scale: Floats, rows: Floats, aims: Floats, about: Edge | None = None) -> Edge:
    """Return the edge that leaves the least sum of squares when it is added to a linear model of log light.

    Parameters
    ----------
    place : ndarray, shape (k, 2)
        Places of the model's first k rows; the edge does not change the others.
    scale : ndarray, shape (k,)
        What one unit of log light adds to each of these rows.
    rows : ndarray, shape (n, p)
        The linear model.
    aims : ndarray, shape (n,)
    about : Edge, optional
        Search near this one only.

    Returns
    -------
    Edge
    """
    basis = np.linalg.qr(rows)[0]
    residual = aims - basis @ (basis.T @ aims)
    candidates = _grid(place) if about is None else _around(np.array([about.angle, about.offset, about.width]), _STEP)
    best, depth = candidates[0], 0.0
    for turn in range(_SEARCHES):
        profile = np.zeros((len(aims), len(candidates)))
        profile[: len(place)] = _profiles(place, candidates) * scale[:, None]
        across = profile - basis @ (basis.T @ profile)
        norm = (across**2).sum(axis=0) + _LEAST_SEEN
        along = residual @ across
        chosen = int(np.argmax(along**2 / norm))
        best, depth = candidates[chosen], float(along[chosen] / norm[chosen])
        candidates = _around(best, _STEP / 2.0**turn)
    return Edge(best[0], best[1], best[2], depth)


def _profiles(place: Floats, edges: Floats) -> Floats:
    """Return profiles from 0 to 1, shape (places, edges), of edges given as angle, offset, width."""
    normal = np.stack([np.cos(edges[:, 0]), np.sin(edges[:, 0])])
    return np.asarray(0.5 + 0.5 * np.tanh((place @ normal - edges[:, 1]) / edges[:, 2]))


def _grid(place: Floats) -> Floats:
    farthest = float(np.linalg.norm(place, axis=1).max())
    angle = np.linspace(0.0, np.pi, _ANGLES, endpoint=False)
    offset = np.linspace(-farthest, farthest, _OFFSETS)
    return np.stack(np.meshgrid(angle, offset, _WIDTHS), axis=-1).reshape(-1, 3)


def _around(edge: Floats, step: Floats) -> Floats:
    finer = np.stack(np.meshgrid(*[(-1.0, -0.5, 0.0, 0.5, 1.0)] * 3), axis=-1).reshape(-1, 3) * step
    moved = edge + finer
    moved[:, 2] = np.clip(edge[2] * np.exp(finer[:, 2]), _NARROWEST, _WIDEST)
    return moved
