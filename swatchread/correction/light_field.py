"""The light over the table, as log intensity: a polynomial of low degree, and a correction by the ground near a place.

The bare ground has one colour, so its brightness shows how the light varies. The patches of the chart relate it to the
chart; the two surfaces differ by an unknown factor. No polynomial can follow a shadow's edge across the card. There,
the ground beside each swatch gives the correction, and the ground nearest the chart is taken to lie in its light.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
import numpy.typing as npt

from swatchread.colour.cielab import Floats
from swatchread.correction.shadow_edge import Edge, find_shadow_edge

LEAST_GROUND = 6
"""Pieces of ground that are needed for a correction from the ground near a place."""

CHART_ERROR, CHART_ERROR_RAW = 0.05, 0.03
"""Standard deviation of the log brightness of patches for other reasons than light: in a picture, and in a raw file."""

_GROUND_ERROR = 0.012
"""The same of pieces of ground, which the grain and texture of the paper cause."""

_PRIOR = 0.4
"""Standard deviation of a coefficient of the polynomial before anything is seen, natural log of the light."""

_ROUNDS = 6
"""Times that the robust weights are computed."""

_SOFT = 2.5
"""Residual, in standard deviations, that halves the squared weight."""

_NEAR = 0.8
"""Standard deviation of the weights of near ground, in distances between neighbouring pieces."""

_AT_A_TIME = 400
"""Places that are corrected at a time, so that their weights stay in the processor's cache."""

_DARKEST = 0.03
"""Luminance factor below which a patch is too dark to show the light."""

_LEAST_BRIGHTNESS = 1e-4
"""Luminance factor below which the logarithm is not taken."""

_EDGE_SUSPECTED, _EDGE_SHARE = 0.03, 0.05
"""A shadow's edge is looked for if more than this share of the ground is off by more than this log light."""

_EDGE_DEGREE = 2
"""Degree of the polynomial beside an edge, at most."""

_EDGE_PAYS = 0.7
"""An edge is believed if it lowers the robust cost below this share."""

_EDGE_UNSURE = 0.35
"""Share of what an edge changes near a place that counts as doubt."""

_BETWEEN_DECILES = 2.56
"""Distance between the first and the ninth decile of a normal distribution, in standard deviations."""


@dataclass(frozen=True, eq=False)
class LightField:
    """Light over the table as the natural log of its intensity, 0 in the middle of the chart.

    Attributes
    ----------
    degree : int
    coefficients : ndarray
        Coefficients of the monomials of `light_basis`.
    ground_place : ndarray, shape (m, 2)
        Where the ground was sampled.
    ground_rest : ndarray, shape (m,)
        Residual log brightness of the ground, relative to that of the ground nearest the chart.
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
        return light if self.edge is None else light + self.edge.at(place)

    def near(self, place: Floats) -> Floats:
        """Return the correction by the ground near each place, shape (n,)."""
        if len(self.ground_rest) < LEAST_GROUND:
            return np.zeros(len(place))
        rests = np.column_stack([self.ground_rest, np.ones(len(self.ground_rest))])
        parts = np.array_split(place, len(place) // _AT_A_TIME + 1)
        rest, weight = np.concatenate([self._weights(part) @ rests for part in parts]).T
        return np.asarray(rest / weight)

    def unsure(self, place: Floats) -> Floats:
        """Return the standard deviation of the log light at each place, shape (n,).

        It holds the scatter of the ground near the place, and a share of what an edge changes there.
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
        """Scatter of the ground around the polynomial, log light: about 0.01, and above 0.05 across a shadow's edge."""
        if len(self.ground_rest) < LEAST_GROUND:
            return 0.0
        return spread(self.ground_rest)

    @property
    def jump(self) -> float:
        """Jump of the light across the table: the depth of a shadow's edge, or the unevenness if that is larger."""
        depth = 0.0 if self.edge is None else 1.0 - float(np.exp(-abs(self.edge.depth)))
        return max(depth, self.unevenness)

    def shares(self, place: Floats) -> Floats:
        """Return the weight of each piece of ground in the correction at each place, shape (n, m)."""
        weight = self._weights(place)
        return np.asarray(weight / weight.sum(axis=1, keepdims=True))

    def _weights(self, place: Floats) -> Floats:
        """Return the same before it is divided by its sum: a Gaussian of the distance."""
        here, there = (one / (_NEAR * self._spacing) for one in (place, self.ground_place))
        weight = here @ there.T - 0.5 * (here**2).sum(axis=1)[:, None]
        weight -= 0.5 * (there**2).sum(axis=1)
        return np.asarray(np.exp(weight, out=weight) + 1e-9)

    @cached_property
    def _spacing(self) -> float:
        return spacing(self.ground_place)


