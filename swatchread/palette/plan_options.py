"""Mixtures that a plan can be made of: recorded swatches, and predicted mixtures where none is recorded."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt

from swatchread.colour.cielab import Floats, value_of_lab
from swatchread.colour.painter_terms import warmth, warmth_uncertainty
from swatchread.comparison.same_card import when
from swatchread.note.flags import SPOILT
from swatchread.note.phrases import plain
from swatchread.palette.recipe_search import Proposal
from swatchread.palette.training_swatches import Card, Collected, collect
from swatchread.recipes.recipe import format_recipe
from swatchread.recipes.tubes import TubeList

VALUE_PER_LIGHTNESS = 0.1
"""Munsell value per L*; within 5 % between values 2 and 9 (ASTM D1535)."""

Kind = Literal["recorded", "predicted"]


@dataclass(frozen=True, eq=False)
class Option:
    """One mixture that may take a place in the plan.

    Attributes
    ----------
    kind : str
        ``recorded``: painted and measured. ``predicted``: only an interpolation by the fitted tubes.
    name : str
        Card and swatch; empty for a predicted one.
    recipe : str
    tubes : tuple of str
    lab : ndarray, shape (3,)
        CIELAB, D50, 2 degree.
    value, warmth : float
    value_sd, warmth_sd, de00 : float
        Standard uncertainties.
    chalky : bool
        Whether its card's run went chalky there.
    """

    kind: Kind
    name: str
    recipe: str
    tubes: tuple[str, ...]
    lab: Floats
    value: float
    warmth: float
    value_sd: float
    warmth_sd: float
    de00: float
    chalky: bool = False


@dataclass(frozen=True, eq=False)
class Pool:
    """Everything recorded that a plan may use.

    Attributes
    ----------
    options : tuple of Option
    without_recipe : int
        Swatches that could not be used for want of a recipe that says everything.
    doubtful : int
        Swatches with a recipe whose colour is too doubtful: burnt out, in shadow, hardly told from the ground.
    earlier : int
        Swatches that stand in a later reading of the same painted card, wet before and dry by now: that one counts.
    """

    options: tuple[Option, ...]
    without_recipe: int
    doubtful: int = 0
    earlier: int = 0


def gather_options(cards: Sequence[Card], tubes: TubeList, allowed: Iterable[str] | None = None) -> Pool:
    """Return the recorded mixtures of some cards.

    Parameters
    ----------
    cards : sequence of Card
    tubes : TubeList
    allowed : iterable of str, optional
        Only mixtures of these tubes.
    """
    collected = collect(cards, tubes)
    names = collected.samples.tubes
    used = (collected.samples.amounts > 0) | collected.samples.touches
    permitted = None if allowed is None else set(allowed)
    options = []
    last = _last_readings(cards, collected)
    for row, name in enumerate(collected.samples.names):
        if not last[row]:
            continue
        holds = tuple(names[i] for i in np.flatnonzero(used[row]))
        if permitted is not None and not permitted.issuperset(holds):
            continue
        swatch = collected.swatches[row]
        sd = np.array([swatch.uncertainty.L, swatch.uncertainty.a, swatch.uncertainty.b])
        option = _option("recorded", np.array(swatch.lab), np.diag(sd**2), swatch.uncertainty.de00)
        told = {"name": name, "recipe": collected.recipes[row], "tubes": holds, "chalky": "chalky" in swatch.flags}
        options.append(Option(**{**vars(option), **told}))
    every = [swatch for card in cards for swatch in card.note.swatches]
    doubtful = sum(bool(plain(s.recipe)) and not SPOILT.isdisjoint(s.flags) for s in every)
    without = len(every) - len(collected.samples) - doubtful
    return Pool(tuple(options), without, doubtful, int(np.count_nonzero(~last)))


def _last_readings(cards: Sequence[Card], collected: Collected) -> npt.NDArray[np.bool_]:
    """Tell which samples are the last reading of their paint: a card's photos share their recipes."""
    painting = collected.samples.painting
    made = [when(card.note) for card in cards]
    day = [made[card] for card in collected.samples.card]
    newest: dict[tuple[int, str], tuple[str, str]] = {}
    keys = list(zip(painting.tolist(), collected.recipes, strict=True))
    for key, moment in zip(keys, day, strict=True):
        newest[key] = max(moment, newest.get(key, moment))
    return np.array([moment == newest[key] for key, moment in zip(keys, day, strict=True)], dtype=bool)


def predicted_option(proposal: Proposal) -> Option:
    """Return a proposed recipe as an option; its uncertainty is taken to be the same in every direction."""
    spread = np.eye(3) * proposal.uncertainty_de00**2
    option = _option("predicted", proposal.lab, spread, proposal.uncertainty_de00)
    return Option(**{**vars(option), "recipe": format_recipe(proposal.recipe), "tubes": proposal.recipe.tubes})


def _option(kind: Kind, lab: Floats, covariance: Floats, de00: float) -> Option:
    return Option(
        kind=kind,
        name="",
        recipe="",
        tubes=(),
        lab=lab,
        value=float(value_of_lab(lab)),
        warmth=float(warmth(lab)),
        value_sd=float(VALUE_PER_LIGHTNESS * np.sqrt(covariance[0, 0])),
        warmth_sd=float(warmth_uncertainty(lab[None], covariance[None])[0]),
        de00=de00,
    )
