"""Fits the tubes' absorption and scattering to recorded swatches.

The most probable tubes are found by least squares: residuals are divided by their noise, and what is believed of the
tubes beforehand stands beside them as further residuals. The recipes are not exact either. An error in an amount moves
a colour along a direction that the model itself knows, so it counts as noise along that direction (effective variance;
Orear 1982, American Journal of Physics 50, 912-916). The readings of one card share a part of their noise. Swatches
that fit badly count less (Student's t). As the noise depends on the fit, the two are found in turns.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from swatchread.colour.cielab import Floats
from swatchread.palette.mixture_model import MixModel, Paints, Slopes, dose_spread
from swatchread.palette.pigment_prior import HABITS_SPREAD, TOUCH_HABIT, TOUCH_SPREAD, USUAL, Belief, Habits, believe
from swatchread.palette.training_data import Samples

_FREEDOM = 5.0
"""Degrees of freedom of Student's t, by which badly fitting swatches count less (assumed)."""
_USUAL_STRETCH = 1.12
"""Mean stretch of swatches that fit as well as normal noise lets them (three degrees of freedom)."""
_ROUNDS = 14
"""The most turns of noise and fit; most archives need fewer."""
_FIRST_ROUNDS = 3
"""Turns before the painter's habits are learnt as well: until then the tubes are too far off to show them."""
_STEPS = 2
"""The most steps of least squares in one turn: the noise changes after it."""
_SETTLED = 1e-2
"""Standard deviations of the belief; shorter steps change no colour visibly."""


@dataclass(frozen=True, eq=False)
class Fitted:
    """A fit with what its judges need.

    Attributes
    ----------
    samples : Samples
    model : MixModel
    roots : tuple of ndarray
        For each card the Cholesky factor of the covariance of its readings, (3m, 3m).
    """

    samples: Samples
    model: MixModel
    roots: tuple[Floats, ...]


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
    from scipy.optimize import least_squares

    belief = belief or believe(samples.tubes)
    paints = Paints(belief, np.zeros(belief.count))
    weights = prior_weights(belief.count)
    stretch = np.ones(len(samples))
    roots: tuple[Floats, ...] = ()

    def residuals(theta: Floats) -> Floats:
        moved = replace(paints, theta=theta)
        off = moved.lab(samples.with_touch(moved.touch)) - samples.lab
        return np.concatenate([*(r[:, 0] for r in _whitened(off[..., None], samples, roots)), weights * theta])

    def slopes(theta: Floats) -> Floats:
        by_theta = linearise(replace(paints, theta=theta), samples).by_theta
        return np.vstack([*_whitened(by_theta, samples, roots), np.diag(weights)])

    habits = USUAL
    for turn in range(_ROUNDS):
        here = linearise(paints, samples)
        if turn >= _FIRST_ROUNDS:
            habits = _likeliest_habits(here, samples, stretch, paints.theta, habits)
        stretch = _stretched(here, samples, stretch, habits)
        roots = _roots(here, samples, stretch, habits)
        before = paints.theta
        found = least_squares(residuals, before, slopes, method="trf", max_nfev=_STEPS)
        paints = replace(paints, theta=found.x)
        if turn > _FIRST_ROUNDS and np.abs(found.x - before).max() < _SETTLED:
            break
    matrix, _ = normal_equations(paints, samples, roots)
    covariance = np.linalg.inv(matrix.sum(axis=0) + np.diag(weights**2))
    return Fitted(samples, MixModel(samples.tubes, paints, covariance, habits), roots)


def members(samples: Samples) -> list[npt.NDArray[np.intp]]:
    """Return the indices of each card's swatches."""
    return [np.flatnonzero(samples.card == c) for c in range(int(samples.card.max()) + 1)]


def linearise(paints: Paints, samples: Samples) -> Slopes:
    """Return the colours that the paints give for each recipe, with their derivatives; the touch is among these."""
    slopes = paints.slopes(samples.with_touch(paints.touch))
    by_theta = slopes.by_theta.copy()
    by_theta[:, :, -2] = TOUCH_SPREAD * np.einsum("nlt,nt->nl", slopes.by_amount, samples.touches)
    return replace(slopes, by_theta=by_theta)


