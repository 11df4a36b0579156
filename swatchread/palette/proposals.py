"""Recipes for a colour: those that the model finds, and those that stand on the painter's own cards."""

from __future__ import annotations

from swatchread.colour.cielab import Floats
from swatchread.palette.answer_records import NearestByColour, ProposedRecipe, colour_of
from swatchread.palette.fitted_palette import FittedPalette
from swatchread.palette.nearest_recorded import recorded_proposals
from swatchread.palette.portions import InAll, parts_said, portion_words, portions
from swatchread.palette.recipe_search import Proposal, search_recipes
from swatchread.recipes.recipe import format_recipe

_PROVEN = 0.1
"""CIEDE2000 by which another recipe of the same tubes must be better than one that was painted already (assumed)."""


def find_recipes(
    palette: FittedPalette, target: Floats, tubes: tuple[str, ...], *, count: int, most_tubes: int
) -> list[Proposal]:
    """Find recipes for a colour, among them what was painted already.

    Parameters
    ----------
    palette : FittedPalette
    target : ndarray, shape (3,)
        CIELAB, D50, 2 degree.
    tubes : tuple of str
        Tubes that may be used.
    count : int
        The most recipes, of different sets of tubes.
    most_tubes : int

    Returns
    -------
    list of Proposal
        The best first; empty without a model.
    """
    usable = tuple(name for name in tubes if name in palette.usable)
    if palette.model is None or not usable:
        return []
    found = search_recipes(palette.model, target, usable, count=count, most_tubes=most_tubes)
    found += recorded_proposals(palette.model, palette.collected, target, usable, most_tubes=most_tubes)
    best: dict[frozenset[str], Proposal] = {}
    for proposal in sorted(found, key=lambda p: p.expected_de00 - _PROVEN * bool(p.swatch)):
        best.setdefault(frozenset(proposal.recipe.tubes), proposal)
    return list(best.values())[:count]


def proposed(proposal: Proposal, in_all: InAll | None = None) -> ProposedRecipe:
    """Return a proposal as a record, with its portions if an amount is wanted."""
    measured = portions(proposal.recipe, in_all)
    return ProposedRecipe(
        recipe=format_recipe(proposal.recipe),
        parts=parts_said(proposal.recipe),
        portions=measured,
        to_mix=portion_words(measured, in_all) if in_all else "",
        swatch=proposal.swatch,
        colour=colour_of(proposal.lab),
        de00=proposal.de00,
        uncertainty_de00=proposal.uncertainty_de00,
        expected_de00=proposal.expected_de00,
    )


def nearer_as_painted(nearest: tuple[NearestByColour, ...], found: list[Proposal]) -> str:
    """Return the recorded swatch that was read nearer than the best recipe can be expected to come; else ""."""
    if not nearest or not found:
        return ""
    first = nearest[0]
    return first.swatch if first.de00 < found[0].expected_de00 else ""
