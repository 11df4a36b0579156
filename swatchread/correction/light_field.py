"""The light over the table, in log intensity: a low-order polynomial of the place, and what the near ground adds.

The bare ground has one colour, so its brightness tells the light's shape; the chart's patches tie it to the chart. The
two surfaces differ by an unknown factor. Where a shadow's edge crosses the card no polynomial follows, and the ground
beside each swatch speaks for itself; the ground nearest the chart is then taken to lie in the chart's own light.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from swatchread.colour.cielab import Floats
from swatchread.colour.order import median, quantiles
from swatchread.correction.shadow_edge import Edge, find_shadow_edge

LEAST_GROUND = 6
"""Pieces of ground from which on the ground near a place is heard."""

CHART_ERROR, CHART_ERROR_RAW = 0.05, 0.03
"""Log brightness by which patches come out wrong for other reasons than light: of a picture, and of a raw file."""

_GROUND_ERROR = 0.012
_PRIOR = 0.4
_ROUNDS = 6
_SOFT = 2.5
_NEAR = 0.8
_DARKEST = 0.03
_EDGE_SUSPECTED, _EDGE_SHARE = 0.03, 0.05
"""Log light by which ground is off beside a shadow's edge, and the share of it from which an edge is looked for."""

_EDGE_DEGREE = 2
_EDGE_PAYS = 0.7
_EDGE_UNSURE = 0.35


@dataclass(frozen=True, eq=False)
class LightField:
    """Light over the table, natural log of its intensity, 0 at the chart's middle.

    Attributes
    ----------
    degree : int
    coefficients : ndarray
        Of the monomials of `light_basis`.
    ground_place : ndarray, shape (m, 2)
        Where the ground was sampled.
    ground_rest : ndarray, shape (m,)
        Log brightness of the ground that these leave, relative to the ground nearest the chart.
    edge : Edge, optional
        A shadow's edge.
    """

    degree: int
    coefficients: Floats
    ground_place: Floats
    ground_rest: Floats
    edge: Edge | None = None

    def smooth(self, place: Floats) -> Floats:
        """Return the log light of polynomial and edge at places, shape (n,)."""
        light = light_basis(place, self.degree) @ self.coefficients
        return np.asarray(light if self.edge is None else light + self.edge.at(place))

    def near(self, place: Floats) -> Floats:
        """Return what the ground near a place adds to the polynomial, shape (n,)."""
        if len(self.ground_rest) < LEAST_GROUND:
            return np.zeros(len(place))
        return np.asarray(self.shares(place) @ self.ground_rest)

    def unsure(self, place: Floats) -> Floats:
        """Return how far the light near a place is known: standard deviation of log light.

        What the ground near it differs within itself, and a share of what an edge there changes.
        """
        if len(self.ground_rest) < LEAST_GROUND:
            return np.zeros(len(place))
        weight = self.shares(place)
        edge = np.zeros(len(self.ground_place)) if self.edge is None else self.edge.at(self.ground_place)
        near = np.stack([self.ground_rest, _EDGE_UNSURE * edge])
        mean = near @ weight.T
        return np.asarray(np.sqrt(np.maximum((near**2) @ weight.T - mean**2, 0.0).sum(axis=0)))

    @property
    def unevenness(self) -> float:
        """Spread of the ground's log light around the polynomial: about 0.01, and above 0.05 across a shadow's edge."""
        if len(self.ground_rest) < LEAST_GROUND:
            return 0.0
        low, high = quantiles(self.ground_rest, [0.1, 0.9])
        return float(high - low) / 2.56

    @property
    def jump(self) -> float:
        """How much the light jumps across the table: the depth of a shadow's edge, or else the unevenness."""
        depth = 0.0 if self.edge is None else 1.0 - float(np.exp(-abs(self.edge.depth)))
        return max(depth, self.unevenness)

    @property
    def nearest(self) -> npt.NDArray[np.intp]:
        """Which pieces of ground lie nearest the chart and are taken to lie in its light."""
        return nearest(self.ground_place)

    def shares(self, place: Floats) -> Floats:
        """Return what share each piece of ground has in the light near a place, shape (n, m)."""
        apart = np.linalg.norm(self.ground_place[:, None] - self.ground_place[None], axis=-1)
        np.fill_diagonal(apart, np.inf)
        reach = _NEAR * median(apart.min(axis=1))
        distance = np.linalg.norm(place[:, None] - self.ground_place[None], axis=-1)
        weight = np.exp(-((distance / reach) ** 2) / 2.0) + 1e-9
        return np.asarray(weight / weight.sum(axis=1, keepdims=True))


