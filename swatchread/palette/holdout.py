"""How far the model is off on cards it has not seen: each painted card is left out in turn, in all its photos."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from swatchread.colour.cielab import Floats, de00_metric, delta_e_2000
from swatchread.palette.mixture_fit import Fitted, linearise, members
from swatchread.palette.mixture_model import MixModel, Paints, dose_spread
from swatchread.palette.training_samples import Samples

_COVERS = 0.68


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
        """Return what stated uncertainties must be stretched by to hold 68 % of the errors; never below 0.7."""
        return max(0.7, float(np.quantile(self.de00 / self.stated, _COVERS)))


def leave_cards_out(fitted: Fitted) -> HeldOut:
    """Fit again without each card and predict its swatches.

    A card is taken out of the normal equations of the finished fit and the tubes move where the rest pulls them: one
    Gauss-Newton step, which the tests hold against whole new fits. The prediction itself is not linearised.

    Parameters
    ----------
    fitted : Fitted
        Of at least two painted cards.

    Returns
    -------
    HeldOut
    """
    samples, paints = fitted.samples, fitted.model.paints
    fit_lab, jacobian, _ = linearise(paints, samples)
    p = len(paints.theta)
    lab, stated = np.empty_like(samples.lab), np.empty(len(samples))
    whole = np.linalg.inv(fitted.model.covariance)
    blocks = list(zip(fitted.noise, members(samples), strict=True))
    for painting in np.unique(samples.painting):
        rest, pull = whole, np.zeros(p)
        for noise, which in blocks:
            if samples.painting[which[0]] == painting:
                J = jacobian[which].reshape(-1, p)
                WJ = np.linalg.solve(noise, J)
                # At the optimum all pulls cancel, so the rest pulls by what this card pulled, the other way.
                pull = pull + WJ.T @ (samples.lab[which] - fit_lab[which]).ravel()
                rest = rest - J.T @ WJ
        covariance = np.linalg.inv(rest)
        moved = replace(paints, theta=paints.theta - covariance @ pull)
        out = np.flatnonzero(samples.painting == painting)
        lab[out], stated[out] = _predict(samples.take(out), moved, covariance)
    return HeldOut(lab, delta_e_2000(lab, samples.lab), stated)


def calibrated(fitted: Fitted, held: HeldOut) -> MixModel:
    """Return the model with its uncertainties stretched to what the cards left out show."""
    return replace(fitted.model, scale=held.scale)


def _predict(held: Samples, paints: Paints, covariance: Floats) -> tuple[Floats, Floats]:
    lab, jacobian, by_amount = linearise(paints, held)
    spread = dose_spread(held.touches, by_amount.shape[::2])
    total = np.einsum("nip,pq,njq->nij", jacobian, covariance, jacobian, optimize=True)
    total += np.einsum("nit,nt,njt->nij", by_amount, spread**2, by_amount, optimize=True)
    total += np.eye(3) * (held.own_sd**2 + held.shared_sd**2)[:, :, None]
    return lab, np.sqrt(np.einsum("nij,nij->n", de00_metric(lab), total))
