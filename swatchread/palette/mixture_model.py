"""The fitted model: from amounts of tubes to the colour of their mixture, with its derivatives."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from swatchread.colour.cielab import Floats, de00_metric
from swatchread.palette.kubelka_munk import (
    K1,
    K2,
    add_surface,
    lab_of_reflectance,
    mix,
    reflectance_of_ratio,
    slope_of_lab,
)
from swatchread.palette.pigment_prior import TOUCH_SHARE, TOUCH_SPREAD, Belief, Habits

Mask = npt.NDArray[np.bool_]


@dataclass(frozen=True, eq=False)
class Paints:
    """The tubes at one point of the fit.

    Attributes
    ----------
    belief : Belief
    theta : ndarray, shape (p,)
        Departures in standard deviations: of K tube by tube, of S tube by tube, of the touch, of the gloss.
    """

    belief: Belief
    theta: Floats

    @property
    def absorption(self) -> Floats:
        """K of each tube, shape (t, 16)."""
        t, k, _ = self.belief.counts
        departure = self.theta[: t * k].reshape(t, k) @ self.belief.shapes.absorption.T
        return np.exp(self.belief.log_absorption + self.belief.stretch[:, None] * departure)

    @property
    def scattering(self) -> Floats:
        """S of each tube, shape (t, 16)."""
        t, k, s = self.belief.counts
        departure = self.theta[t * k : t * (k + s)].reshape(t, s) @ self.belief.shapes.scattering.T
        return np.exp(self.belief.log_scattering + departure)

    @property
    def touch(self) -> float:
        """The painter's touch, as a share of the counted parts."""
        return float(TOUCH_SHARE * np.exp(TOUCH_SPREAD * self.theta[-2]))

    @property
    def gloss(self) -> float:
        """Share of the outer reflection in the readings, 0 to 1: glints are left out, the sky's sheen is not."""
        return float(1.0 / (1.0 + np.exp(-self.theta[-1])))

    def lab(self, amounts: Floats) -> Floats:
        """Return CIELAB (D50, 2 degree) of mixtures, shape (n, 3).

        Parameters
        ----------
        amounts : ndarray, shape (n, t)
            Relative amounts, 0 or more.
        """
        return lab_of_reflectance(
            add_surface(reflectance_of_ratio(mix(self.absorption, self.scattering, amounts)), self.gloss)
        )

    def slopes(self, amounts: Floats) -> Slopes:
        """Return the colours of mixtures and how they change with everything; see `Slopes`."""
        K, S, (t, k, s) = self.absorption, self.scattering, self.belief.counts
        bulk = amounts @ S
        q = (amounts @ K) / bulk
        R = reflectance_of_ratio(q)
        seen = add_surface(R, self.gloss)
        to_lab = slope_of_lab(seen)
        dR = -R / np.sqrt(np.maximum(q * (q + 2.0), 1e-12))
        dseen = (1.0 - K1) * (1.0 - K2) / (1.0 - K2 * R) ** 2
        by_ratio = to_lab * (dR * dseen)[:, None, :]  # (n, 3, band)
        toK = amounts[:, :, None] * K / bulk[:, None, :]
        toS = -amounts[:, :, None] * S * (q / bulk)[:, None, :]
        jK = np.einsum("nlb,ntb,bk->nltk", by_ratio, toK, self.belief.shapes.absorption, optimize=True)
        jS = np.einsum("nlb,ntb,bk->nltk", by_ratio, toS, self.belief.shapes.scattering, optimize=True)
        jK = jK * self.belief.stretch[:, None]
        by_gloss = to_lab.sum(axis=-1) * K1 * self.gloss * (1.0 - self.gloss)
        by_amount = np.einsum("nlb,ntb->nlt", by_ratio, toK + toS, optimize=True)
        n = len(amounts)
        by_theta = np.concatenate(
            [jK.reshape(n, 3, t * k), jS.reshape(n, 3, t * s), np.zeros((n, 3, 1)), by_gloss[..., None]], axis=2
        )
        return Slopes(lab_of_reflectance(seen), by_theta, by_amount)


@dataclass(frozen=True, eq=False)
class Slopes:
    """Colours of mixtures with their derivatives.

    Attributes
    ----------
    lab : ndarray, shape (n, 3)
    by_theta : ndarray, shape (n, 3, p)
    by_amount : ndarray, shape (n, 3, t)
        By the logarithm of each tube's amount.
    """

    lab: Floats
    by_theta: Floats
    by_amount: Floats


@dataclass(frozen=True, eq=False)
class MixModel:
    """A painter's tubes as their own cards show them.

    Attributes
    ----------
    tubes : tuple of str
    paints : Paints
    covariance : ndarray, shape (p, p)
        Of the departures.
    habits : Habits
        How exactly the painter doses, and how exactly the theory holds.
    scale : float
        Factor on stated uncertainties, so that they hold 68 % of the errors on cards left out.
    """

    tubes: tuple[str, ...]
    paints: Paints
    covariance: Floats
    habits: Habits
    scale: float = 1.0

    def predict(self, amounts: Floats, touches: Mask | None = None) -> Predicted:
        """Predict the colour of mixtures, dosed as a painter doses them.

        Parameters
        ----------
        amounts : ndarray, shape (n, t)
            Relative amounts, a touch already put in as an amount.
        touches : ndarray of bool, shape (n, t), optional
            Which of them are touches, known only roughly.

        Returns
        -------
        Predicted
        """
        slopes = self.paints.slopes(amounts)
        covariance = np.einsum("nip,pq,njq->nij", slopes.by_theta, self.covariance, slopes.by_theta, optimize=True)
        spread = dose_spread(self.habits, touches, slopes.by_amount.shape[::2])
        covariance += np.einsum("nit,nt,njt->nij", slopes.by_amount, spread**2, slopes.by_amount, optimize=True)
        covariance += self.habits.theory_sd**2 * np.eye(3)
        covariance = self.scale**2 * covariance
        metric = de00_metric(slopes.lab)
        de00 = np.sqrt(np.einsum("nij,nij->n", metric, covariance))
        return Predicted(slopes.lab, covariance, de00)


@dataclass(frozen=True, eq=False)
class Predicted:
    """Predicted colours.

    Attributes
    ----------
    lab : ndarray, shape (n, 3)
        CIELAB, D50, 2 degree.
    covariance : ndarray, shape (n, 3, 3)
    de00 : ndarray, shape (n,)
        One-sigma CIEDE2000.
    """

    lab: Floats
    covariance: Floats
    de00: Floats


def dose_spread(habits: Habits, touches: Mask | None, shape: tuple[int, ...]) -> Floats:
    """Return the standard deviation of the logarithm of each amount, shape (n, t)."""
    spread = np.full(shape, habits.dosing)
    return spread if touches is None else np.where(touches, TOUCH_SPREAD, spread)
