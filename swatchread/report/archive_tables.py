"""What the archive answers, as tables for the terminal."""

from __future__ import annotations

from collections.abc import Sequence

from rich.console import Group, RenderableType
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from swatchread.archive.results import CardLine, CardView, Found
from swatchread.note.phrases import CARE, plain
from swatchread.report.contact_sheet import NO_RECIPE, percent
from swatchread.report.narrow_tables import Fitting
from swatchread.report.note_table import note_table


def cards_table(cards: Sequence[CardLine]) -> RenderableType:
    """Lay out the archive's cards, one line a card."""
    table = _table(("card", "title", "sitter", "date", "medium", "swatches", "readings"), {0, 5, 6})
    for card in cards:
        title = plain(card.title) or plain(card.photo)
        words = (title, plain(card.sitter), plain(card.date), plain(card.medium))
        table.add_row(*map(Text, (str(card.card), *words, str(card.swatches), str(card.readings))))
    return table


def card_view(view: CardView) -> RenderableType:
    """Lay out one card: its note, and its other readings if there are any."""
    parts: list[RenderableType] = [note_table(view.note)]
    if len(view.readings) > 1:
        lines = [f"  {r.tool_version}  made {r.made}{'  (searched)' if r.newest else ''}" for r in view.readings]
        parts += [Text(), Text("Readings", style="bold"), *map(Text, lines)]
    return Group(*parts)


def found_table(found: Sequence[Found]) -> RenderableType:
    """Lay out found swatches, nearest first if a colour was asked for."""
    if not found:
        return Text("No swatch answers that.")
    near = found[0].de00 is not None
    parts: list[RenderableType] = [_fitting(found, near=near)]
    if near:
        parts.append(Text("alike: how probable it is that the eye could not tell them apart", style="dim"))
    parts += [Text(), *_origins(found)]
    if any(plain(one.recipe) for one in found):
        parts.append(Text(CARE))
    return Group(*parts)


def _fitting(found: Sequence[Found], *, near: bool) -> Fitting:
    heads = ("card", "swatch", *(("ΔE00", "alike") if near else ()), "value", "", "Munsell", "warmth", "")
    numbers = frozenset({0, 2, 3, 4} if near else {0, 2})
    name, munsell, warmth = range(len(heads) - 4, len(heads) - 1)
    spare = (frozenset({munsell}), frozenset({munsell, warmth}), frozenset({name, munsell, warmth}))
    return Fitting(heads, [_cells(one) for one in found], numbers, frozenset({1}), spare)


def _cells(one: Found) -> tuple[str, ...]:
    distance = (f"{one.de00:.1f}", percent(one.same)) if one.de00 is not None else ()
    facts = (f"{one.value:.1f}", plain(one.value_name), plain(one.munsell), one.temperature, one.relative)
    return str(one.card), one.swatch, *distance, *facts


def _origins(found: Sequence[Found]) -> list[RenderableType]:
    """Say of each card what it is, once, and below it each recipe once, with the swatches that it made."""
    cards: dict[str, dict[str, list[str]]] = {}
    for one in found:
        about = ", ".join(plain(part) for part in (one.title, one.sitter, one.date) if plain(part)) or plain(one.photo)
        recipes = cards.setdefault(f"card {one.card}: {about}", {})
        recipes.setdefault(plain(one.recipe) or NO_RECIPE, []).append(one.swatch)
    lines: list[RenderableType] = []
    for card, recipes in cards.items():
        told = (f"{', '.join(swatches)}: {recipe}" for recipe, swatches in recipes.items())
        lines += [Text(card), *(Padding(Text(line), (0, 0, 0, 2)) for line in told)]
    return lines


def _table(heads: Sequence[str], right: set[int]) -> Table:
    table = Table(box=None, pad_edge=False, padding=(0, 1, 0, 0), header_style="underline")
    for place, name in enumerate(heads):
        # Numbers never fold: a broken number is a wrong number.
        keep = place in right or name in {"swatch", "date"}
        table.add_column(name, justify="right" if place in right else "left", no_wrap=keep)
    return table
