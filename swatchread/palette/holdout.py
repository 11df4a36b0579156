"""Measures the model's error on cards it has not seen: each painted card is left out in turn, in all its photos."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from swatchread.colour.cielab import Floats, de00_metric, delta_e_2000
from swatchread.palette.mixture_fit import Fitted, linearise, members, normal_equations, prior_weights
from swatchread.palette.mixture_model import Paints, dose_spread
from swatchread.palette.training_data import Samples

COVERAGE = 0.68
"""Share of errors that lie inside one standard uncertainty of a normal distribution."""
_LEAST_SCALE = 0.7
"""Stated uncertainties are never narrowed below this: a lucky archive proves little (assumed)."""


@dataclass(frozen=True, eq=False)
class HeldOut:
    """Errors on cards left out.

    Attributes
    ----------
    lab : ndarray, shape (n, 3)
        What was predicted for each swatch without its card, in any photo.
    de00 : ndarray, shape (n,)
        CIEDE2000 from what was measured.
    stated : ndarray, shape (n,)
        One-sigma CIEDE2000 that was to be expected, reading noise included, before any stretching.
    """

    lab: Floats
    de00: Floats
    stated: Floats

    @property
    def median(self) -> float:
        """Return the median error."""
        return float(np.median(self.de00))

    @property
    def scale(self) -> float:
        """Return the factor on stated uncertainties that makes them hold 68 % of the errors."""
        return max(_LEAST_SCALE, float(np.quantile(self.de00 / self.stated, COVERAGE)))


def leave_cards_out(fitted: Fitted) -> HeldOut:
    """Predict each card's swatches from a fit without that card.

    The card's part is left out of the normal equations at the finished fit, and the tubes move to where the rest pulls
    them: one Gauss-Newton step, which the tests compare with whole new fits. The prediction itself is not linearised.

    Parameters
    ----------
    fitted : Fitted
        Of at least two painted cards.

    Returns
    -------
    HeldOut
    """
    samples, paints = fitted.samples, fitted.model.paints
    matrix, pull = normal_equations(paints, samples, fitted.roots)
    # What is left is a sum of squares and the belief, never a difference of two fits: so it stays positive definite.
    prior = prior_weights(len(paints.theta)) ** 2
    of_card = np.array([samples.painting[which[0]] for which in members(samples)])
    lab, stated = np.empty_like(samples.lab), np.empty(len(samples))
    for painting in np.unique(samples.painting):
        rest = of_card != painting
        covariance = np.linalg.inv(np.diag(prior) + matrix[rest].sum(axis=0))
        step = covariance @ (pull[rest].sum(axis=0) - prior * paints.theta)
        moved = replace(paints, theta=paints.theta + step)
        out = np.flatnonzero(samples.painting == painting)
        lab[out], stated[out] = _predict(samples.take(out), moved, covariance)
    return HeldOut(lab, delta_e_2000(lab, samples.lab), stated)


def _predict(held: Samples, paints: Paints, covariance: Floats) -> tuple[Floats, Floats]:
    """Return the colours of swatches left out, and the one-sigma CIEDE2000 to be expected of each."""
    here = linearise(paints, held)
    spread = dose_spread(held.touches, here.by_amount.shape[::2])
    total = np.einsum("nip,pq,njq->nij", here.by_theta, covariance, here.by_theta, optimize=True)
    total += np.einsum("nit,nt,njt->nij", here.by_amount, spread**2, here.by_amount, optimize=True)
    total += np.eye(3) * (held.own_sd**2 + held.shared_sd**2)[:, :, None]
    return here.lab, np.sqrt(np.einsum("nij,nij->n", de00_metric(here.lab), total))
