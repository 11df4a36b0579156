"""The light on the table: fall-off, a shadow with one edge or two, a second light, and the lens's vignetting."""

from dataclasses import dataclass

import numpy as np

from . import shade
from .spec import WHOLE_SHADOWS


@dataclass(frozen=True)
class Light:
    """Relative irradiance as the sensor sees it; 1 at the reference place (the chart's middle) without shadow.

    Attributes
    ----------
    spec, plan : what was asked for and what lies where.
    shadow_edges : what bounds the shadow, its inner side dark; none without one.
    """

    spec: object
    plan: object
    shadow_edges: tuple = ()

    @property
    def reference_mm(self):
        """Where the light is 1: the chart's middle, or the card's when there is no chart."""
        spec, plan = self.spec, self.plan
        return plan.chart_mm.mean(0) if spec.chart_present else plan.extent_mm.mean(0)

    def _along(self, points_mm, degrees):
        """Place along a direction: 0 … 1 over the lying things, limited beyond them."""
        unit = np.array([np.cos(np.radians(degrees)), np.sin(np.radians(degrees))])
        ends = self.plan.extent_mm @ unit
        return np.clip((points_mm @ unit - ends.min()) / np.ptp(ends), -0.4, 1.5)

    def _fall(self, points_mm):
        t = self._along(points_mm, self.spec.fall_off_direction)
        if self.spec.fall_off_shape == "quadratic":
            t = np.sign(t) * t**2
        return 1 - np.minimum(self.spec.fall_off * t, 0.85)

    def _vignette(self, points_px):
        size = np.asarray(self.plan.view.size, float)
        r2 = (((points_px - (size - 1) / 2) / (np.hypot(*size) / 2)) ** 2).sum(-1)
        return 1 - self.spec.vignetting * r2 * (0.6 + 0.4 * r2)

    def _shaded(self, points_mm):
        """How far points (n, 2) lie in the shadow: 0 … 1."""
        if not self.shadow_edges:
            return np.zeros(len(points_mm))
        width = max(self.spec.shadow_width * np.ptp(self.plan.extent_mm, axis=0).max() / 5, 1e-3)
        # Tanh is the logistic without overflow.
        inside = [0.5 * (1 + np.tanh(edge.inside(points_mm) / width)) for edge in self.shadow_edges]
        return np.prod(inside, axis=0)

    def at_px(self, points_px):
        """Relative irradiance × vignetting at photo points (n, 2)."""
        points_mm = self.plan.view.unproject(points_px)
        there = np.array([self.reference_mm])
        lit = 1 - self.spec.shadow_depth * self._shaded(points_mm)
        reference = self._fall(there) * self._vignette(self.plan.view.project(there))
        return self._fall(points_mm) * self._vignette(np.asarray(points_px, float)) * lit / reference

    def second_share_at(self, points_px):
        """Share of the second light at photo points (n, 2); 0 without one."""
        if self.spec.second_light is None:
            return np.zeros(len(points_px))
        points_mm = self.plan.view.unproject(points_px)
        if self.spec.second_where == "shadow":
            return self.spec.second_share * self._shaded(points_mm)
        t = self._along(points_mm, self.spec.fall_off_direction + 120)
        return self.spec.second_share * np.clip(t, 0, 1)


def _edges_across(spec, plan):
    """Edges of a shadow that ends somewhere on the card or the chart."""
    rng = np.random.default_rng([spec.seed, 31])
    corners = plan.chart_mm if spec.shadow == "chart" or not len(plan.card_mm) else plan.card_mm
    weights = rng.dirichlet([2.0] * 4)
    angle = rng.uniform(0, 2 * np.pi)
    edge = shade.Edge(weights @ corners, np.array([np.cos(angle), np.sin(angle)]))
    rng, reach = np.random.default_rng([spec.seed, 32]), np.ptp(corners, axis=0).max()
    if spec.shadow_edge == "curved":
        edge = shade.Edge(edge.point_mm, edge.normal, rng.choice([-1.0, 1.0]) / (reach * rng.uniform(0.5, 1.5)))
    if spec.shadow_edge == "band":
        far = edge.point_mm + reach * rng.uniform(0.25, 0.6) * edge.normal
        return edge, shade.Edge(far, -edge.normal)
    return (edge,)


def _edges_around(spec, plan):
    """Edges of a shadow in which card or chart lies as a whole, or neither does."""
    rng = np.random.default_rng([spec.seed, 33])
    card, chart = plan.card_mm, shade.frame_mm(plan)
    if spec.shadow == "beside":
        lit = np.vstack([card, chart])
        edge = shade.beyond(rng, lit, rng.normal(size=2))
        return (shade.Edge(edge.point_mm, -edge.normal),)
    dark, lit = (card, chart) if spec.shadow == "whole-card" else (chart, card)
    edge = shade.between(rng, dark, lit)
    if spec.shadow_edge == "curved":
        edge = shade.bent(rng, edge, dark, lit)
    return (edge, shade.beyond(rng, dark, -edge.normal)) if spec.shadow_edge == "band" else (edge,)


def make_light(spec, plan):
    """Place the shadow's edges and return the light."""
    if spec.shadow == "none":
        return Light(spec, plan)
    return Light(spec, plan, (_edges_around if spec.shadow in WHOLE_SHADOWS else _edges_across)(spec, plan))


def map_step(spec):
    """Pitch in px of the coarse grid of light: fine where the edge of a shadow may be sharp."""
    return 2 if spec.shadow in WHOLE_SHADOWS else max(2, round(8 * spec.scale))


def light_maps(light, step):
    """Light and second share on a coarse grid covering the photo, float32; its point (i, j) is px (i, j) · step."""
    width, height = light.plan.view.size
    xs, ys = np.arange(0, width + step, step), np.arange(0, height + step, step)
    points = np.stack(np.meshgrid(xs, ys), axis=-1).reshape(-1, 2)
    shape = (len(ys), len(xs))
    return (
        light.at_px(points).reshape(shape).astype(np.float32),
        light.second_share_at(points).reshape(shape).astype(np.float32),
    )


def spread(coarse, rows, columns, step):
    """Part of the photo (two slices) interpolated bilinearly from a coarse grid: (h, w) float32."""
    x = np.arange(columns.start, columns.stop, dtype=np.float32) / step
    y = np.arange(rows.start, rows.stop, dtype=np.float32) / step
    first = rows.start // step
    coarse, y = coarse[first : rows.stop // step + 2], y - first
    left, fx = x.astype(int), x % 1
    above, fy = y.astype(int), (y % 1)[:, None]
    across = coarse[:, left] * (1 - fx) + coarse[:, np.minimum(left + 1, coarse.shape[1] - 1)] * fx
    return across[above] * (1 - fy) + across[np.minimum(above + 1, coarse.shape[0] - 1)] * fy
