"""One text of a card, saved by itself: two pages that are open at once never overwrite one another silently."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

from pydantic import Field

from swatchread.errors import ConflictError, NoteError, SwatchreadError
from swatchread.note.entered_words import carried_words, same_measurements
from swatchread.note.model import CardInfo, Note
from swatchread.page.note_keeper import CARD_FIELDS, MAX_LETTERS, NoteKeeper, Words, put_words
from swatchread.page.responses import Sent


class FieldChange(Sent):
    """A text that was typed.

    Attributes
    ----------
    swatch : str or None
        Whose recipe it is; None for a line of card information.
    field : str
        ``recipe``, or a key of `CARD_FIELDS`.
    text : str
    was : str
        What the page last knew it to be.
    """

    swatch: str | None = None
    field: str
    text: Annotated[str, Field(max_length=MAX_LETTERS)]
    was: Annotated[str, Field(max_length=MAX_LETTERS)]


class FieldConflictError(ConflictError):
    """A text was changed elsewhere since the page was opened.

    Parameters
    ----------
    theirs : str
        What it is now.
    """

    def __init__(self, theirs: str) -> None:
        super().__init__(
            "This was changed elsewhere meanwhile", f"it now says “{theirs}”", "Choose which of the two texts stays"
        )
        self.facts = {"theirs": theirs}


def change_field(note: Note, change: FieldChange) -> Note:
    """Return the note with a text that was typed.

    Raises
    ------
    FieldConflictError
        If the text is neither what the page knew nor what it wants.
    NoteError
        If the note has no such swatch.
    UsageError
        If the card has no such field.
    """
    if change.swatch is not None:
        now = note.swatch(change.swatch).recipe
    elif change.field in CardInfo.model_fields and change.field in CARD_FIELDS:
        now = getattr(note.card_info, change.field)
    else:
        raise NoteError(f"A card has no field {change.field!r}", "", f"Use {', '.join(CARD_FIELDS)}")
    if _letters(now) not in {_letters(change.was), _letters(change.text)}:
        raise FieldConflictError(now)
    words = Words(card={change.field: change.text})
    return put_words(note, words if change.swatch is None else Words({change.swatch: change.text}))


def _letters(text: str) -> str:
    """Return a text without its spaces: a browser drops line breaks, and a note the spaces around a text."""
    return "".join(text.split())


def save_beside(path: Path | None, note: Note) -> str:
    """Bring the note file along from which a card was opened.

    Parameters
    ----------
    path : pathlib.Path or None
        None if the card was not opened from a file.
    note : Note
        As the archive has it now.

    Returns
    -------
    str
        For the painter, if the file does not say the same now; else empty.
    """
    if path is None:
        return ""
    try:
        keeper = NoteKeeper(path)
        if keeper.note.identity != note.identity:
            return f"Saved in the archive. {path.name} belongs to another photo by now and was left as it is."
        if same_measurements(keeper.note, note):
            recipes = {swatch.id: swatch.recipe for swatch in note.swatches}
            card = {name: getattr(note.card_info, name) for name in CARD_FIELDS}
            keeper.save(Words(recipes, card))
        else:  # it was corrected: crops of handwriting go along with their swatches
            keeper.replace(carried_words(keeper.note, note).model_copy(update={"card_info": note.card_info}))
    except SwatchreadError as error:
        return f"Saved in the archive, but not in {path.name}: {error}"
    return ""
