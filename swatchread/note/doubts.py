"""What the painter has to look at after photos were read, in the order in which it pays, and how long that takes."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from statistics import fmean
from typing import Final, Literal

from swatchread.note.model import Note
from swatchread.note.phrases import heading, plain, swatches, warning_words

Kind = Literal["unread", "grid", "recipes", "warnings"]

ORDER: Final[tuple[Kind, ...]] = ("unread", "grid", "recipes", "warnings")
"""What comes first: a photo that was not read lacks whole cards, a wrong grid puts recipes on wrong swatches, a missing
recipe makes one swatch useless for mixing, and other warnings only tell what to do better next time."""

ABOUT_THE_GRID: Final = frozenset(
    {"card_cut", "card_corners", "card_turned", "off_grid", "second_card", "marks_left_out"}
)
"""Warnings that ids may stand on wrong swatches, or that swatches are missing."""

_MANY_EMPTY: Final = 0.15
"""Empty places in rows and columns, against the swatches: of 93 simulated cards 11 have more, and one of the five that
were counted wrongly is among them."""

ABOUT_TUBES: Final = "tubes"
"""Key of the doubt about words that may mean several tubes."""

FIRST_SECONDS: Final[Mapping[Kind, float]] = {"unread": 20.0, "grid": 8.0, "recipes": 6.0, "warnings": 6.0}
"""Seconds a decision before the painter's own pace is known; of a card's recipes for each (own estimate)."""

_LONGEST: Final = 120.0
"""Seconds of a decision that count as work at most: whoever takes longer is doing something else (choice)."""

_WEIGHT_OF_FIRST: Final = 3
"""Decisions of the painter's that weigh as much as the first estimate (choice)."""


@dataclass(frozen=True, slots=True)
class Doubt:
    """One thing to decide.

    Attributes
    ----------
    kind : str
        One of `ORDER`.
    key : str
        Tells it from all others: the photo's or the note's identity, and the kind.
    name : str
        The card's title, or the photo's name.
    lines : tuple of str
        What is doubtful, and what to do about it, a sentence each.
    swatches : tuple of str
        The swatches whose recipes are to be given.
    decisions : int
        How many decisions it takes.
    """

    kind: Kind
    key: str
    name: str
    lines: tuple[str, ...]
    swatches: tuple[str, ...] = ()
    decisions: int = 1


def unread_photo(photo: str, name: str, lines: Iterable[str]) -> Doubt:
    """Return the doubt about a photo that was not read.

    Parameters
    ----------
    photo, name : str
        Its identity, and what the painter calls it.
    lines : iterable of str
        What happened, why, and what to do, of an error.
    """
    told = (plain(line) for line in lines if line)
    return Doubt("unread", f"{photo}:unread", plain(name), tuple(f"{line[:1].upper()}{line[1:]}." for line in told))


def words_to_ask(count: int) -> Doubt:
    """Return the doubt about words in recipes that may mean several tubes: each is settled once, for all cards."""
    words, stand = ("a word", "stands") if count == 1 else (f"{count} words", "stand")
    line = f"It is not clear which tube {words} in your recipes {stand} for."
    return Doubt("recipes", ABOUT_TUBES, "Tubes", (line,), decisions=count)


def doubts_of(note: Note) -> tuple[Doubt, ...]:
    """Return what is doubtful about a card and has not been settled, in order.

    Parameters
    ----------
    note : Note
    """
    missing = tuple(swatch.id for swatch in note.swatches if not swatch.recipe.strip())
    lines: dict[Kind, list[str]] = {
        "grid": _about_the_grid(note),
        "recipes": [f"The recipe of {swatches(len(missing))} is missing."] if missing else [],
        "warnings": [warning_words(warning) for warning in note.warnings if warning.code not in ABOUT_THE_GRID],
    }
    return tuple(
        Doubt(kind, f"{note.identity}:{kind}", heading(note), tuple(told), *_asked_for(kind, missing))
        for kind, told in lines.items()
        if told and kind not in note.settled
    )


def in_order(doubts: Iterable[Doubt]) -> list[Doubt]:
    """Return doubts in the order in which it pays to decide them: by kind, and what concerns more swatches first."""
    return sorted(doubts, key=lambda one: (ORDER.index(one.kind), -one.decisions, one.name, one.key))


def settle(note: Note, kind: str) -> Note:
    """Return a note whose doubts of a kind the painter has looked at and settled."""
    return note.model_copy(update={"settled": tuple(sorted({*note.settled, kind}))})


@dataclass(slots=True)
class DoubtRound:
    """One pass over doubts: what was put off comes last, and the painter's own pace says how long the rest takes."""

    _put_off: list[str] = field(default_factory=list, init=False)
    _seconds: dict[Kind, list[float]] = field(default_factory=dict, init=False)

    def ahead(self, doubts: Iterable[Doubt]) -> list[Doubt]:
        """Return doubts in the order in which they come."""
        off = {key: place for place, key in enumerate(self._put_off)}
        return sorted(in_order(doubts), key=lambda one: off.get(one.key, -1))

    def put_off(self, doubt: Doubt) -> None:
        """Let a doubt come again after all others."""
        self._put_off = [*(key for key in self._put_off if key != doubt.key), doubt.key]

    def took(self, doubt: Doubt, seconds: float) -> None:
        """Count what it took to decide a doubt."""
        each = min(max(seconds, 0.0) / doubt.decisions, _LONGEST)
        self._seconds.setdefault(doubt.kind, []).append(each)

    def time_left(self, doubts: Iterable[Doubt]) -> str:
        """Say how long some doubts will take: "about 4 minutes"."""
        minutes = sum(one.decisions * self._each(one.kind) for one in doubts) / 60.0
        if minutes < 1:
            return "less than a minute"
        return f"about {round(minutes)} minute{'' if round(minutes) == 1 else 's'}"

    def _each(self, kind: Kind) -> float:
        return fmean([FIRST_SECONDS[kind]] * _WEIGHT_OF_FIRST + self._seconds.get(kind, []))


def _about_the_grid(note: Note) -> list[str]:
    lines = [warning_words(warning) for warning in note.warnings if warning.code in ABOUT_THE_GRID]
    rows, columns = max(s.row for s in note.swatches), max(s.column for s in note.swatches)
    empty = rows * columns - len(note.swatches)
    if empty > _MANY_EMPTY * len(note.swatches):
        lines.append(f"{empty} of {rows} × {columns} places are empty: swatches may have been missed there.")
    return lines


def _asked_for(kind: Kind, missing: tuple[str, ...]) -> tuple[tuple[str, ...], int]:
    """Return the swatches whose recipes a doubt asks for, and how many decisions it takes."""
    return (missing, len(missing)) if kind == "recipes" else ((), 1)
