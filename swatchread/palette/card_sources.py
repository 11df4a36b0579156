"""Where cards come from: an archive, note files, or notes at hand."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from swatchread.errors import NoRecipesError
from swatchread.note.model import Note, load_note
from swatchread.note.phrases import heading, plain
from swatchread.palette.fitted_palette import FittedPalette, fit_palette
from swatchread.palette.training_data import Card
from swatchread.recipes.own_tubes import OwnTube, UsedWord, painters_tubes
from swatchread.recipes.recipe import tube_words
from swatchread.recipes.tubes import TubeList, load_tubes

if TYPE_CHECKING:
    from swatchread.archive.store import Archive

_REASONS = 3
"""Recipes that cannot be used of which a refusal tells the reason."""


def learn(cards: Archive | Iterable[Note]) -> FittedPalette:
    """Learn from recorded swatches how a painter's tubes mix.

    The result may be given to `predict`, `match` and `plan` in place of the cards, so that several questions need only
    one fit.

    Parameters
    ----------
    cards : Archive or iterable of Note
        The recorded cards, with their recipes.

    Returns
    -------
    FittedPalette

    Raises
    ------
    NoRecipesError
        If no swatch has a recipe that can be used.
    ArchiveError
        If the archive cannot be read.

    Examples
    --------
    >>> palette = swatchread.learn(notes)
    >>> [known.tube for known in palette.tubes]
    """
    if isinstance(cards, Iterable):
        named = name_cards(cards)
        return require_recipes(fit_palette(named, painters_words(named)))
    return require_recipes(fit_palette(cards_of(cards), cards.tubes.known()))


def as_palette(cards: Archive | Iterable[Note] | FittedPalette) -> FittedPalette:
    """Return what was learnt already, or learn it now from cards; see `learn`."""
    return cards if isinstance(cards, FittedPalette) else learn(cards)


def require_recipes(palette: FittedPalette) -> FittedPalette:
    """Return the palette.

    Raises
    ------
    NoRecipesError
        If no swatch has a recipe that can be used.
    """
    if not len(palette.collected.samples):
        reasons = "; ".join(f"{name}: {why}" for name, why in palette.collected.left_out[:_REASONS])
        raise NoRecipesError("No recorded swatch has a recipe that can be used", reasons)
    return palette


def gather_cards(files: Sequence[Path], address: str | None) -> list[Card]:
    """Return the cards to work from: the archive's, and those of note files.

    Parameters
    ----------
    files : sequence of pathlib.Path
        Note files. If some are named and no archive is, the archive is not opened.
    address : str or None
        Address of the archive; None for the usual one.

    Returns
    -------
    list of Card
        Each photo once. A note file takes the place of the archive's card of the same photo.

    Raises
    ------
    NoteError
        If a file is not a note.
    ArchiveError
        If the archive cannot be read.
    """
    from swatchread.archive.store import Archive

    notes = [load_note(path) for path in files]
    if files and address is None:
        return name_cards(notes)
    given = {note.identity for note in notes}
    with Archive.open(address) as archive:
        archived = [card for card in cards_of(archive) if card.note.identity not in given]
    return archived + name_cards(notes, [card.name for card in archived])


def gather_tubes(cards: Sequence[Card], files: Sequence[Path], address: str | None) -> TubeList:
    """Return the tubes under the painter's own words, from the same places as `gather_cards`.

    Parameters
    ----------
    cards : sequence of Card
        What `gather_cards` returned.
    files, address
        As `gather_cards` takes them.
    """
    from swatchread.archive.store import Archive

    if files and address is None:
        return painters_words(cards)
    with Archive.open(address) as archive:
        return painters_words(cards, archive.tubes.said())


def painters_words(cards: Sequence[Card], said: Sequence[OwnTube] = ()) -> TubeList:
    """Return the tubes under the words that stand on some cards, and that the painter has said."""
    listed = load_tubes()
    words: dict[str, list[int]] = {}
    spelled: dict[str, str] = {}
    for number, card in enumerate(cards):
        for swatch in card.note.swatches:
            for word in tube_words(swatch.recipe, listed):
                words.setdefault(word.casefold(), []).append(number)
                spelled.setdefault(word.casefold(), word)
    used = [UsedWord(spelled[word], len(set(on)), len(on)) for word, on in words.items()]
    return painters_tubes(listed, said, used)


def archived_note(address: str | None, number: int) -> Note:
    """Return the note of an archived card.

    Raises
    ------
    ArchiveError
        If the archive cannot be read, or has no such card.
    """
    from swatchread.archive.store import Archive

    with Archive.open(address) as archive:
        return archive.card(number).note


def cards_of(archive: Archive) -> list[Card]:
    """Return all cards of an open archive, each by its number."""
    return [Card(f"card {number}", note) for number, note in archive.notes().items()]


def name_cards(notes: Iterable[Note], taken: Sequence[str] = ()) -> list[Card]:
    """Give each note a name of its own: its heading, with its photo's file where others have the same heading.

    Parameters
    ----------
    notes : iterable of Note
        Of several notes of one photo the first counts.
    taken : sequence of str
        Names that other cards have.
    """
    different: dict[str, Note] = {}
    for note in notes:
        different.setdefault(note.identity, note)
    titles = Counter(heading(note) for note in different.values())
    used = set(taken)
    cards = []
    for note in different.values():
        name = heading(note)
        if titles[name] > 1 or name in used:
            name = f"{name} ({plain(note.photo.file)})"
        start, number = name, 1
        while name in used:  # photos of one name in two folders
            number += 1
            name = f"{start} {number}"
        used.add(name)
        cards.append(Card(name, note))
    return cards
