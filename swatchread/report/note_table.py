"""A note as a table for the terminal: 80 columns are enough for all, and nothing is said by colour alone."""

from __future__ import annotations

from collections import defaultdict

from rich.console import Console, Group, RenderableType
from rich.padding import Padding
from rich.text import Text

from swatchread.note.model import Note, Swatch
from swatchread.note.phrases import CARE, against, flag_words, fused_from, has_recipe, heading, minus, plain, signed
from swatchread.report.narrow_tables import Fitting

_COLUMNS = ("", "value", "", "Munsell", "L*", "a*", "b*", "±", "warmth", "", "")
_NUMBERS = frozenset({1, 4, 5, 6, 7, 8})
_ID = frozenset({0})
_SPARE = (frozenset({4, 5, 6}), frozenset({3, 4, 5, 6}), frozenset({3, 4, 5, 6, 8, 9}))
"""L*, a* and b*; Munsell, too; warmth, too, but for what it is beside the card's own run."""


def note_table(note: Note, *, recipes: bool = True) -> RenderableType:
    """Lay a note out for a rich console.

    Parameters
    ----------
    note : Note
    recipes : bool
        Whether to list the recipes below the table.

    Returns
    -------
    rich renderable
        The card's name, the table, then the doubts in words, the recipes and the warnings.
    """
    parts: list[RenderableType] = [
        Text(heading(note), style="bold"),
        Text(),
        Fitting(_COLUMNS, [_cells(swatch) for swatch in note.swatches], _NUMBERS, _ID, _SPARE),
        _reference(note),
    ]
    parts += _doubts(note)
    if recipes and has_recipe(note):
        parts += _recipes(note)
    parts += _warnings(note)
    return Group(*parts)


def print_note(note: Note, console: Console | None = None) -> None:
    """Print a note's table.

    Parameters
    ----------
    note : Note
    console : rich.console.Console, optional
        By default standard output.
    """
    (console or Console(highlight=False)).print(note_table(note))


def _cells(swatch: Swatch) -> tuple[str, ...]:
    t = swatch.temperature
    return (
        swatch.id,
        f"{swatch.value:.1f}",
        plain(swatch.value_name),
        plain(swatch.munsell),
        *(minus(x) for x in swatch.lab),
        f"{swatch.uncertainty.de00:.1f}",
        signed(t.warmth),
        t.name,
        t.relative,
    )


def _reference(note: Note) -> Text:
    names = sorted({against(swatch.temperature) for swatch in note.swatches})
    return Text(
        f"CIELAB for D50, 2°. ± is one standard uncertainty, in ΔE00. "
        f"Warmer, even, cooler: beside {', '.join(names)}."
        + (f" Fused from {fused_from(note)}." if note.photos else ""),
        style="dim",
    )


def _doubts(note: Note) -> list[RenderableType]:
    said: dict[str, list[str]] = defaultdict(list)
    for swatch in note.swatches:
        for words in flag_words(swatch):
            said[words].append(swatch.id)
        if swatch.lean != "none":
            said[f"leans {swatch.lean}"].append(swatch.id)
    lines = [(", ".join(ids), words) for words, ids in said.items()]
    return _block("Remarks", lines) if lines else []


def _recipes(note: Note) -> list[RenderableType]:
    lines = [(s.id, plain(s.recipe)) for s in note.swatches if plain(s.recipe)]
    return [*_block("Recipes", lines), Text(CARE)]


def _warnings(note: Note) -> list[RenderableType]:
    lines = [("", f"{plain(w.message)}. {plain(w.remedy)}.") for w in note.warnings]
    return _block("Know before you mix", lines) if lines else []


def _block(title: str, lines: list[tuple[str, str]]) -> list[RenderableType]:
    shown = [Padding(Text(f"{name}: {line}" if name else line), (0, 0, 0, 2)) for name, line in lines]
    return [Text(), Text(title, style="bold"), *shown]
