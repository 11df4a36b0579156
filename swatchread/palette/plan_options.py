"""Mixtures that a plan can choose from: recorded swatches, and predicted mixtures where none is recorded."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any, Final, Literal

import numpy as np
import numpy.typing as npt

from swatchread.colour.cielab import Floats, value_of_lab
from swatchread.colour.painter_terms import warmth, warmth_uncertainty
from swatchread.comparison.same_card import date_key
from swatchread.note.flags_and_warnings import SPOILT
from swatchread.note.model import Note
from swatchread.note.phrases import plain
from swatchread.palette.fitted_palette import FittedPalette
from swatchread.palette.hue_family import check_hue
from swatchread.palette.likely_colour import likely_lab
from swatchread.palette.nearest_recorded import recorded_recipe
from swatchread.palette.portions import InAll, in_whole_parts, is_counted, parts_said, portion_words, portions
from swatchread.palette.recipe_search import Proposal
from swatchread.palette.training_data import Card, Collected, collect
from swatchread.recipes.recipe import Recipe, format_recipe
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
        As it was written down.
    tubes : tuple of str
    lab : ndarray, shape (3,)
        CIELAB, D50, 2 degree.
    value, warmth : float
    value_sd, warmth_sd, de00 : float
        Standard uncertainties.
    chalky : bool
        Whether its card's run went chalky there.
    whole : Recipe or None
        The recipe in small whole parts.
    counted : bool
        Whether it is written in such parts already.
    portions : mapping of str to str
        Tube -> what it comes to for the amount that was asked for, as ``"11.5 ml"``; empty if none was.
    in_all : InAll or None
        That amount.
    likely_value : float or None
        Munsell value by the reading and the recipe together, where a model says what the recipe gives.
    doubtful : bool
        Whether its photo was read with warnings.
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
    whole: Recipe | None = None
    counted: bool = True
    portions: Mapping[str, str] = field(default_factory=dict)
    in_all: InAll | None = None
    likely_value: float | None = None
    doubtful: bool = False

    @property
    def parts(self) -> dict[str, str]:
        """Tube -> small whole parts, or ``"touch"``."""
        return parts_said(self.whole) if self.whole else {}

    @property
    def to_mix(self) -> str:
        """The small whole parts if the recipe is not written in such, and the portions if an amount is wanted."""
        parts = format_recipe(self.whole) if self.whole and not self.counted else ""
        measured = portion_words(self.portions, self.in_all) if self.in_all and self.portions else ""
        return f"{parts}: {measured}" if parts and measured else parts or measured

    def for_amount(self, in_all: InAll) -> Option:
        """Return the same mixture with what each tube comes to for an amount of it."""
        return replace(self, portions=portions(self.whole, in_all), in_all=in_all) if self.whole else self


IN_DOUBT: Final = "burnt out, in a shadow, or much like the ground"
"""What makes a colour too doubtful for a plan (`SPOILT`)."""


@dataclass(frozen=True, eq=False)
class Pool:
    """Everything recorded that a plan may use.

    Attributes
    ----------
    options : tuple of Option
    without_recipe : int
        Swatches that could not be used because their recipe is missing or incomplete.
    doubtful : int
        Swatches with a recipe whose colour is too doubtful: burnt out, in shadow, or nearly the ground's colour.
    earlier : int
        Swatches that a later reading of the same painted card shows again, dry where they were wet: that one counts.
    hue : str
        The family of hue that the painter asks for (see `hue_family`); empty for the largest of the recorded ones.
    """

    options: tuple[Option, ...]
    without_recipe: int
    doubtful: int = 0
    earlier: int = 0
    hue: str = ""


def gather_options(cards: Sequence[Card], tubes: TubeList, allowed: Sequence[str] = (), hue: str = "") -> Pool:
    """Return the recorded mixtures of some cards.

    Parameters
    ----------
    cards : sequence of Card
    tubes : TubeList
    allowed : sequence of str
        Only mixtures of these tubes; by default of any.
    hue : str
        The family of hue that a run shall keep to, or ``"any"``; by default the largest recorded one.

    Raises
    ------
    UsageError
        If there is no such family.
    """
    hue = check_hue(hue)
    collected = collect(cards, tubes)
    samples = collected.samples
    options = []
    note_of = {f"{card.name} {swatch.id}": card.note for card in cards for swatch in card.note.swatches}
    notes = [note_of[name] for name in samples.names]
    last = _last_readings(notes, collected)
    for row in np.flatnonzero(last):
        used = tuple(samples.tubes[i] for i in np.flatnonzero(samples.used[row]))
        if not allowed or set(allowed).issuperset(used):
            option = _recorded_option(collected, int(row), used)
            options.append(replace(option, doubtful=bool(notes[row].warnings)))
    every = [swatch for card in cards for swatch in card.note.swatches]
    doubtful = sum(bool(plain(s.recipe)) and not SPOILT.isdisjoint(s.flags) for s in every)
    without = len(every) - len(collected.samples) - doubtful
    return Pool(tuple(options), without, doubtful, int(np.count_nonzero(~last)), hue)


def _last_readings(notes: Sequence[Note], collected: Collected) -> npt.NDArray[np.bool_]:
    """Tell which samples, each with its note, are the last reading of their paint.

    The photos of one card have the same recipes.
    """
    painting = collected.samples.painting
    day = [date_key(note) for note in notes]
    newest: dict[tuple[int, str], tuple[str, str]] = {}
    keys = list(zip(painting.tolist(), collected.recipes, strict=True))
    for key, moment in zip(keys, day, strict=True):
        newest[key] = max(moment, newest.get(key, moment))
    return np.array([moment == newest[key] for key, moment in zip(keys, day, strict=True)], dtype=bool)


def predicted_option(proposal: Proposal) -> Option:
    """Return a proposed recipe as an option; its uncertainty is taken to be the same in every direction."""
    de00 = proposal.uncertainty_de00
    return Option(
        kind="predicted",
        name="",
        recipe=format_recipe(proposal.recipe),
        tubes=proposal.recipe.tubes,
        lab=proposal.lab,
        de00=de00,
        chalky=False,
        whole=proposal.recipe,
        **_derived(proposal.lab, np.full(3, de00)),
    )


def with_likely_values(options: Sequence[Option], palette: FittedPalette) -> tuple[Option, ...]:
    """Return recorded options with their likely values, if the palette has a model."""
    if palette.model is None:
        return tuple(options)
    samples = palette.collected.samples
    value = dict(zip(samples.names, value_of_lab(likely_lab(palette.model, samples)).tolist(), strict=True))
    return tuple(replace(option, likely_value=value.get(option.name)) for option in options)


def _recorded_option(collected: Collected, row: int, tubes: tuple[str, ...]) -> Option:
    swatch = collected.swatches[row]
    lab, u = np.array(swatch.lab), swatch.uncertainty
    recipe = recorded_recipe(collected, row)
    return Option(
        kind="recorded",
        name=collected.samples.names[row],
        recipe=collected.recipes[row],
        tubes=tubes,
        lab=lab,
        de00=u.de00,
        chalky="chalky" in swatch.flags,
        whole=in_whole_parts(recipe),
        counted=is_counted(recipe),
        **_derived(lab, np.array([u.L, u.a, u.b])),
    )


def _derived(lab: Floats, sd: Floats) -> dict[str, Any]:
    """Return value and warmth with their standard uncertainties, from those of L*, a*, b*."""
    covariance = np.diag(sd**2)
    return {
        "value": float(value_of_lab(lab)),
        "warmth": float(warmth(lab)),
        "value_sd": VALUE_PER_LIGHTNESS * float(sd[0]),
        "warmth_sd": float(warmth_uncertainty(lab[None], covariance[None])[0]),
    }
