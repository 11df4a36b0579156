"""Filling a note in from the terminal, one line a swatch."""

from __future__ import annotations

from collections.abc import Callable

from swatchread.note.model import Note
from swatchread.note.phrases import CARE, plain
from swatchread.page.note_keeper import CARD_FIELDS, Words
from swatchread.page.understood import tell_recipe
from swatchread.recipes.tubes import TubeList

ERASE = "-"

INTRODUCTION = (
    f"Enter keeps what stands in brackets, {ERASE} erases it; Ctrl-D (on Windows Ctrl-Z, then Enter) ends and saves, "
    "Ctrl-C leaves all as it was."
)


def ask_words(note: Note, tubes: TubeList, ask: Callable[[str], str], say: Callable[[str], None]) -> Words:
    """Ask for each recipe and for the card's own words.

    Parameters
    ----------
    note : Note
    tubes : TubeList
    ask : callable
        Takes a prompt, returns a line; raises EOFError to end early.
    say : callable
        Shows a line.

    Returns
    -------
    Words
        Only what was changed.
    """
    recipes: dict[str, str] = {}
    card: dict[str, str] = {}
    say(INTRODUCTION)
    try:
        for swatch in note.swatches:
            answer = ask(_prompt(f"{swatch.id}  value {swatch.value:.1f}  {swatch.munsell}", swatch.recipe)).strip()
            if answer:
                recipes[swatch.id] = "" if answer == ERASE else answer
            _tell(recipes.get(swatch.id, swatch.recipe), tubes, say)
        for name, called in CARD_FIELDS.items():
            answer = ask(_prompt(called, getattr(note.card_info, name))).strip()
            if answer:
                card[name] = "" if answer == ERASE else answer
    except EOFError:
        say("")
    if any(recipes.values()):
        say(CARE)
    return Words(recipes, card)


def _prompt(name: str, present: str) -> str:
    return f"{plain(name)} [{plain(present)}]: " if present else f"{plain(name)}: "


def _tell(recipe: str, tubes: TubeList, say: Callable[[str], None]) -> None:
    told = tell_recipe(recipe, tubes)
    if told.plain:
        say(f"    = {plain(told.plain)}")
    for line in (*told.doubts, *told.cautions):
        say(f"    ! {plain(line)}")
