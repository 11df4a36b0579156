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
from swatchread.palette.pigment_prior import TOUCH_HABIT, TOUCH_SPREAD, Belief, believe
from swatchread.palette.training_data import Samples

MODEL_SD = 0.7
"""CIELAB units that the theory leaves unexplained of real paint (assumed; the error on cards left out judges it)."""
_FREEDOM = 5.0
"""Degrees of freedom of Student's t, by which badly fitting swatches count less (assumed)."""
_ROUNDS = 14
"""The most turns of noise and fit; most archives need fewer."""
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

    belief = belief or believe(samples.kinds or samples.tubes)
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

    for _ in range(_ROUNDS):
        roots, stretch = _noise(paints, samples, stretch)
        before = paints.theta
        found = least_squares(residuals, before, slopes, method="trf", max_nfev=_STEPS)
        paints = replace(paints, theta=found.x)
        if np.abs(found.x - before).max() < _SETTLED:
            break
    matrix, _ = normal_equations(paints, samples, roots)
    covariance = np.linalg.inv(matrix.sum(axis=0) + np.diag(weights**2))
    return Fitted(samples, MixModel(samples.tubes, paints, covariance), roots)


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


def _noise(paints: Paints, samples: Samples, stretch: Floats) -> tuple[tuple[Floats, ...], Floats]:
    """Return the Cholesky factor of each card's noise, and how much each swatch's own noise is stretched."""
    here = linearise(paints, samples)
    spread = dose_spread(samples.touches, here.by_amount.shape[::2])
    own = np.einsum("nit,nt,njt->nij", here.by_amount, spread**2, here.by_amount, optimize=True)
    own = own + np.eye(3) * (samples.own_sd[:, :, None] ** 2 + MODEL_SD**2)
    off = samples.lab - here.lab
    whole = own + np.eye(3) * samples.shared_sd[:, :, None] ** 2
    distance = np.einsum("ni,nij,nj->n", off, np.linalg.inv(whole), off)
    stretch = (stretch + np.maximum(1.0, (_FREEDOM + distance) / (_FREEDOM + 3.0))) / 2.0
    roots = []
    for which in members(samples):
        shared = samples.shared_sd[which]
        block = np.einsum("ic,jd,cd->icjd", shared, shared, np.eye(3))
        index = np.arange(len(which))
        block[index, :, index, :] += own[which] * stretch[which, None, None]
        roots.append(np.linalg.cholesky(block.reshape(3 * len(which), -1)))
    return tuple(roots), stretch
