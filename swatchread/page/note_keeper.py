"""The painter's texts (recipes, card information): how they are understood, and how a note takes and keeps them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

from swatchread.errors import NoteError, UsageError
from swatchread.note.model import CardInfo, Note, load_note
from swatchread.note.safe_files import write_text
from swatchread.recipes.recipe import format_recipe, parse_recipe
from swatchread.recipes.tubes import TubeList
from swatchread.report.note_exports import SUFFIXES, export_note

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
    """

    recipes: Mapping[str, str] = field(default_factory=dict)
    card: Mapping[str, str] = field(default_factory=dict)


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
    """

    plain: str
    doubts: tuple[str, ...]
    cautions: tuple[str, ...]


def tell_recipe(text: str, tubes: TubeList) -> Understood:
    """Return how a recipe is understood."""
    recipe = parse_recipe(text, tubes)
    doubts = tuple(doubt.message for doubt in recipe.doubts)
    return Understood(format_recipe(recipe), doubts, tubes.cautions(recipe.tubes))


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
        """Put texts into the note; save it and the files beside it that repeat them.

        Each file is replaced as a whole, and the note is written last.

        Returns
        -------
        Note

        Raises
        ------
        NoteError
            If another program changed the file meanwhile, or the note has no such swatch.
        UsageError
            If a text is too long.
        OutputError
            If a file cannot be written. The note is unchanged then.
        """
        return self.replace(put_words(self.note, words))

    def replace(self, note: Note) -> Note:
        """Put a note in the place of the one in the file; see `save`."""
        if load_note(self.path) != self.note:
            raise NoteError(
                f"{self.path.name} was changed by something else meanwhile",
                "saving would lose that change",
                "Copy what you wrote, close the page and fill the note in again",
            )
        for kind, path in self._companions().items():
            write_text(path, export_note(note, kind, path.parent))
        note.save(self.path)
        self.note = note
        return note

    def _companions(self) -> dict[str, Path]:
        """Return the files beside the note that were made from it, by their format."""
        stem = self.path.name.removesuffix(".json")
        if stem == self.path.name:
            return {}
        files = {kind: self.path.with_name(stem + suffix) for kind, suffix in SUFFIXES.items()}
        return {kind: path for kind, path in files.items() if path.is_file()}
