"""A painter's cards with the model that they support, or with what is missing for one.

The model is judged on cards that it has not seen: each painted card is left out in turn, in all its photos.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from swatchread.colour.cielab import Floats, de00_metric, delta_e_2000
from swatchread.palette.mixture_fit import Fitted, fit, linearise, members, normal_equations, prior_weights
from swatchread.palette.mixture_model import MixModel, Paints, dose_spread
from swatchread.palette.pigment_prior import TOUCH_SHARE, Habits
from swatchread.palette.training_data import Card, Collected, Samples, collect
from swatchread.recipes.tubes import TubeList

LEAST_SWATCHES = 12
"""Recorded mixtures without which no model is fitted (assumed)."""
LEAST_CARDS = 2
"""Painted cards without which no model is fitted: one is needed to judge what the others teach."""
LEAST_OF_TUBE = 3
"""Recorded mixtures with a tube without which the model does not use it (assumed)."""
MOST_SWATCHES = 800
"""Recorded mixtures that are learnt from, the latest first: more make the wait longer but the tubes no surer."""
MOST_OF_TUBE = 60
"""Recorded mixtures with a tube that are learnt from even if they are older than those."""
_MOST_REASONS = 4
"""Reasons that are named when too few recipes can be used."""
_KNOWN_SCATTERING = 0.35
"""Standard deviation of the logarithm of a tube's scattering below which it counts as known (assumed)."""
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
    nearest_de00 : float
        Median error of taking the nearest recorded mixture of another painted card instead.
    """

    lab: Floats
    de00: Floats
    stated: Floats
    nearest_de00: float

    @property
    def median(self) -> float:
        """Return the median error."""
        return float(np.median(self.de00))

    @property
    def scale(self) -> float:
        """Return the factor on stated uncertainties that makes them hold 68 % of the errors."""
        return max(_LEAST_SCALE, float(np.quantile(self.de00 / self.stated, COVERAGE)))


@dataclass(frozen=True)
class KnownTube:
    """What the cards show of one tube.

    Attributes
    ----------
    tube : str
    swatches : int
        Recorded mixtures that hold it.
    constants : int
        2 if the cards show its absorption and its scattering; 1 if only its absorption, and the scattering is guessed.
    missing : str
        What to paint so that it can be used; empty if nothing.
    """

    tube: str
    swatches: int
    constants: int
    missing: str = ""


@dataclass(frozen=True, eq=False)
class FittedPalette:
    """Recorded mixtures, and the model of the tubes if there is one.

    Attributes
    ----------
    vocabulary : TubeList
        What recipes are understood with.
    cards : tuple of Card
    collected : Collected
        Their swatches with a usable recipe.
    model : MixModel or None
    held : HeldOut or None
        Errors on cards left out, if they could be had.
    tubes : tuple of KnownTube
    missing : tuple of str
        Why there is no model.
    """

    vocabulary: TubeList
    cards: tuple[Card, ...]
    collected: Collected
    model: MixModel | None
    held: HeldOut | None
    tubes: tuple[KnownTube, ...]
    missing: tuple[str, ...]

    @property
    def usable(self) -> tuple[str, ...]:
        """Return the tubes that the model knows well enough."""
        return tuple(t.tube for t in self.tubes if not t.missing) if self.model else ()


def fit_palette(cards: Iterable[Card], tubes: TubeList) -> FittedPalette:
    """Fit the model to some cards, and judge whether it is good enough to be used.

    Parameters
    ----------
    cards : iterable of Card
    tubes : TubeList
        What recipes are understood with.

    Returns
    -------
    FittedPalette
    """
    listed = tuple(cards)
    collected = collect(listed, tubes)
    samples = collected.samples
    missing = _too_little(collected)
    if missing:
        return FittedPalette(tubes, listed, collected, None, None, _known_tubes(samples, None), missing)
    fitted = fit(_latest(samples))
    held = leave_cards_out(fitted)
    known = _known_tubes(samples, fitted)
    model: MixModel | None = replace(fitted.model, scale=held.scale)
    if held.median >= held.nearest_de00:
        off = f"{held.median:.1f}, the nearest recorded mixture by {held.nearest_de00:.1f}"
        why = f"tested on your own cards it is off by ΔE00 {off}"
        model, missing = None, (why, "more mixtures of the same tubes are needed")
    return FittedPalette(tubes, listed, collected, model, held, known, missing)


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
        lab[out], stated[out] = _predict(samples.take(out), moved, covariance, fitted.model.habits)
    return HeldOut(lab, delta_e_2000(lab, samples.lab), stated, _nearest_error(samples))


def recipe_distance(samples: Samples, share: Floats) -> Floats:
    """Return by how much the shares of recorded mixtures differ from a mixture's: 0 the same, 2 nothing in common.

    Parameters
    ----------
    samples : Samples
    share : ndarray, shape (..., t)
        Sums to 1.

    Returns
    -------
    ndarray, shape (..., n)
    """
    distance: Floats = np.abs(share[..., None, :] - samples.with_touch(TOUCH_SHARE)).sum(axis=-1)
    return distance


def _nearest_error(samples: Samples) -> float:
    apart = recipe_distance(samples, samples.with_touch(TOUCH_SHARE))
    apart[samples.painting[:, None] == samples.painting[None, :]] = np.inf
    return float(np.median(delta_e_2000(samples.lab[apart.argmin(axis=1)], samples.lab)))


def _predict(held: Samples, paints: Paints, covariance: Floats, habits: Habits) -> tuple[Floats, Floats]:
    """Return the colours of swatches left out, and the one-sigma CIEDE2000 to be expected of each."""
    here = linearise(paints, held)
    spread = dose_spread(habits, held.touches, here.by_amount.shape[::2])
    total = np.einsum("nip,pq,njq->nij", here.by_theta, covariance, here.by_theta, optimize=True)
    total += np.einsum("nit,nt,njt->nij", here.by_amount, spread**2, here.by_amount, optimize=True)
    total += np.eye(3) * (held.own_sd**2 + held.shared_sd**2 + habits.theory_sd**2)[:, :, None]
    return here.lab, np.sqrt(np.einsum("nij,nij->n", de00_metric(here.lab), total))


def _latest(samples: Samples) -> Samples:
    """Return the swatches that the tubes are learnt from."""
    used = samples.used
    later: npt.NDArray[np.intp] = np.cumsum(used[::-1], axis=0)[::-1] - used
    rare = (used & (later < MOST_OF_TUBE)).any(axis=1)
    late = np.arange(len(samples)) >= len(samples) - MOST_SWATCHES
    return samples.take(np.flatnonzero(rare | late))


def _too_little(collected: Collected) -> tuple[str, ...]:
    samples = collected.samples
    missing = []
    if len(samples) < LEAST_SWATCHES:
        missing.append(f"{LEAST_SWATCHES} swatches with a clear recipe are needed, and there are {len(samples)}")
        for why, swatches in Counter(why for _, why in collected.left_out).most_common(_MOST_REASONS):
            missing.append(f"{swatches} more cannot be used: {why}")
    cards = len(set(samples.painting.tolist()))
    if cards < LEAST_CARDS:
        missing.append(f"they must come from {LEAST_CARDS} cards or more, and there are {cards}")
    return tuple(missing)


def _known_tubes(samples: Samples, fitted: Fitted | None) -> tuple[KnownTube, ...]:
    known = _scattering_known(fitted) if fitted else np.zeros(len(samples.tubes), dtype=bool)
    facts = []
    for i, name in enumerate(samples.tubes):
        count = int(samples.used[:, i].sum())
        lacking = count < LEAST_OF_TUBE
        with_white = "" if name.split()[-1].casefold() == "white" else ", and 1 part with 1 and with 5 of white"
        advice = f"paint it alone{with_white}" if lacking else ""
        facts.append(KnownTube(name, count, 2 if known[i] else 1, advice))
    return tuple(sorted(facts, key=lambda f: -f.swatches))


def _scattering_known(fitted: Fitted) -> npt.NDArray[np.bool_]:
    """Tell for each tube whether the cards show its scattering, relative to that of the tube used most."""
    paints = fitted.model.paints
    t, k, s = paints.belief.counts
    mean = paints.belief.shapes.scattering.mean(axis=0)
    of_scattering = fitted.model.covariance[t * k : t * (k + s), t * k : t * (k + s)].reshape(t, s, t, s)
    covariance = np.einsum("s,isjr,r->ij", mean, of_scattering, mean)
    # A common scale of K and S cannot be known and does not matter, so only differences are judged.
    reference = int(np.argmax(fitted.samples.with_touch(paints.touch).sum(axis=0)))
    variance = np.diagonal(covariance) + covariance[reference, reference] - 2.0 * covariance[:, reference]
    known: npt.NDArray[np.bool_] = variance < _KNOWN_SCATTERING**2
    return known
