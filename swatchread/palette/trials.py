"""Additions to a mixture, tried out many times over, with what is not known for sure drawn anew each time.

Drawn are the painter's doses, the tubes as far as the cards leave them open, what the mixture is made of, and its
reading.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from swatchread.colour.cielab import Floats, de00_metric
from swatchread.palette.mixture_model import Mask, MixModel
from swatchread.palette.pigment_prior import TOUCH_SPREAD

_TRIALS = 96
"""Times that everything is drawn; the share of the trials in which something holds is then known to 2 %."""


@dataclass(frozen=True, eq=False)
class BaseMixture:
    """A mixture as it is: the tubes, its shares, shape (t,), and how far the model is off on its colour."""

    model: MixModel
    shares: Floats
    off: Floats

    def after(self, added: Floats) -> Floats:
        """Return the colours after additions, shape (..., t); what the model was off by thins out with the mixture."""
        volume = added.sum(axis=-1, keepdims=True)
        whole = (self.shares + added).reshape(-1, len(self.shares))
        lab: Floats = self.model.paints.lab(whole).reshape(*added.shape[:-1], 3) + self.off / (1.0 + volume)
        return lab


@dataclass(frozen=True, eq=False)
class Trial:
    """One way in which things may truly be: the mixture, and the factors on counted parts and on dots, shape (t,)."""

    base: BaseMixture
    by_parts: Floats
    by_dot: Floats

    def after(self, added: Floats, dots: Mask) -> Floats:
        """Return the colours after additions that are dosed unevenly, shape (..., 3)."""
        return self.base.after(added * np.where(dots, self.by_dot, self.by_parts))


def draw_trials(bases: Sequence[BaseMixture], start: Floats, start_de00: float) -> list[Trial]:
    """Draw what may truly be; always the same draws, so that a question is always answered alike.

    Parameters
    ----------
    bases : sequence of BaseMixture
        What the mixture may be made of; each as likely as the others.
    start : ndarray, shape (3,)
        Its colour as read, CIELAB, D50, 2 degree.
    start_de00 : float
        One-sigma CIEDE2000 of that.
    """
    model, rng = bases[0].model, np.random.default_rng(0)
    paints, dosing, size = model.paints, model.scale * model.habits.dosing, len(model.tubes)
    of_tubes = model.scale * np.linalg.cholesky(model.covariance)
    of_reading = start_de00 / np.sqrt(3.0) * np.linalg.cholesky(np.linalg.inv(de00_metric(start)))
    trials = []
    for number in range(_TRIALS):
        theta = paints.theta + of_tubes @ rng.standard_normal(len(of_tubes))
        drawn = replace(model, paints=replace(paints, theta=theta))
        mixed = bases[number % len(bases)].shares * np.exp(dosing * rng.standard_normal(size))
        mixed = mixed / mixed.sum()
        off = start + of_reading @ rng.standard_normal(3) - drawn.paints.lab(mixed[None])[0]
        by_parts, by_dot = np.exp(np.outer((dosing, TOUCH_SPREAD), np.ones(size)) * rng.standard_normal((2, size)))
        trials.append(Trial(BaseMixture(drawn, mixed, off), by_parts, by_dot))
    return trials
