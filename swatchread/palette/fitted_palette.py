"""A painter's cards with the model that they support, or with what is missing for one."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from swatchread.colour.cielab import Floats, delta_e_2000
from swatchread.palette.holdout import HeldOut, leave_cards_out
from swatchread.palette.mixture_fit import Fitted, fit
from swatchread.palette.mixture_model import MixModel
from swatchread.palette.pigment_prior import TOUCH_SHARE
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
    nearest_de00 : float or None
        Median error of taking the nearest recorded mixture instead, on the same cards left out.
    tubes : tuple of KnownTube
    missing : tuple of str
        Why there is no model.
    """

    vocabulary: TubeList
    cards: tuple[Card, ...]
    collected: Collected
    model: MixModel | None
    held: HeldOut | None
    nearest_de00: float | None
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
        return FittedPalette(tubes, listed, collected, None, None, None, _known_tubes(samples, None), missing)
    taught = _latest(samples)
    fitted = fit(taught)
    held = leave_cards_out(fitted)
    nearest = _nearest_error(taught)
    known = _known_tubes(samples, fitted)
    model: MixModel | None = replace(fitted.model, scale=held.scale)
    if held.median >= nearest:
        why = f"on cards left out it is off by ΔE00 {held.median:.1f}, the nearest recorded mixture by {nearest:.1f}"
        model, missing = None, (why, "more mixtures of the same tubes are needed")
    return FittedPalette(tubes, listed, collected, model, held, nearest, known, missing)


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


def _latest(samples: Samples) -> Samples:
    """Return the swatches that the tubes are learnt from."""
    if len(samples) <= MOST_SWATCHES:
        return samples
    used = samples.used
    later: npt.NDArray[np.intp] = np.cumsum(used[::-1], axis=0)[::-1] - used
    rare = (used & (later < MOST_OF_TUBE)).any(axis=1)
    late = np.arange(len(samples)) >= len(samples) - MOST_SWATCHES
    return samples.take(np.flatnonzero(rare | late))


def _nearest_error(samples: Samples) -> float:
    """Return the median CIEDE2000 of taking the nearest recorded mixture of another painted card."""
    apart = recipe_distance(samples, samples.with_touch(TOUCH_SHARE))
    apart[samples.painting[:, None] == samples.painting[None, :]] = np.inf
    return float(np.median(delta_e_2000(samples.lab[apart.argmin(axis=1)], samples.lab)))


def _too_little(collected: Collected) -> tuple[str, ...]:
    samples = collected.samples
    missing = []
    if len(samples) < LEAST_SWATCHES:
        missing.append(f"{LEAST_SWATCHES} swatches with a usable recipe are needed, there are {len(samples)}")
        for why, swatches in Counter(why for _, why in collected.left_out).most_common(_MOST_REASONS):
            missing.append(f"{swatches} more {'has' if swatches == 1 else 'have'} one that cannot be used: {why}")
    cards = len(set(samples.painting.tolist()))
    if cards < LEAST_CARDS:
        missing.append(f"they must come from {LEAST_CARDS} cards or more, there are {cards}")
    return tuple(missing)


def _known_tubes(samples: Samples, fitted: Fitted | None) -> tuple[KnownTube, ...]:
    known = _scattering_known(fitted) if fitted else np.zeros(len(samples.tubes), dtype=bool)
    facts = []
    for i, name in enumerate(samples.tubes):
        count = int(samples.used[:, i].sum())
        lacking = count < LEAST_OF_TUBE
        with_white = "" if name.split()[-1] == "white" else ", and 1 part with 1 and with 5 of white"
        advice = f"paint it alone{with_white}" if lacking else ""
        facts.append(KnownTube(name, count, 2 if known[i] else 1, advice))
    return tuple(sorted(facts, key=lambda f: -f.swatches))


def _scattering_known(fitted: Fitted) -> npt.NDArray[np.bool_]:
    """Tell for each tube whether the cards show its scattering, relative to that of the tube used most."""
    paints = fitted.model.paints
    shapes, t = paints.belief.shapes, len(fitted.samples.tubes)
    k, s = shapes.absorption.shape[1], shapes.scattering.shape[1]
    mean = shapes.scattering.mean(axis=0)
    of_scattering = fitted.model.covariance[t * k : t * (k + s), t * k : t * (k + s)].reshape(t, s, t, s)
    covariance = np.einsum("s,isjr,r->ij", mean, of_scattering, mean)
    # A common scale of K and S cannot be known and does not matter, so only differences are judged.
    reference = int(np.argmax(fitted.samples.with_touch(paints.touch).sum(axis=0)))
    variance = np.diagonal(covariance) + covariance[reference, reference] - 2.0 * covariance[:, reference]
    known: npt.NDArray[np.bool_] = variance < _KNOWN_SCATTERING**2
    return known
