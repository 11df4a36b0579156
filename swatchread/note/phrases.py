"""Phrases that tables, pages and maps share, so that a fact is worded the same everywhere."""

from __future__ import annotations

import unicodedata
from collections.abc import Sequence
from typing import TYPE_CHECKING, Final

from swatchread.note.flags_and_warnings import SWATCH_FLAGS

if TYPE_CHECKING:
    from swatchread.note.flags_and_warnings import Warn
    from swatchread.note.model import Ground, Note, Swatch, Temperature

CARE: Final = (
    "Take care: keep pigment dust and solvent off the skin and out of the lungs, never sand or spray, "
    "follow the label, the safety data sheet and local rules."
)
"""Shown with every recipe: some pigments (cadmium, lead, cobalt) and solvents are harmful."""

NEVER_PAINTED: Final = "never painted"
"""Said of a mixture that is calculated from others."""

_LIGHT_PAPER, _CREAM, _BUFF = 70.0, 6.0, 30.0
"""L* from which a ground is a light paper; b* from which it is not white any more, and from which it is a colour of its
own (assumed: new white papers stay below 4)."""

_LIGHT_NOT_SHOWN = (
    "Nothing in the photo but the card itself shows that it lies in the chart's light, and ± holds that. "
    "Lay both on one plain sheet."
)

_LINE_BREAKS = frozenset("\n\r\v\f\t\u0085\u2028\u2029")
# Direction marks can make a recipe look like another one. Joiners are kept, because some scripts need them.
_DIRECTION = frozenset("\u061c\u200e\u200f\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069\ufeff")
# Control characters could send commands to a terminal; lone surrogates cannot be written as UTF-8.
_HIDDEN = frozenset({"Cc", "Cs"})


def plain(text: str) -> str:
    """Return one line of text without control and direction characters.

    Parameters
    ----------
    text : str
        Text from a file, which is not trusted.

    Returns
    -------
    str
    """
    if text.isprintable():  # as most texts are
        return text.strip()
    spaced = "".join(" " if letter in _LINE_BREAKS else letter for letter in text)
    shown = (c for c in spaced if c not in _DIRECTION and unicodedata.category(c) not in _HIDDEN)
    return "".join(shown).strip()


def signed(number: float, digits: int = 2) -> str:
    """Write a number with its sign, a true minus, and no sign on a zero."""
    text = f"{number:+.{digits}f}"
    return text[1:] if float(text) == 0 else text.replace("-", "−")


def minus(number: float, digits: int = 1) -> str:
    """Write a number with a true minus where it is negative, and no minus on a zero."""
    text = f"{number:.{digits}f}"
    return text.lstrip("-") if float(text) == 0 else text.replace("-", "−")


def against(temperature: Temperature) -> str:
    """Return what a swatch's warmth is compared with: the run, the ground or another swatch."""
    named = {"run": "the run", "ground": "the ground"}
    return named.get(temperature.against, plain(temperature.against))


def relative(temperature: Temperature) -> str:
    """Return how a swatch's warmth compares with its reference, for instance 'warmer than the run'."""
    link = "with" if temperature.relative == "even" else "than"
    return f"{temperature.relative} {link} {against(temperature)}"


def flag_words(swatch: Swatch) -> list[str]:
    """Return a sentence for each flag of a swatch; an unknown flag is returned as it is."""
    return [SWATCH_FLAGS.get(flag, plain(flag)) for flag in swatch.flags]


def swatches(number: int) -> str:
    """Count swatches: "1 swatch", "3 swatches"."""
    return f"{number} swatch{'' if number == 1 else 'es'}"


def first_of(names: Sequence[str], most: int) -> str:
    """Name things, of many only the first, and say how many more there are: "a, b and 3 more"."""
    more = len(names) - most
    return ", ".join(names[:most]) + (f" and {more} more" if more > 0 else "")


def heading(note: Note) -> str:
    """Return the card's title, or the name of its photo (and the number of other photos) if it has none."""
    used = [photo.file for photo in note.photos if not photo.left_out] or [note.photo.file]
    name = plain(used[0]) or "Colour note"
    if note.card.letter:
        name += f", card {note.card.letter}"
    return plain(note.card_info.title) or (f"{name} and {len(used) - 1} more" if len(used) > 1 else name)


def ground_words(ground: Ground) -> str:
    """Say of a light ground that it is no white: it was cream, or has yellowed with age; empty for any other ground."""
    lightness, a, b = ground.lab
    yellowed = lightness > _LIGHT_PAPER and _CREAM < b < _BUFF and abs(a) < b
    return "cream, or yellowed with age: no white" if yellowed else ""


def fused_from(note: Note) -> str:
    """Return the names of the photos that a note was fused from, with those left out; empty for a single photo."""
    used = [plain(photo.file) for photo in note.photos if not photo.left_out]
    out = [plain(photo.file) for photo in note.photos if photo.left_out]
    return ", ".join(used) + (f" (left out: {', '.join(out)})" if out else "")


def reference_words(note: Note) -> str:
    """Say what the numbers of a note refer to."""
    names = sorted({against(swatch.temperature) for swatch in note.swatches})
    words = ground_words(note.card.ground)
    return (
        "CIELAB for D50, 2°. ± is one standard uncertainty, in ΔE00. "
        f"Warmer, even, cooler: compared with {', '.join(names)}."
        + (f" The ground is {words}." if words else "")
        + (f" Made from {fused_from(note)}." if note.photos else "")
    )


def warning_words(warning: Warn) -> str:
    """Return a warning in two sentences: what is so, and what to do."""
    return f"{plain(warning.message)}. {plain(warning.remedy)}."


def know_before_mixing(note: Note) -> list[str]:
    """Return what a painter should know before mixing by a note: its warnings, and what the photo does not show."""
    told = [warning_words(warning) for warning in note.warnings]
    return told if note.card.light_shown else [*told, _LIGHT_NOT_SHOWN]


def has_recipe(note: Note) -> bool:
    """Tell whether any swatch has a recipe, so that `CARE` has to be shown."""
    return any(plain(swatch.recipe) for swatch in note.swatches)