def normal_equations(paints: Paints, samples: Samples, roots: tuple[Floats, ...]) -> tuple[Floats, Floats]:
    """Return what each card alone says of the tubes, as its part of the normal equations.

    Parameters
    ----------
    paints : Paints
        Where the model is linearised.
    samples : Samples
    roots : tuple of ndarray
        Of `Fitted`.

    Returns
    -------
    matrix : ndarray, shape (cards, p, p)
    vector : ndarray, shape (cards, p)
        Where the card pulls the tubes.
    """
    here = linearise(paints, samples)
    both = np.concatenate([here.by_theta, (samples.lab - here.lab)[..., None]], axis=-1)
    products = np.array([block.T @ block for block in _whitened(both, samples, roots)])
    return products[:, :-1, :-1], products[:, :-1, -1]


def prior_weights(count: int) -> Floats:
    """Return the weights of the belief: all departures have unit spread, but the painter's habit of touches its own."""
    weights = np.ones(count)
    weights[-2] = TOUCH_SPREAD / TOUCH_HABIT
    return weights


def _whitened(values: Floats, samples: Samples, roots: tuple[Floats, ...]) -> list[Floats]:
    """Divide values of each swatch's colour, (n, 3, k), by the noise of its card: one (3m, k) for each card."""
    from scipy.linalg import solve_triangular

    size = values.shape[-1]
    return [
        solve_triangular(root, values[which].reshape(-1, size), lower=True)
        for root, which in zip(roots, members(samples), strict=True)
    ]


def _own_noise(here: Slopes, samples: Samples, habits: Habits) -> Floats:
    """Return the covariance of each swatch's own noise, shape (n, 3, 3): dosing, reading, and what theory leaves."""
    spread = dose_spread(habits, samples.touches, here.by_amount.shape[::2])
    own = np.einsum("nit,nt,njt->nij", here.by_amount, spread**2, here.by_amount, optimize=True)
    noise: Floats = own + np.eye(3) * (samples.own_sd[:, :, None] ** 2 + habits.theory_sd**2)
    return noise


def _stretched(here: Slopes, samples: Samples, stretch: Floats, habits: Habits) -> Floats:
    """Return by how much each swatch's own noise is stretched, shape (n,): more if it fits badly."""
    off = samples.lab - here.lab
    whole = _own_noise(here, samples, habits) + np.eye(3) * samples.shared_sd[:, :, None] ** 2
    distance = np.einsum("ni,nij,nj->n", off, np.linalg.inv(whole), off)
    stretched: Floats = (stretch + np.maximum(1.0, (_FREEDOM + distance) / (_FREEDOM + 3.0))) / 2.0
    return stretched


def _roots(here: Slopes, samples: Samples, stretch: Floats, habits: Habits) -> tuple[Floats, ...]:
    """Return the Cholesky factor of the covariance of each card's noise."""
    own = _own_noise(here, samples, habits) * stretch[:, None, None]
    roots = []
    for which in members(samples):
        shared = samples.shared_sd[which]
        block = np.einsum("ic,jd,cd->icjd", shared, shared, np.eye(3))
        index = np.arange(len(which))
        block[index, :, index, :] += own[which]
        roots.append(np.linalg.cholesky(block.reshape(3 * len(which), -1)))
    return tuple(roots)


def _likeliest_habits(here: Slopes, samples: Samples, stretch: Floats, theta: Floats, start: Habits) -> Habits:
    """Return the habits under which the readings are likeliest, whatever the tubes are.

    The tubes are integrated out of the linearised model (type II maximum likelihood; MacKay 1992, Neural Computation 4,
    415-447), so that tubes which follow the readings closely do not make the painter look more exact than they are.
    """
    from scipy.linalg import cho_factor, cho_solve
    from scipy.optimize import minimize

    prior = prior_weights(len(theta)) ** 2
    usual = np.log([USUAL.dosing, USUAL.theory_sd])
    seen = samples.lab - here.lab + here.by_theta @ theta
    both = np.concatenate([here.by_theta, seen[..., None]], axis=-1)

    def surprise(logs: Floats) -> float:
        roots = _roots(here, samples, stretch / _USUAL_STRETCH, Habits(*np.exp(logs)))
        whole = np.vstack(_whitened(both, samples, roots))
        by_theta, rest = whole[:, :-1], whole[:, -1]
        pull = by_theta.T @ rest
        factor = cho_factor(by_theta.T @ by_theta + np.diag(prior), lower=True)
        volume = sum(float(np.log(np.diagonal(root)).sum()) for root in [*roots, factor[0]])
        misfit = float(rest @ rest - pull @ cho_solve(factor, pull))
        return volume + misfit / 2.0 + float(np.square((logs - usual) / HABITS_SPREAD).sum()) / 2.0

    found = minimize(
        surprise, np.log([start.dosing, start.theory_sd]), method="L-BFGS-B", options={"maxiter": 8, "ftol": 1e-4}
    )
    return Habits(*np.exp(found.x).tolist())
