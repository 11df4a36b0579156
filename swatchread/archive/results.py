"""The records that the archive returns."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from swatchread.note.model import Note

Outcome = Literal["new card", "new reading", "words taken", "unchanged", "left alone"]


@dataclass(frozen=True, slots=True)
class Added:
    """What happened to a note that was added to the archive.

    Parameters
    ----------
    outcome : str
        ``new card``; ``new reading`` (of a known card by another version of the tool); ``words taken`` (the archive
        has the reading, and took over recipes or card information); ``unchanged``; ``left alone`` (the archive has the
        reading with other measurements, and keeps those).
    card : int
        The card's number.
    message : str
        For the painter; empty if the outcome says everything.
    """

    outcome: Outcome
    card: int
    message: str = ""


@dataclass(frozen=True, slots=True)
class CardLine:
    """One card in a list, as its newest reading describes it; `doubtful` if that has warnings."""

    card: int
    title: str
    sitter: str
    date: str
    medium: str
    photo: str
    swatches: int
    readings: int
    tool_version: str
    doubtful: bool = False


@dataclass(frozen=True, slots=True)
class ReadingLine:
    """One reading in a card's list; `newest` is the one that is searched."""

    tool_version: str
    made: str
    newest: bool


@dataclass(frozen=True, slots=True)
class CardView:
    """A card with one of its notes.

    Parameters
    ----------
    edition : int
        Counts the changes of the note. Whoever saves it names the edition that was opened, so that no other change is
        lost.
    """

    card: int
    note: Note
    readings: tuple[ReadingLine, ...]
    edition: int


@dataclass(frozen=True, slots=True)
class Found:
    """One swatch that was found.

    Parameters
    ----------
    lab : (L, a, b)
        CIELAB, D50, 2 degree.
    uncertainty_de00 : float
        One-sigma CIEDE2000.
    de00 : float or None
        CIEDE2000 from the colour in the question; None without one.
    same : float or None
        Probability that it is that colour to the eye (`swatchread.archive.search`); None without one.
    writing : str
        Path of the cropped handwriting, or empty.
    doubtful : bool
        Whether its photo was read with warnings.
    """

    card: int
    tool_version: str
    swatch: str
    lab: tuple[float, float, float]
    uncertainty_de00: float
    munsell: str
    value: float
    value_name: str
    temperature: str
    relative: str
    lean: str
    recipe: str
    title: str
    sitter: str
    date: str
    medium: str
    photo: str
    writing: str
    de00: float | None = None
    same: float | None = None
    doubtful: bool = False


@dataclass(frozen=True, slots=True)
class Fault:
    """Something wrong in the archive."""

    card: int | None
    message: str
