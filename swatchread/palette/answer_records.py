"""The records in which questions about mixtures are answered, and the same as plain facts for a table and for JSON.

All colours are CIELAB for illuminant D50 and the 1931 2 degree observer.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from typing import Any

from swatchread.colour.cielab import Floats, value_of_lab
from swatchread.colour.munsell import munsell_notation
from swatchread.colour.painter_terms import value_name
from swatchread.palette.fitted_palette import KnownTube

Facts = dict[str, Any]
Lab = tuple[float, float, float]

_DIGITS = 2
"""Decimals in facts: a hundredth of a unit of CIELAB or of Munsell value is below any reading's uncertainty."""


@dataclass(frozen=True)
class Colour:
    """A colour in numbers and in a painter's terms: CIELAB, Munsell notation, Munsell value and that value's name."""

    lab: Lab
    munsell: str
    value: float
    value_name: str


@dataclass(frozen=True)
class Uncertainty:
    """Standard uncertainties of L*, a*, b*, and the one-sigma CIEDE2000."""

    L: float
    a: float
    b: float
    de00: float


@dataclass(frozen=True)
class PredictedColour(Colour):
    """A colour that the model predicts, with its standard uncertainty."""

    uncertainty: Uncertainty


@dataclass(frozen=True)
class NearestByColour:
    """A recorded swatch, and its CIEDE2000 from the colour wanted."""

    swatch: str
    recipe: str
    colour: Colour
    de00: float


@dataclass(frozen=True)
class NearestByRecipe:
    """A recorded swatch, and by how much its shares differ from the recipe's: 0 the same, 2 nothing in common."""

    swatch: str
    recipe: str
    colour: Colour
    share_difference: float


@dataclass(frozen=True)
class WantedColour:
    """The colour that a question is about; its recipe is empty if not known."""

    name: str
    colour: Colour
    uncertainty_de00: float
    recipe: str


@dataclass(frozen=True)
class ProposedRecipe:
    """A recipe for a colour.

    Attributes
    ----------
    recipe : str
    parts : mapping of str to str
        Tube -> parts, or ``"touch"``.
    portions : mapping of str to str
        Tube -> what it comes to for the amount that was asked for, as ``"11.5 ml"``; empty if none was.
    to_mix : str
        The portions in words, in the order of the recipe; empty if there are none.
    swatch : str
        The recorded swatch that was painted by this recipe; empty if none was.
    colour : Colour
        What it is predicted to be.
    de00 : float
        CIEDE2000 of that from the colour wanted.
    uncertainty_de00 : float
        One-sigma CIEDE2000 of the prediction, the painter's dosing included.
    expected_de00 : float
        Both together.
    """

    recipe: str
    parts: Mapping[str, str]
    portions: Mapping[str, str]
    to_mix: str
    swatch: str
    colour: Colour
    de00: float
    uncertainty_de00: float
    expected_de00: float


@dataclass(frozen=True)
class AddedTube:
    """One tube to put into a mixture.

    Attributes
    ----------
    tube : str
    parts : int or str
        Parts of the tube, or ``"dot"``.
    of_mixture : int
        Parts of the mixture, as it was at the start, that they are added to.
    colour : Colour
        What the mixture is predicted to be then.
    de00 : float
        CIEDE2000 of that from the colour wanted.
    """

    tube: str
    parts: int | str
    of_mixture: int
    colour: Colour
    de00: float


@dataclass(frozen=True)
class Trust:
    """How far the model was off on cards left out, in CIEDE2000.

    Attributes
    ----------
    swatches, cards : int
        What the figures rest on.
    median_de00, two_thirds_de00, nine_tenths_de00 : float
        Half, 68 % and 90 % of the predictions were nearer than this.
    nearest_recorded_median_de00 : float
        Median error of taking the nearest recorded mixture instead.
    words : str
        The same in a sentence.
    """

    swatches: int
    cards: int
    median_de00: float
    two_thirds_de00: float
    nine_tenths_de00: float
    nearest_recorded_median_de00: float
    words: str


