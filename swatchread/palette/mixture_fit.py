"""Fitting the tubes to recorded swatches.

Gauss-Newton on the logarithm of the posterior. The recipes are not exact either: an error in an amount moves a
colour along a direction that the model itself knows, so it is counted as noise along that direction (effective
variance; Orear 1982, American Journal of Physics 50, 912-916). What the readings of one card share is noise they have
in common. Swatches that fit nothing else are down-weighted.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import numpy.typing as npt

from swatchread.colour.cielab import Floats
from swatchread.palette.mixture_model import MixModel, Paints, dose_spread
from swatchread.palette.pigment_prior import TOUCH_HABIT, TOUCH_SPREAD, Belief, believe
from swatchread.palette.training_samples import Samples

MODEL_SD = 0.7
"""CIELAB; what the theory itself leaves unexplained of real paint (assumed; the held-out error is the judge)."""
_TAIL = 5.0
_ROUNDS = 14
_HALVINGS = 5
_ENOUGH = 1e-2
"""Standard deviations of the belief; steps shorter than this change no colour to speak of."""

Linear = tuple[Floats, Floats, Floats]
"""Colours (n, 3), their slopes by theta (n, 3, p) and by the logarithm of each amount (n, 3, t)."""


@dataclass(frozen=True, eq=False)
class Fitted:
    """A fit with what its judges need.

    Attributes
    ----------
    samples : Samples
    model : MixModel
    noise : tuple of ndarray
        For each card the covariance of its readings, (3m, 3m).
    """

    samples: Samples
    model: MixModel
    noise: tuple[Floats, ...]


def fit(samples: Samples, belief: Belief | None = None) -> Fitted:
    """Fit every tube's absorption and scattering to measured mixtures.

    Parameters
    ----------
    samples : Samples
        At least one swatch.
    belief : Belief, optional
        What is believed of the tubes beforehand; by default the guesses on file.

    Returns
    -------
    Fitted
    """
    belief = belief or believe(samples.tubes)
    t = len(samples.tubes)
    count = t * (belief.shapes.absorption.shape[1] + belief.shapes.scattering.shape[1]) + 2
    paints = Paints(belief, np.zeros(count))
    tail = np.ones(len(samples))
    step = Step(paints, np.inf, np.eye(count))
    noise: list[Floats] = []
    for _ in range(_ROUNDS):
        here = linearise(paints, samples)
        noise, tail = _noise(here, samples, tail)
        step = _newton(paints, samples, noise, here)
        moved = float(np.abs(step.paints.theta - paints.theta).max())
        paints = step.paints
        if moved < _ENOUGH:
            break
    return Fitted(samples, MixModel(samples.tubes, paints, step.covariance), tuple(noise))


@dataclass(frozen=True, eq=False)
class Step:
    """Where one Gauss-Newton step leads, and the covariance there."""

    paints: Paints
    cost: float
    covariance: Floats


def members(samples: Samples) -> list[npt.NDArray[np.intp]]:
    """Return the indices of each card's swatches."""
    return [np.flatnonzero(samples.card == c) for c in range(int(samples.card.max()) + 1)]


def _newton(paints: Paints, samples: Samples, noise: list[Floats], here: Linear) -> Step:
    """Take one step, halved until the posterior does not fall; `here` is the fit at `paints`."""
    lab, jacobian, _ = here
    cards = members(samples)
    p = len(paints.theta)
    normal: npt.NDArray[Any] = prior_precision(p)
    gradient: npt.NDArray[Any] = -normal @ paints.theta
    for covariance, which in zip(noise, cards, strict=True):
        J = jacobian[which].reshape(-1, p)
        WJ = np.linalg.solve(covariance, J)
        normal = normal + J.T @ WJ
        gradient = gradient + WJ.T @ (samples.lab[which] - lab[which]).ravel()
    covariance_now: Floats = np.linalg.inv(normal)
    direction = covariance_now @ gradient
    direction = direction * min(1.0, 2.5 / max(float(np.abs(direction).max()), 1e-12))
    before = _cost(paints, samples, noise, cards)
    for _ in range(_HALVINGS):
        moved = replace(paints, theta=paints.theta + direction)
        cost = _cost(moved, samples, noise, cards)
        if cost <= before:
            return Step(moved, cost, covariance_now)
        direction = direction / 2.0
    return Step(paints, before, covariance_now)


def linearise(paints: Paints, samples: Samples) -> Linear:
    """Return colours (n, 3), and their slopes by theta (n, 3, p) and by the logarithm of each amount (n, 3, t)."""
    slopes = paints.slopes(samples.with_touch(paints.touch))
    jacobian = slopes.by_theta
    jacobian[:, :, -2] = TOUCH_SPREAD * np.einsum("nlt,nt->nl", slopes.by_amount, samples.touches)
    return slopes.lab, jacobian, slopes.by_amount


def prior_precision(count: int) -> Floats:
    """Return the precision of the belief: unit Gaussians, but for the painter's habit of touches."""
    precision = np.eye(count)
    precision[-2, -2] = (TOUCH_SPREAD / TOUCH_HABIT) ** 2
    return precision


def _cost(paints: Paints, samples: Samples, noise: list[Floats], cards: list[npt.NDArray[np.intp]]) -> float:
    off = samples.lab - paints.lab(samples.with_touch(paints.touch))
    cost = float(paints.theta @ prior_precision(len(paints.theta)) @ paints.theta)
    for covariance, which in zip(noise, cards, strict=True):
        r = off[which].ravel()
        cost += float(r @ np.linalg.solve(covariance, r))
    return cost


def _noise(here: Linear, samples: Samples, tail: Floats) -> tuple[list[Floats], Floats]:
    """Return each card's noise, and how much each swatch's own noise is stretched because it fits badly."""
    lab, _, by_amount = here
    spread = dose_spread(samples.touches, by_amount.shape[::2])
    own = np.einsum("nit,nt,njt->nij", by_amount, spread**2, by_amount, optimize=True)
    own = own + np.eye(3) * (samples.own_sd[:, :, None] ** 2 + MODEL_SD**2)
    off = samples.lab - lab
    whole = own + np.eye(3) * samples.shared_sd[:, :, None] ** 2
    distance = np.einsum("ni,nij,nj->n", off, np.linalg.inv(whole), off)
    tail = (tail + np.maximum(1.0, (_TAIL + distance) / (_TAIL + 3.0))) / 2.0
    noise = []
    for which in members(samples):
        shared = samples.shared_sd[which]
        block = np.einsum("ic,jd,cd->icjd", shared, shared, np.eye(3))
        index = np.arange(len(which))
        block[index, :, index, :] += own[which] * tail[which, None, None]
        noise.append(block.reshape(3 * len(which), -1))
    return noise, tail
