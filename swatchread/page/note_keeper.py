"""The painter's texts (recipes, card information): how they are understood, and how a note takes and keeps them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

from swatchread.errors import ConflictError, UsageError
from swatchread.note.entered_words import merge_words, same_measurements, words_of
from swatchread.note.model import CardInfo, Note, load_note
from swatchread.note.phrases import plain
from swatchread.note.safe_files import only_writer
from swatchread.recipes.recipe import format_recipe, parse_recipe
from swatchread.recipes.tubes import TubeList
from swatchread.report.note_exports import SUFFIXES
from swatchread.report.note_files import save_with_texts, text_files, texts_behind

MAX_LETTERS = 2000
"""The longest recipe, or line of card information, that is accepted."""

CARD_FIELDS: Final = {
    "title": "title",
    "sitter": "sitter",
    "date": "date",
    "medium": "medium",
    "support": "ground",
    "note": "remarks",
}
"""Field of `CardInfo` -> its name on the page and in tables."""


@dataclass(frozen=True, slots=True)
class Words:
    """Texts for a note.

    Parameters
    ----------
    recipes : mapping of str to str
        Swatch id -> recipe. Other swatches keep theirs.
    card : mapping of str to str
        Key of `CARD_FIELDS` -> text. Other fields keep theirs.
    before : mapping of str to str
        Swatch id or key of `CARD_FIELDS` -> the text that was changed into the new one. What is missing is taken from
        the note as it was opened.
    """

    recipes: Mapping[str, str] = field(default_factory=dict)
    card: Mapping[str, str] = field(default_factory=dict)
    before: Mapping[str, str] = field(default_factory=dict)


def put_words(note: Note, words: Words) -> Note:
    """Return the note with these texts in it.

    Raises
    ------
    NoteError
        If the note has no such swatch.
    UsageError
        If a text is too long or the card has no such field.
    """
    for swatch_id in words.recipes:
        note.swatch(swatch_id)
    for name, text in [*words.recipes.items(), *words.card.items()]:
        if len(text) > MAX_LETTERS:
            raise UsageError(f"The text for {name} is too long", f"{len(text)} characters", f"Keep to {MAX_LETTERS}")
    unknown = set(words.card) - set(CARD_FIELDS)
    if unknown:
        raise UsageError(f"A card has no field {min(unknown)!r}", "", f"Use {', '.join(CARD_FIELDS)}")
    swatches = tuple(
        s.model_copy(update={"recipe": words.recipes[s.id].strip()}) if s.id in words.recipes else s
        for s in note.swatches
    )
    card = {name: text.strip() for name, text in words.card.items()}
    info = CardInfo(**{**note.card_info.model_dump(), **card})
    return note.model_copy(update={"swatches": swatches, "card_info": info})


@dataclass(frozen=True, slots=True)
class Understood:
    """A recipe as it was understood.

    Parameters
    ----------
    plain : str
        The recipe written plainly; empty if there is none.
    doubts : tuple of str
        What it leaves open.
    cautions : tuple of str
        The hazards of its paints.
    ambiguous : bool
        Whether a word in it may mean a tube, but which one the painter has to say.
    """

    plain: str
    doubts: tuple[str, ...]
    cautions: tuple[str, ...]
    ambiguous: bool


def tell_recipe(text: str, tubes: TubeList) -> Understood:
    """Return how a recipe is understood."""
    recipe = parse_recipe(text, tubes)
    doubts = tuple(doubt.message for doubt in recipe.doubts)
    open_names = [doubt.about for doubt in recipe.doubts if doubt.code in {"ambiguous_tube", "unknown_tube"}]
    ambiguous = any(tubes.match(name).names or tubes.like(name) for name in open_names)
    return Understood(format_recipe(recipe), doubts, tubes.cautions(recipe.tubes), ambiguous)


class NoteKeeper:
    """A note file while it is being filled in.

    Parameters
    ----------
    path : pathlib.Path

    Raises
    ------
    NoteError
        If it is not a note.
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        self.note = load_note(path)

    def save(self, words: Words) -> Note:
        """Put texts into the note as it is now; save it and the files beside it that repeat them.

        What another page or program wrote meanwhile stays: other texts are taken over, and a text that both changed is
        a conflict.

        Returns
        -------
        Note

        Raises
        ------
        ConflictError
            If another program changed one of these texts, or read the card anew otherwise. Nothing is saved then.
        NoteError
            If the note has no such swatch, or is none any more.
        UsageError
            If a text is too long.
        OutputError
            If a file cannot be written. The note is unchanged then.
        """
        with only_writer(self.path.parent):
            now = load_note(self.path)
            filled = put_words(now, words)
            self._refuse_conflicts(now, words)
            kinds = [kind for kind, path in text_files(self.path, SUFFIXES).items() if path.is_file()]
            if filled != now or texts_behind(self.path, kinds):
                save_with_texts(self.path, filled, kinds)
        self.note = filled
        return filled

    def replace(self, note: Note) -> Note:
        """Put another reading of the same photo in the place of the note in the file; see `save`."""
        with only_writer(self.path.parent):
            if load_note(self.path).identity != note.identity:
                what = f"{self.path.name} was changed by something else meanwhile"
                raise ConflictError(what, "it belongs to another photo")
            kinds = [kind for kind, path in text_files(self.path, SUFFIXES).items() if path.is_file()]
            save_with_texts(self.path, note, kinds)
        self.note = note
        return note

    def _refuse_conflicts(self, now: Note, words: Words) -> None:
        if now.identity != self.note.identity or not same_measurements(self.note, now):
            what = f"{self.path.name} was changed by something else meanwhile"
            raise ConflictError(what, "the card was read anew, and its swatches are not the same")
        given = {**words.recipes, **words.card}
        mine = words_of(now)
        base = words_of(self.note) | {
            # A browser drops line breaks, and a note the spaces around a text.
            name: mine.get(name, "") if _letters(before) == _letters(mine.get(name, "")) else before
            for name, before in words.before.items()
        }
        conflicts = merge_words(base, mine, given).conflicts
        if conflicts:
            stands = "; ".join(f"{name} now says {plain(mine.get(name, '')) or 'nothing'}" for name in conflicts)
            raise ConflictError(f"{self.path.name} was changed by something else meanwhile", stands)


def _letters(text: str) -> str:
    return "".join(text.split())
