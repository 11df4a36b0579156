"""Questions about mixtures, and their answers as records: the same for a program, for a table and for JSON."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from swatchread.archive.colour_reference import Wanted
from swatchread.colour.cielab import delta_e_2000
from swatchread.errors import UsageError
from swatchread.note.model import Note, Swatch
from swatchread.note.phrases import CARE, swatches
from swatchread.palette.answer_records import (
    Correction,
    Matches,
    PredictedColour,
    Prediction,
    Trust,
    Uncertainty,
    WantedColour,
    colour_of,
)
from swatchread.palette.card_sources import as_palette
from swatchread.palette.fitted_palette import FittedPalette
from swatchread.palette.mixture_model import MixModel
from swatchread.palette.nearest_recorded import nearest_by_colour, nearest_by_recipe
from swatchread.palette.nudge import Nudge, find_nudge
from swatchread.palette.portions import parse_in_all
from swatchread.palette.proposals import find_recipes, nearer_as_painted, proposed
from swatchread.palette.recipe_amounts import Mixture, parse_query, tubes_named
from swatchread.palette.recipe_search import MOST_TUBES, Proposal
from swatchread.palette.wording import VISIBLE, afresh_words, difference_words, nudge_words, trust_words
from swatchread.recipes.recipe import format_recipe

if TYPE_CHECKING:
    from swatchread.archive.store import Archive

    Cards = Archive | Iterable[Note] | FittedPalette

_NEAREST = 3
"""Recorded mixtures that are named beside a prediction or a correction."""


def predict(recipe: str, cards: Cards) -> Prediction:
    """Predict the colour of a recipe.

    Parameters
    ----------
    recipe : str
        In parts, for instance ``"3 white + 1 ochre"``.
    cards : Archive, iterable of Note, or FittedPalette
        Recorded cards with their recipes; or what `swatchread.learn` learnt from them.

    Returns
    -------
    Prediction
        Its `colour` is None if the cards do not support a model; the nearest recorded mixtures are named in any case.

    Raises
    ------
    UsageError
        If the recipe cannot be understood, or names a tube that is on no card.
    NoRecipesError
        If no swatch has a recipe that can be used.

    Examples
    --------
    >>> mixed = swatchread.predict("3 titanium white + 1 yellow ochre", notes)
    >>> mixed.colour.lab, mixed.colour.uncertainty.de00
    """
    palette = as_palette(cards)
    mixture = parse_query(recipe, palette)
    tubes = mixture.recipe.tubes
    lacking = _lacking(palette, tubes)
    colour = _predicted(palette.model, mixture) if palette.model and not lacking else None
    return Prediction(
        recipe=format_recipe(mixture.recipe),
        readings=dict(mixture.readings),
        colour=colour,
        nearest=nearest_by_recipe(palette.collected, mixture.amounts[0], count=_NEAREST),
        **_common(palette, by_model=colour is not None, lacking=lacking, used=tubes),
    )


def match(
    colour: Wanted | Swatch | Sequence[float],
    cards: Cards,
    *,
    tubes: Sequence[str] = (),
    count: int = 5,
    most_tubes: int = MOST_TUBES,
    amount: str = "",
) -> Matches:
    """Find recipes for a colour: small whole parts of few tubes, or what was painted already.

    Parameters
    ----------
    colour : sequence of float, Swatch or Wanted
        L*, a*, b* (D50, 2 degree), or a swatch of a note.
    cards : Archive, iterable of Note, or FittedPalette
        Recorded cards with their recipes; or what `swatchread.learn` learnt from them.
    tubes : sequence of str
        Tubes that may be used; by default all that the cards show well enough.
    count : int
        The most recipes.
    most_tubes : int
        The most tubes in one recipe, 1 to 4.
    amount : str
        How much of the mixture is wanted, as ``"15 ml"``; each recipe then says what every tube comes to.

    Returns
    -------
    Matches
        Its `recipes` are empty if the cards do not support a model; the nearest recorded mixtures are named in any
        case.

    Raises
    ------
    UsageError
        If one of the tubes is on no card, or the amount is none.
    NoRecipesError
        If no swatch has a recipe that can be used.

    Examples
    --------
    >>> found = swatchread.match((60, 15, 20), notes, count=3)
    >>> [(r.recipe, r.expected_de00) for r in found.recipes]
    """
    in_all = parse_in_all(amount)
    palette, target = as_palette(cards), _wanted(colour)
    names = tubes_named(palette, tuple(tubes))
    found = find_recipes(palette, target.lab, names, count=count, most_tubes=most_tubes)
    nearest = nearest_by_colour(palette.collected, target.lab, count=count, tubes=names if tubes else None)
    used = tuple(dict.fromkeys(name for p in found for name in p.recipe.tubes)) or names
    return Matches(
        target=_wanted_colour(target),
        tubes=names,
        recipes=tuple(proposed(p, in_all) for p in found),
        nearest=nearest,
        nearer_as_painted=nearer_as_painted(nearest, found),
        **_common(palette, by_model=bool(found), lacking=_lacking(palette, names) if tubes else (), used=used),
    )


def nudge(
    start: Wanted | Swatch | Sequence[float],
    target: Wanted | Swatch | Sequence[float],
    cards: Cards,
    *,
    tubes: Sequence[str] = (),
) -> Correction:
    """Find what to add to a mixture so that it comes nearer to a colour, in at most two additions.

    Each of them brings it nearer by itself. Where mixing afresh is better, the answer says so.

    Parameters
    ----------
    start, target : sequence of float, Swatch or Wanted
        The mixture as it is and the colour it should have: L*, a*, b* (D50, 2 degree), or a swatch of a note.
    cards : Archive, iterable of Note, or FittedPalette
        Recorded cards with their recipes; or what `swatchread.learn` learnt from them.
    tubes : sequence of str
        Tubes that may be added; by default all that the cards show well enough.

    Returns
    -------
    Correction

    Raises
    ------
    UsageError
        If one of the tubes is on no card.
    NoRecipesError
        If no swatch has a recipe that can be used.

    Examples
    --------
    >>> swatchread.nudge((65, 24, 14), (60, 15, 20), notes).words
    """
    palette, here, goal = as_palette(cards), _wanted(start), _wanted(target)
    names = tubes_named(palette, tuple(tubes))
    allowed = tuple(name for name in names if name in palette.usable)
    de00 = float(delta_e_2000(here.lab, goal.lab))
    clear = max(float(np.hypot(here.uncertainty_de00, goal.uncertainty_de00)), VISIBLE)
    known = _known(palette, here)
    found = find_nudge(palette, here.lab, goal.lab, allowed, known, here.uncertainty_de00) if allowed else None
    additions = found.additions if found and de00 > clear else ()
    afresh = _afresh(palette, goal, names, found) if found and de00 > clear else None
    if found:
        words = nudge_words(here.lab, goal.lab, additions, clear)
        words += afresh_words(afresh, found.expected_de00) if afresh else ""
    else:
        words = difference_words(here.lab, goal.lab, clear) or "no clear difference"
    return Correction(
        start=_wanted_colour(here),
        target=_wanted_colour(goal),
        de00=de00,
        words=words,
        additions=additions,
        uncertainty_de00=found.uncertainty_de00 if found else None,
        nearest=nearest_by_colour(palette.collected, goal.lab, count=_NEAREST),
        afresh=proposed(afresh) if afresh else None,
        **_common(
            palette,
            by_model=found is not None,
            lacking=_lacking(palette, names) if tubes else (),
            used=(*(a.tube for a in additions), *(afresh.recipe.tubes if afresh else ())),
        ),
    )


def _wanted(colour: Wanted | Swatch | Sequence[float]) -> Wanted:
    if isinstance(colour, Wanted):
        return colour
    if isinstance(colour, Swatch):
        return Wanted(colour.id, np.array(colour.lab), colour.uncertainty.de00, colour.recipe)
    L, a, b = (float(number) for number in colour)
    return Wanted(f"{L:g},{a:g},{b:g}", np.array([L, a, b]))


def _afresh(palette: FittedPalette, goal: Wanted, tubes: tuple[str, ...], found: Nudge) -> Proposal | None:
    """Return the recipe to mix afresh, if that comes visibly nearer than the additions or there are none."""
    recipes = find_recipes(palette, goal.lab, tubes, count=1, most_tubes=MOST_TUBES)
    better = [p for p in recipes if p.expected_de00 + VISIBLE < found.expected_de00]
    return better[0] if better else None


def _known(palette: FittedPalette, start: Wanted) -> Mixture | None:
    """Return what a mixture is made of, if its recipe can be understood with the cards at hand."""
    if not start.recipe.strip():
        return None
    try:
        return parse_query(start.recipe, palette)
    except UsageError:
        return None


def _predicted(model: MixModel, mixture: Mixture) -> PredictedColour:
    predicted = model.predict(mixture.amounts, mixture.touches)
    L, a, b = np.sqrt(np.diagonal(predicted.covariance[0])).tolist()
    uncertainty = Uncertainty(L, a, b, float(predicted.de00[0]))
    return PredictedColour(**vars(colour_of(predicted.lab[0])), uncertainty=uncertainty)


def _wanted_colour(wanted: Wanted) -> WantedColour:
    return WantedColour(wanted.name, colour_of(wanted.lab), wanted.uncertainty_de00, wanted.recipe)


def _lacking(palette: FittedPalette, tubes: tuple[str, ...]) -> tuple[str, ...]:
    """Say what to paint of each tube that is too little known."""
    lacking = {known.tube: known for known in palette.tubes if known.missing}
    return tuple(
        f"{t}: only {swatches(lacking[t].swatches)} recorded; {lacking[t].missing}" for t in tubes if t in lacking
    )


def _common(
    palette: FittedPalette, *, by_model: bool, lacking: tuple[str, ...], used: tuple[str, ...]
) -> dict[str, Any]:
    """Return what every answer says beside its own."""
    return {
        "method": "model" if by_model else "nearest recorded",
        "left_out_cards": _trust(palette),
        "missing": (*palette.missing, *lacking),
        "known_tubes": palette.tubes,
        "care": (CARE, *palette.vocabulary.cautions(used)),
    }


def _trust(palette: FittedPalette) -> Trust | None:
    held = palette.held
    if held is None:
        return None
    return Trust(
        swatches=len(held.de00),
        cards=len(np.unique(palette.collected.samples.painting)),
        median_de00=held.median,
        two_thirds_de00=float(np.quantile(held.de00, 0.68)),
        nine_tenths_de00=float(np.quantile(held.de00, 0.9)),
        nearest_recorded_median_de00=held.nearest_de00,
        words=trust_words(palette),
    )
