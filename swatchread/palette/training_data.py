"""From notes to training data: which swatches can teach the model, and which tube each word of a recipe means."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

import numpy as np
import numpy.typing as npt

from swatchread.colour.cielab import Floats
from swatchread.comparison.same_card import painting_of
from swatchread.note.flags_and_warnings import SPOILT, SWATCH_FLAGS
from swatchread.note.model import Note, Swatch
from swatchread.note.phrases import plain
from swatchread.recipes.amounts import Amount
from swatchread.recipes.recipe import Ingredient, Recipe, format_recipe, parse_recipe
from swatchread.recipes.tubes import TubeList, tokens

_UNREADABLE = frozenset({"ratio", "too_long", "percentages", "measures", "refers", "nested"})
"""Doubts about a recipe after which its amounts cannot be trusted."""
_LEAST_OWN_SD = 0.3
"""CIELAB units; no reading of paint is surer than this (assumed)."""
_UNSAID_OWN_SHARE = 0.5
"""Share of a reading's uncertainty that is its own, where the note does not say (assumed)."""


@dataclass(frozen=True)
class Card:
    """One card: how to call it, and its note."""

    name: str
    note: Note


@dataclass(frozen=True, eq=False)
class Samples:
    """Recorded mixtures as the numbers that a fit works on.

    Attributes
    ----------
    tubes : tuple of str, length t
    amounts : ndarray, shape (n, t)
        Counted parts; 0 where a tube is not used, and for a touch.
    touches : ndarray of bool, shape (n, t)
    lab : ndarray, shape (n, 3)
        CIELAB, D50, 2 degree.
    own_sd, shared_sd : ndarray, shape (n, 3)
        Standard uncertainty of each reading: its own part, and the part it shares with the rest of its card.
    card : ndarray of int, shape (n,)
        Which photo it comes from, numbered from 0.
    painting : ndarray of int, shape (n,)
        Which painted card it is; all photos of one painted card have the same number.
    names : tuple of str, length n
        How to call each swatch.
    kinds : tuple of str, length t
        The listed tube that each tube is, where the painter has another word for it; empty if no word differs.
    """

    tubes: tuple[str, ...]
    amounts: Floats
    touches: npt.NDArray[np.bool_]
    lab: Floats
    own_sd: Floats
    shared_sd: Floats
    card: npt.NDArray[np.intp]
    painting: npt.NDArray[np.intp]
    names: tuple[str, ...]
    kinds: tuple[str, ...] = ()

    def __len__(self) -> int:
        """Return the number of swatches."""
        return len(self.lab)

    @property
    def used(self) -> npt.NDArray[np.bool_]:
        """Which tubes are in each mixture, as parts or as a touch, shape (n, t)."""
        return (self.amounts > 0) | self.touches

    def with_touch(self, share: float) -> Floats:
        """Return amounts that sum to 1 in each row; a touch is `share` of the counted parts."""
        return shares_of(self.amounts, self.touches, share)

    def take(self, which: npt.NDArray[np.intp]) -> Samples:
        """Return some of the swatches, in the order given."""
        of_each = ("amounts", "touches", "lab", "own_sd", "shared_sd", "painting")
        taken = {name: getattr(self, name)[which] for name in of_each}
        _, card = np.unique(self.card[which], return_inverse=True)
        return replace(self, **taken, card=card, names=tuple(self.names[i] for i in which))


@dataclass(frozen=True, eq=False)
class Collected:
    """What the cards hold.

    Attributes
    ----------
    samples : Samples
    swatches : tuple of Swatch
        The notes' swatches, one for each sample.
    recipes : tuple of str
        Written plainly, one for each sample.
    written_order : tuple of tuple of str
        The tubes of each sample, in the order in which its recipe names them.
    readings : mapping of str to str
        Words of the recipes that name no tube by themselves -> the tube that they are taken for.
    left_out : tuple of (str, str)
        Swatch and reason; swatches without a recipe are not mentioned.
    """

    samples: Samples
    swatches: tuple[Swatch, ...]
    recipes: tuple[str, ...]
    written_order: tuple[tuple[str, ...], ...]
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
    for entry in _entries(list(cards), tubes):
        reason = _why_unusable(entry)
        if reason:
            left_out.append((entry.name, reason))
        else:
            entries.append(entry)
    readings = _readings(entries)
    once = _unknown_words_once(entries)
    kept: list[_Entry] = []
    for entry in entries:
        ambiguous = [i.name for i in entry.recipe.ingredients if meaning(i, readings) is None]
        unknown = [i.name for i in entry.recipe.ingredients if i.tube is None and i.name.casefold() in once]
        if ambiguous:
            why = f"“{plain(ambiguous[0])}” may be one of several tubes: `swatchread tubes` asks which"
            left_out.append((entry.name, why))
        elif unknown:
            why = f"“{plain(unknown[0])}” stands here alone: `swatchread tubes` asks whether it is a tube"
            left_out.append((entry.name, why))
        else:
            kept.append(entry)
    return Collected(
        samples=_samples(kept, readings, tubes),
        swatches=tuple(entry.swatch for entry in kept),
        recipes=tuple(format_recipe(entry.recipe) for entry in kept),
        written_order=tuple(_tubes_in_order(entry.recipe, readings) for entry in kept),
        readings=readings,
        left_out=tuple(left_out),
    )


def _tubes_in_order(recipe: Recipe, readings: Mapping[str, str]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(tube for i in recipe.ingredients if (tube := meaning(i, readings)) is not None))


