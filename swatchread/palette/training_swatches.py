"""From notes to samples: which swatches can teach the model, and which tube each word of a recipe means."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from fractions import Fraction

import numpy as np

from swatchread.note.flags import SPOILT
from swatchread.note.model import Note, Swatch
from swatchread.note.phrases import plain
from swatchread.palette.same_painting import painting_of
from swatchread.palette.training_samples import Samples
from swatchread.recipes.amounts import Amount
from swatchread.recipes.recipe import Ingredient, Recipe, format_recipe, parse_recipe
from swatchread.recipes.tubes import TubeList

_UNREADABLE = frozenset({"ratio", "too_long", "percentages"})
_LEAST_OWN = 0.3
"""CIELAB; a reading of paint is never surer than this."""


@dataclass(frozen=True)
class Card:
    """One card: how to call it, and its note."""

    name: str
    note: Note


@dataclass(frozen=True, eq=False)
class Collected:
    """What the cards hold.

    Attributes
    ----------
    samples : Samples
    swatches : tuple of Swatch
        As their notes have them, one for each sample.
    recipes : tuple of str
        Written plainly, one for each sample.
    readings : mapping of str to str
        Words of the recipes that name no tube by themselves -> the tube that they are taken for.
    left_out : tuple of (str, str)
        Swatch and reason; swatches without a recipe are not mentioned.
    """

    samples: Samples
    swatches: tuple[Swatch, ...]
    recipes: tuple[str, ...]
    readings: Mapping[str, str]
    left_out: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class _Entry:
    name: str
    card: int
    painting: int
    swatch: Swatch
    recipe: Recipe


def collect(cards: Iterable[Card], tubes: TubeList) -> Collected:
    """Gather the swatches of some cards that have a usable recipe.

    Parameters
    ----------
    cards : iterable of Card
    tubes : TubeList
        What recipes are understood with.

    Returns
    -------
    Collected
        Its samples may be empty.
    """
    entries: list[_Entry] = []
    left_out: list[tuple[str, str]] = []
    listed = list(cards)
    painting = painting_of([card.note for card in listed])
    for number, card in enumerate(listed):
        for swatch in card.note.swatches:
            if not plain(swatch.recipe):
                continue
            entry = _Entry(
                f"{card.name} {swatch.id}", number, painting[number], swatch, parse_recipe(swatch.recipe, tubes)
            )
            reason = _unusable(entry)
            if reason:
                left_out.append((entry.name, reason))
            else:
                entries.append(entry)
    readings = _readings(entries)
    kept: list[_Entry] = []
    for entry in entries:
        open_words = [i.name for i in entry.recipe.ingredients if meaning(i, readings) is None]
        if open_words:
            left_out.append((entry.name, f"“{plain(open_words[0])}” may be one of several tubes"))
        else:
            kept.append(entry)
    return Collected(
        samples=_samples(kept, readings),
        swatches=tuple(entry.swatch for entry in kept),
        recipes=tuple(format_recipe(entry.recipe) for entry in kept),
        readings=readings,
        left_out=tuple(left_out),
    )


def meaning(ingredient: Ingredient, readings: Mapping[str, str]) -> str | None:
    """Return the tube that an ingredient means, or None if that is open.

    A word that the list of tubes does not know stands for a tube of its own.
    """
    if ingredient.tube is not None:
        return ingredient.tube
    if ingredient.possible:
        return readings.get(ingredient.name.casefold())
    return ingredient.name.casefold()


def _unusable(entry: _Entry) -> str:
    recipe = entry.recipe
    spoilt = sorted(SPOILT.intersection(entry.swatch.flags))
    if spoilt:
        return f"its reading is flagged {spoilt[0]}"
    doubts = [doubt for doubt in recipe.doubts if doubt.code in _UNREADABLE]
    if doubts:
        return plain(doubts[0].message)
    if any(i.parts is Amount.UNSAID for i in recipe.ingredients):
        return "an amount is not said"
    told = [i.parts for i in recipe.ingredients if isinstance(i.parts, Fraction)]
    return "" if sum(told) > 0 else "nothing but touches"


def _readings(entries: list[_Entry]) -> dict[str, str]:
    """Settle words such as "white": the one fitting tube that this painter names elsewhere, or the bare word.

    Where no fitting tube is named anywhere, the word itself is this painter's name for a tube; where several are,
    it stays open.
    """
    named = Counter(i.tube for e in entries for i in e.recipe.ingredients if i.tube is not None)
    readings = {}
    for entry in entries:
        for ingredient in entry.recipe.ingredients:
            if ingredient.tube is None and ingredient.possible:
                word = ingredient.name.casefold()
                fitting = [name for name in ingredient.possible if name in named]
                if len(fitting) <= 1:
                    readings[word] = fitting[0] if fitting else word
    return readings


def _samples(entries: list[_Entry], readings: Mapping[str, str]) -> Samples:
    names = [[meaning(i, readings) or i.name for i in e.recipe.ingredients] for e in entries]
    tubes = tuple(dict.fromkeys(name for row in names for name in row))
    amounts, touches = np.zeros((len(entries), len(tubes))), np.zeros((len(entries), len(tubes)), dtype=bool)
    for row, (entry, called) in enumerate(zip(entries, names, strict=True)):
        for ingredient, name in zip(entry.recipe.ingredients, called, strict=True):
            if isinstance(ingredient.parts, Fraction):
                amounts[row, tubes.index(name)] += float(ingredient.parts)
            else:
                touches[row, tubes.index(name)] = True
    touches &= amounts == 0.0
    swatches = [entry.swatch for entry in entries]
    sd = np.array([(s.uncertainty.L, s.uncertainty.a, s.uncertainty.b) for s in swatches]).reshape(-1, 3)
    own = np.array([_own_share(s) for s in swatches]).reshape(-1, 1)
    _, card = np.unique(np.array([e.card for e in entries], dtype=np.intp), return_inverse=True)
    return Samples(
        tubes=tubes,
        amounts=amounts,
        touches=touches,
        lab=np.array([s.lab for s in swatches], dtype=np.float64).reshape(-1, 3),
        own_sd=np.maximum(sd * own, _LEAST_OWN),
        shared_sd=sd * np.sqrt(1.0 - own**2),
        card=card.astype(np.intp),
        painting=np.array([e.painting for e in entries], dtype=np.intp),
        names=tuple(e.name for e in entries),
    )


def _own_share(swatch: Swatch) -> float:
    """Return which share of a swatch's standard uncertainty is its own; half if the note does not say."""
    u = swatch.uncertainty
    if u.de00 <= 0.0 or u.own_de00 <= 0.0:
        return 0.5
    return min(1.0, u.own_de00 / u.de00)