def nearest(ground_place: Floats) -> npt.NDArray[np.intp]:
    """Return which pieces of ground, at places of shape (m, 2), lie nearest the chart."""
    return np.argsort(np.linalg.norm(ground_place, axis=1))[: max(LEAST_GROUND, len(ground_place) // 6)]


def even_light() -> LightField:
    """Return a light that is the same everywhere."""
    return LightField(0, np.zeros(0), np.zeros((0, 2)), np.zeros(0))


def light_basis(place: Floats, degree: int) -> Floats:
    """Return the monomials of a place without the constant, shape (n, terms).

    Parameters
    ----------
    place : ndarray, shape (n, 2)
        About -1 to 1 over the scene.
    degree : int
    """
    x, y = place[:, 0], place[:, 1]
    columns = [x ** (total - k) * y**k for total in range(1, degree + 1) for k in range(total + 1)]
    return np.stack(columns, axis=-1) if columns else np.zeros((len(place), 0))


@dataclass(frozen=True, eq=False)
class Brightness:
    """Luminance factors seen at places: of the chart, relative to what they should be, and of the ground.

    Attributes
    ----------
    chart_place : ndarray, shape (n, 2)
    chart_seen, chart_true : ndarray, shape (n,)
    ground_place : ndarray, shape (m, 2)
    ground_seen : ndarray, shape (m,)
    chart_error : float
        Log brightness by which patches come out wrong for other reasons than light.
    """

    chart_place: Floats
    chart_seen: Floats
    chart_true: Floats
    ground_place: Floats
    ground_seen: Floats
    chart_error: float = CHART_ERROR


def shown_by_ground(place: Floats, seen: Floats) -> Brightness:
    """Return what the ground alone shows: its brightness `seen`, shape (m,), at places, shape (m, 2)."""
    return Brightness(np.zeros((0, 2)), np.zeros(0), np.zeros(0), place, seen)


def fit_light(seen: Brightness, degree: int, *, edge: bool = False) -> LightField:
    """Fit the light field, robustly, on the ground and the chart together.

    Parameters
    ----------
    seen : Brightness
    degree : int
        Of the polynomial.
    edge : bool
        Look for a shadow's edge also where the ground does not make one suspected.

    Returns
    -------
    LightField
    """
    plain = _Fit(seen, degree)
    if not edge and not plain.suspect:
        return plain.field()
    edged = _Fit(seen, min(degree, _EDGE_DEGREE), edge=True)
    return edged.field() if edged.cost < _EDGE_PAYS * plain.cost else plain.field()


def first_light(ground_place: Floats, ground_seen: Floats) -> LightField:
    """Return what light to begin with: even, but for a shadow's edge that the ground shows and the chart may lie under.

    Parameters
    ----------
    ground_place : ndarray, shape (m, 2)
    ground_seen : ndarray, shape (m,)
        Brightness as the photo has it, not corrected yet.

    Returns
    -------
    LightField
    """
    edge = fit_light(shown_by_ground(ground_place, ground_seen), 2).edge
    return replace(even_light(), edge=edge)


class _Fit:
    """The least squares behind a light field, made robust by reweighting."""

    def __init__(self, seen: Brightness, degree: int, *, edge: bool = False) -> None:
        self.seen, self.degree, self.edge = seen, degree, None
        good = seen.chart_true > _DARKEST
        self.place = np.concatenate([seen.ground_place, seen.chart_place[good]])
        m, k = len(seen.ground_place), len(self.place)
        self.scale = np.where(np.arange(k) < m, 1.0 / _GROUND_ERROR, 1.0 / seen.chart_error)
        basis = light_basis(self.place, degree)
        terms = basis.shape[1]
        surface = np.stack([np.arange(k) < m, np.arange(k) >= m], axis=-1)
        self.rows = np.zeros((k + terms, terms + 2))
        self.rows[:k] = np.concatenate([basis, surface], axis=1) * self.scale[:, None]
        self.rows[k:, :terms] = np.eye(terms) / _PRIOR
        log_ground = np.log(np.maximum(seen.ground_seen, 1e-4))
        ratio = np.log(np.maximum(seen.chart_seen[good], 1e-4) / seen.chart_true[good])
        self.aims = np.concatenate([np.concatenate([log_ground, ratio]) * self.scale, np.zeros(terms)])
        weight = np.ones(k + terms)
        for _ in range(_ROUNDS):
            if edge:
                self.edge = find_shadow_edge(
                    self.place, self.scale * weight[:k], self.rows * weight[:, None], self.aims * weight, self.edge
                )
            off = self._solve(weight)
            weight[:k] = 1.0 / np.sqrt(1.0 + (off[:k] / _SOFT) ** 2)
        self.rest = off[:m] / self.scale[:m]
        self.cost = float(np.log1p((off[:k] / _SOFT) ** 2).sum())

    def _solve(self, weight: Floats) -> Floats:
        aims = self.aims.copy()
        if self.edge is not None:
            aims[: len(self.place)] -= self.edge.at(self.place) * self.scale
        solution = np.linalg.lstsq(self.rows * weight[:, None], aims * weight, rcond=None)[0]
        self.coefficients: Floats = np.asarray(solution[:-2], dtype=np.float64)
        return np.asarray(aims - self.rows @ solution)

    @property
    def suspect(self) -> bool:
        """Whether the light may have an edge: a piece of the ground, or of the chart, is off together."""
        return bool(np.mean(np.abs(self.rest) > _EDGE_SUSPECTED) > _EDGE_SHARE)

    def field(self) -> LightField:
        place, rest = self.seen.ground_place, self.rest
        rest = rest - median(rest[nearest(place)]) if len(rest) else rest
        return LightField(self.degree, self.coefficients, place, rest, self.edge)
