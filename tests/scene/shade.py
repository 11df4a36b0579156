"""Edges on the table: where a shadow ends, and where one surface meets another."""

from dataclasses import dataclass

import numpy as np

from .layout import CHART_FRAME_MM, CHART_PITCH_MM

_ANGLES = np.linspace(0, 2 * np.pi, 720, endpoint=False)
_NORMALS = np.stack([np.cos(_ANGLES), np.sin(_ANGLES)], axis=1)


@dataclass(frozen=True)
class Edge:
    """A straight or curved line over the table.

    `point_mm` lies on it, `normal` points to its inner side; `curvature` (1/mm) bends it into a circle, about the
    inner side when it is positive.
    """

    point_mm: np.ndarray
    normal: np.ndarray
    curvature: float = 0.0

    def inside(self, points_mm):
        """Distance (n,) in mm of plan points (n, 2), positive on the inner side."""
        if self.curvature == 0:
            return (points_mm - self.point_mm) @ self.normal
        middle = self.point_mm + self.normal / self.curvature
        return 1 / self.curvature - np.sign(self.curvature) * np.linalg.norm(points_mm - middle, axis=-1)


def frame_mm(plan):
    """Outer corners (4, 2) of the chart's dark frame."""
    return plan.chart_mm + np.sign(plan.chart_mm - plan.chart_mm.mean(0)) * CHART_FRAME_MM


def between(rng, inner_mm, outer_mm):
    """Draw a straight edge in the gap between two things, in one of the directions that leave it room."""
    gap = (inner_mm @ _NORMALS.T).min(0) - (outer_mm @ _NORMALS.T).max(0)
    if gap.max() <= 0:
        raise ValueError("no straight edge fits between the two")
    chosen = rng.choice(np.flatnonzero(gap > 0.5 * gap.max()))
    normal = _NORMALS[chosen]
    place = (outer_mm @ normal).max() + rng.uniform(0.3, 0.7) * gap[chosen]
    middle = (inner_mm.mean(0) + outer_mm.mean(0)) / 2
    return Edge(middle + (place - middle @ normal) * normal, normal)


def beyond(rng, things_mm, towards):
    """Draw a straight edge that has the things inside, near their outermost point against `towards` ± 25°."""
    angle = np.arctan2(*towards[::-1]) + rng.uniform(-0.44, 0.44)
    normal = np.array([np.cos(angle), np.sin(angle)])
    outermost = things_mm[np.argmin(things_mm @ normal)]
    return Edge(outermost - rng.uniform(0.05, 0.35) * CHART_PITCH_MM * normal, normal)


def bent(rng, edge, inner_mm, outer_mm):
    """Bend an edge into a circle, at most so far that it still passes between the two things."""

    def fits(curvature):
        made = Edge(edge.point_mm, edge.normal, curvature)
        kept = 0.3 * min(edge.inside(inner_mm).min(), -edge.inside(outer_mm).max())
        return made.inside(inner_mm).min() >= kept and made.inside(outer_mm).max() <= -kept

    low, high, sign = 0.0, 2 / CHART_PITCH_MM, rng.choice([-1.0, 1.0])
    for _ in range(24):
        middle = (low + high) / 2
        low, high = (middle, high) if fits(sign * middle) else (low, middle)
    return Edge(edge.point_mm, edge.normal, sign * low * rng.uniform(0.5, 1.0))