@dataclass(frozen=True, kw_only=True)
class Answer:
    """What every answer says.

    Attributes
    ----------
    method : str
        ``"model"``, or ``"nearest recorded"`` where the cards do not support a model.
    left_out_cards : Trust or None
        How far the model was off on cards left out; None without a model's figures.
    missing : tuple of str
        What is missing for a prediction.
    known_tubes : tuple of KnownTube
    conditions : mapping of str to str
        What CIELAB refers to.
    care : tuple of str
        Care that the paints ask for.
    """

    method: str
    left_out_cards: Trust | None
    missing: tuple[str, ...]
    known_tubes: tuple[KnownTube, ...]
    care: tuple[str, ...]
    conditions: Mapping[str, str] = field(default_factory=lambda: {"illuminant": "D50", "observer": "2 degree"})


@dataclass(frozen=True, kw_only=True)
class Prediction(Answer):
    """What a recipe gives.

    Attributes
    ----------
    recipe : str
        As it was understood.
    readings : mapping of str to str
        Words of the recipe -> the tubes that they were taken for.
    colour : PredictedColour or None
        None if the cards do not support a prediction.
    nearest : tuple of NearestByRecipe
    """

    recipe: str
    readings: Mapping[str, str]
    colour: PredictedColour | None
    nearest: tuple[NearestByRecipe, ...]


@dataclass(frozen=True, kw_only=True)
class Matches(Answer):
    """Recipes for a colour.

    Attributes
    ----------
    target : WantedColour
    tubes : tuple of str
        Those that were allowed.
    recipes : tuple of ProposedRecipe
        The best first, recorded ones among them.
    nearest : tuple of NearestByColour
    nearer_as_painted : str
        The recorded swatch that was read nearer than any recipe can be expected to come; empty if none was. Its own
        recipe is no surer to give that colour again than the first one is.
    """

    target: WantedColour
    tubes: tuple[str, ...]
    recipes: tuple[ProposedRecipe, ...]
    nearest: tuple[NearestByColour, ...]
    nearer_as_painted: str = ""


@dataclass(frozen=True, kw_only=True)
class Correction(Answer):
    """What to add to a mixture.

    Attributes
    ----------
    start, target : WantedColour
        The mixture as it is, and the colour it should have.
    de00 : float
        CIEDE2000 between the two.
    words : str
        The difference and the advice in a painter's words.
    additions : tuple of AddedTube
        In the order in which to make them; empty if nothing helps or nothing is needed.
    uncertainty_de00 : float or None
        One-sigma CIEDE2000 of the last predicted colour; None without a model.
    nearest : tuple of NearestByColour
        Recorded mixtures nearest to the colour wanted.
    afresh : ProposedRecipe or None
        The recipe to mix instead, where that is better than adding; None otherwise.
    """

    start: WantedColour
    target: WantedColour
    de00: float
    words: str
    additions: tuple[AddedTube, ...]
    uncertainty_de00: float | None
    nearest: tuple[NearestByColour, ...]
    afresh: ProposedRecipe | None = None


def colour_of(lab: Floats) -> Colour:
    """Return CIELAB values, shape (3,), in numbers and in a painter's terms."""
    value = float(value_of_lab(lab))
    L, a, b = (float(number) for number in lab)
    return Colour((L, a, b), munsell_notation(lab)[0], value, value_name(value))


def as_facts(answer: Answer) -> Facts:
    """Return an answer as JSON can hold it: numbers rounded, and the terms of each colour beside what has it."""
    facts: Facts = asdict(answer, dict_factory=_rounded_record)
    if isinstance(answer, Correction):
        facts |= {"from": facts.pop("start"), "to": facts.pop("target")}
    return facts


def _rounded_record(fields: list[tuple[str, Any]]) -> Facts:
    facts: Facts = {}
    for name, value in fields:
        if name == "colour":
            facts |= value or {}
        else:
            facts[name] = _rounded(value)
    return facts


def _rounded(value: Any) -> Any:
    if isinstance(value, tuple):
        return [_rounded(item) for item in value]
    return round(value, _DIGITS) + 0.0 if isinstance(value, float) else value