def spacing(points: Floats) -> float:
    """Return the distance between neighbouring points, shape (n, 2): the median of those to the nearest one."""
    x, y = points.T
    apart = np.subtract.outer(x, x) ** 2 + np.subtract.outer(y, y) ** 2
    np.fill_diagonal(apart, np.inf)
    return float(np.median(np.sqrt(apart.min(axis=1))))


def spread(values: Floats) -> float:
    """Return the standard deviation of values, shape (n,), from their first and ninth decile, which outliers spare."""
    low, high = np.quantile(values, [0.1, 0.9])
    return float(high - low) / _BETWEEN_DECILES


def nearest(ground_place: Floats) -> npt.NDArray[np.intp]:
    """Return the indices of the pieces of ground, at places of shape (m, 2), nearest the chart: in its light."""
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
    if not degree:
        return np.zeros((len(place), 0))
    one, x, y = np.ones(len(place)), place[:, 0], place[:, 1]
    # Products, because a power takes as long as ten of them.
    across, down = (np.multiply.accumulate([one, *[axis] * degree]) for axis in (x, y))
    columns = [across[total - k] * down[k] for total in range(1, degree + 1) for k in range(total + 1)]
    return np.stack(columns, axis=-1)


@dataclass(frozen=True, eq=False)
class Brightness:
    """Luminance factors that were seen, of the chart's patches and of the ground.

    Attributes
    ----------
    chart_place : ndarray, shape (n, 2)
    chart_seen, chart_true : ndarray, shape (n,)
        As seen, and by the chart's definition.
    ground_place : ndarray, shape (m, 2)
    ground_seen : ndarray, shape (m,)
    chart_error : float
        Standard deviation of the log brightness of patches for other reasons than light.
    """

    chart_place: Floats
    chart_seen: Floats
    chart_true: Floats
    ground_place: Floats
    ground_seen: Floats
    chart_error: float = CHART_ERROR


def shown_by_ground(place: Floats, seen: Floats) -> Brightness:
    """Return the brightness of the ground alone, `seen`, shape (m,), at places of shape (m, 2)."""
    return Brightness(np.zeros((0, 2)), np.zeros(0), np.zeros(0), place, seen)


def fit_light(seen: Brightness, degree: int, *, edge: bool = False) -> LightField:
    """Fit the light field, robustly, on the ground and the chart together.

    Parameters
    ----------
    seen : Brightness
    degree : int
        Of the polynomial.
    edge : bool
        Look for a shadow's edge even if the ground shows no sign of one.

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
    """Return the light to begin with: even except for a shadow's edge that the ground shows.

    Parameters
    ----------
    ground_place : ndarray, shape (m, 2)
    ground_seen : ndarray, shape (m,)
        Luminance factors by the photo's own encoding, not corrected yet.

    Returns
    -------
    LightField
    """
    edge = fit_light(shown_by_ground(ground_place, ground_seen), 2).edge
    return replace(even_light(), edge=edge)


class _Fit:
    """Robust least squares for a light field, by iterative reweighting."""

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
        log_ground = np.log(np.maximum(seen.ground_seen, _LEAST_BRIGHTNESS))
        ratio = np.log(np.maximum(seen.chart_seen[good], _LEAST_BRIGHTNESS) / seen.chart_true[good])
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
        """Whether the light may have an edge: a good part of the ground is off."""
        return bool(np.mean(np.abs(self.rest) > _EDGE_SUSPECTED) > _EDGE_SHARE)

    def field(self) -> LightField:
        """Return the light field that was fitted."""
        place, rest = self.seen.ground_place, self.rest
        rest = rest - np.median(rest[nearest(place)]) if len(rest) else rest
        return LightField(self.degree, self.coefficients, place, rest, self.edge)