def meaning(ingredient: Ingredient, readings: Mapping[str, str]) -> str | None:
    """Return the tube that an ingredient means, or None if several are possible.

    A word that the list of tubes does not know stands for a tube of its own.
    """
    if ingredient.tube is not None:
        return ingredient.tube
    if ingredient.possible:
        return readings.get(ingredient.name.casefold())
    return ingredient.name.casefold()


def amounts_of(
    recipes: Sequence[Sequence[Ingredient]], names: Sequence[Sequence[str]], tubes: tuple[str, ...]
) -> tuple[Floats, npt.NDArray[np.bool_]]:
    """Return the counted parts of each tube in some recipes, and where it is only a touch; shape (n, t) each.

    Parameters
    ----------
    recipes : sequence of sequence of Ingredient
    names : sequence of sequence of str
        The tube that each ingredient means.
    tubes : tuple of str
        Columns of the result.
    """
    amounts, touches = np.zeros((len(recipes), len(tubes))), np.zeros((len(recipes), len(tubes)), dtype=bool)
    for row, (ingredients, called) in enumerate(zip(recipes, names, strict=True)):
        for ingredient, name in zip(ingredients, called, strict=True):
            if isinstance(ingredient.parts, Fraction):
                amounts[row, tubes.index(name)] += float(ingredient.parts)
            else:
                touches[row, tubes.index(name)] = True
    return amounts, touches & (amounts == 0.0)


def shares_of(amounts: Floats, touches: npt.NDArray[np.bool_], share: float) -> Floats:
    """Return shape (n, t): amounts that sum to 1 in each row; a touch is `share` of the counted parts."""
    full = amounts + share * touches * amounts.sum(axis=1, keepdims=True)
    shares: Floats = full / full.sum(axis=1, keepdims=True)
    return shares


def _entries(cards: list[Card], tubes: TubeList) -> Iterable[_Entry]:
    paintings = painting_of([card.note for card in cards])
    for number, (card, painting) in enumerate(zip(cards, paintings, strict=True)):
        for swatch in card.note.swatches:
            if plain(swatch.recipe):
                recipe = parse_recipe(swatch.recipe, tubes)
                yield _Entry(f"{card.name} {swatch.id}", number, painting, swatch, recipe)


def _why_unusable(entry: _Entry) -> str:
    recipe = entry.recipe
    spoilt = sorted(SPOILT.intersection(entry.swatch.flags))
    if spoilt:
        return f"its colour is in doubt: {SWATCH_FLAGS[spoilt[0]]}"
    doubts = [doubt for doubt in recipe.doubts if doubt.code in _UNREADABLE]
    if doubts:
        return plain(doubts[0].message)
    if any(i.parts is Amount.UNSAID for i in recipe.ingredients):
        return "an amount is not said"
    counted = [i.parts for i in recipe.ingredients if isinstance(i.parts, Fraction)]
    return "" if sum(counted) > 0 else "nothing but touches"


def _readings(entries: list[_Entry]) -> dict[str, str]:
    """Decide what words such as "white" mean.

    If the painter names exactly one fitting tube in other recipes, it is that tube; but words such as "red oxide" are a
    name by themselves, and stay open beside "transparent red oxide". If no fitting tube is named anywhere, the word
    itself is this painter's name for a tube. If several are named, it stays open.
    """
    named = Counter(i.tube for e in entries for i in e.recipe.ingredients if i.tube is not None)
    readings = {}
    for entry in entries:
        for ingredient in entry.recipe.ingredients:
            if ingredient.tube is None and ingredient.possible:
                word = ingredient.name.casefold()
                fitting = [name for name in ingredient.possible if name in named]
                if not fitting or (len(fitting) == 1 and len(tokens(word)) == 1):
                    readings[word] = fitting[0] if fitting else word
    return readings


def _unknown_words_once(entries: list[_Entry]) -> frozenset[str]:
    """Return the unknown words beside one swatch only: `open_questions` asks whether they are tubes at all."""
    words = Counter(
        word
        for entry in entries
        for word in {i.name.casefold() for i in entry.recipe.ingredients if i.tube is None and not i.possible}
    )
    return frozenset(word for word, count in words.items() if count == 1)


def _samples(entries: list[_Entry], readings: Mapping[str, str], listed: TubeList) -> Samples:
    names = [[meaning(i, readings) or i.name for i in e.recipe.ingredients] for e in entries]
    tubes = tuple(dict.fromkeys(name for row in names for name in row))
    amounts, touches = amounts_of([e.recipe.ingredients for e in entries], names, tubes)
    swatches = [entry.swatch for entry in entries]
    sd = np.array([(s.uncertainty.L, s.uncertainty.a, s.uncertainty.b) for s in swatches]).reshape(-1, 3)
    own = np.array([_own_share(s) for s in swatches]).reshape(-1, 1)
    _, card = np.unique([e.card for e in entries], return_inverse=True)
    return Samples(
        tubes=tubes,
        amounts=amounts,
        touches=touches,
        lab=np.array([s.lab for s in swatches], dtype=np.float64).reshape(-1, 3),
        own_sd=np.maximum(sd * own, _LEAST_OWN_SD),
        shared_sd=sd * np.sqrt(1.0 - own**2),
        card=card,
        painting=np.array([e.painting for e in entries], dtype=np.intp),
        names=tuple(e.name for e in entries),
        kinds=tuple(listed.kind_of(tube) for tube in tubes),
    )


def _own_share(swatch: Swatch) -> float:
    u = swatch.uncertainty
    return min(1.0, u.own_de00 / u.de00) if u.de00 > 0.0 and u.own_de00 > 0.0 else _UNSAID_OWN_SHARE
