"""Notes and what the archive finds, as tables for the terminal; nothing is said by colour alone."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Final

from rich.cells import cell_len
from rich.console import Console, ConsoleOptions, Group, RenderableType, RenderResult
from rich.padding import Padding
from rich.segment import Segment
from rich.table import Table
from rich.text import Text

from swatchread.archive.results import CardLine, CardView, Found
from swatchread.colour.screen import hex_colours
from swatchread.note.model import Note, Swatch
from swatchread.note.phrases import (
    flag_words,
    has_recipe,
    heading,
    know_before_mixing,
    minus,
    plain,
    reference_words,
    signed,
)
from swatchread.recipes.tubes import TubeList
from swatchread.report.cautions import cautions_of
from swatchread.report.sheets import NO_RECIPE, percent

DOUBTFUL: Final = "* read with doubts: `swatchread note show CARD` tells why, and what to do."
LEFT_OUT: Final = "A wider window shows more columns."
_NONE: Final[frozenset[int]] = frozenset()


@dataclass(frozen=True)
class Lines:
    """Plain lines; those that are wider than the window are folded, the others pass as they are, which is quick.

    Parameters
    ----------
    lines : iterable of str
    indent : int
        Spaces before each.
    """

    lines: Iterable[str]
    indent: int = 0

    def __rich_console__(self, _console: Console, options: ConsoleOptions) -> RenderResult:
        """Draw the lines, for rich."""
        for line in self.lines:
            if cell_len(line) + self.indent <= options.max_width:
                yield Segment(" " * self.indent + line)
                yield Segment.line()
            else:
                yield Padding(Text(line), (0, 0, 0, self.indent))


@dataclass(frozen=True)
class ConsoleTable:
    """A table that leaves whole columns out, until it fits the window, because a cell cut off misleads.

    Parameters
    ----------
    heads : sequence of str
        Heads of the columns. A column without a head belongs to the one before it, and takes that column's head where
        that column is left out.
    rows : sequence of sequence of str or rich.text.Text
    numbers : set of int
        Columns of numbers: they are aligned right and never fold, because a broken number is a wrong number.
    whole : set of int
        Other columns that never fold.
    spare : sequence of set of int
        Which columns to leave out, tried in turn: each set replaces the one before it.
    blocks : set of int
        Columns that show a colour and nothing else.
    """

    heads: Sequence[str]
    rows: Sequence[Sequence[str | Text]]
    numbers: frozenset[int] = _NONE
    whole: frozenset[int] = _NONE
    spare: Sequence[frozenset[int]] = ()
    blocks: frozenset[int] = _NONE

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        """Draw the table, for rich."""
        # With fewer colours than millions a block would show another colour than the paint.
        blocks = frozenset() if console.color_system == "truecolor" else self.blocks
        for spared in (_NONE, *self.spare):
            left_out = spared | blocks
            kept = [place for place in range(len(self.heads)) if place not in left_out]
            if sum(self._least_width(place) for place in kept) + len(kept) - 1 <= options.max_width:
                break
        heads = [self._head(place, left_out) for place in kept]
        columns = [[head, *(row[place] for row in self.rows)] for head, place in zip(heads, kept, strict=True)]
        # Rich measures and folds cell by cell, which takes it milliseconds a row.
        widths = [max(cell_len(str(cell)) for cell in column) for column in columns]
        if sum(widths) + len(widths) - 1 <= options.max_width and all(
            isinstance(c, str) for col in columns for c in col
        ):
            first, *others = self._in_columns(kept, columns, widths)
            yield Segment(first, console.get_style("underline"))
            yield Segment.line()
            yield Lines(others)
        else:
            yield self._folded(kept, heads)
        if spared:
            yield Text(LEFT_OUT, style="dim")

    def _in_columns(
        self, kept: Sequence[int], columns: Sequence[Sequence[str | Text]], widths: Sequence[int]
    ) -> Iterator[str]:
        for row in zip(*columns, strict=True):
            cells = []
            for place, cell, width in zip(kept, map(str, row), widths, strict=True):
                gap = " " * (width - cell_len(cell))
                cells.append(gap + cell if place in self.numbers else cell + gap)
            yield " ".join(cells)

    def _folded(self, kept: Sequence[int], heads: Sequence[str]) -> Table:
        table = Table(box=None, pad_edge=False, padding=(0, 1, 0, 0), header_style="underline")
        for place, head in zip(kept, heads, strict=True):
            right = place in self.numbers
            folds = not (right or place in self.whole)
            table.add_column(head, justify="right" if right else "left", no_wrap=not folds)
        for row in self.rows:
            table.add_row(*(_as_text(row[place]) for place in kept))
        return table

    def _least_width(self, place: int) -> int:
        """Return how wide a column is at its narrowest: its longest word where it folds."""
        cells = [self.heads[place], *(str(row[place]) for row in self.rows)]
        folds = place not in self.numbers | self.whole
        return max(cell_len(part) for cell in cells for part in (cell.split() or [""] if folds else [cell]))

    def _head(self, place: int, left_out: frozenset[int]) -> str:
        owner = next((at for at in range(place, -1, -1) if self.heads[at]), place)
        return self.heads[owner] if owner == place or owner in left_out else ""


def block(title: str, lines: Iterable[str]) -> list[RenderableType]:
    """Return an empty line, a title and lines set in below it; nothing if there are no lines."""
    shown = list(lines)
    return [Text(), Text(title, style="bold"), Lines(shown, 2)] if shown else []


def note_table(note: Note, tubes: TubeList | None = None) -> RenderableType:
    """Lay a note out for a rich console.

    Parameters
    ----------
    note : Note
    tubes : TubeList, optional
        Under the painter's words for them; cautions depend on them.

    Returns
    -------
    rich renderable
        The card's name, the table, then the doubts in words, the recipes and the warnings. 80 columns are enough.
    """
    heads = ("", "", "value", "", "Munsell", "L*", "a*", "b*", "±", "warmth", "", "")
    colour, munsell, warmth = {5, 6, 7}, {4}, {9, 10}
    blocks = colour_blocks([swatch.lab for swatch in note.swatches])
    table = ConsoleTable(
        heads,
        [_note_row(swatch, block) for swatch, block in zip(note.swatches, blocks, strict=True)],
        numbers=frozenset({2, 5, 6, 7, 8, 9}),
        whole=frozenset({0, 1, 3, 4, 10, 11}),
        spare=[frozenset(colour), frozenset(colour | munsell), frozenset(colour | munsell | warmth)],
        blocks=frozenset({1}),
    )
    parts: list[RenderableType] = [Text(heading(note), style="bold"), Text(), table, _reference(note)]
    parts += block("Remarks", _remarks(note))
    if has_recipe(note):
        parts += block("Recipes", (f"{s.id}: {plain(s.recipe)}" for s in note.swatches if plain(s.recipe)))
        parts += map(Text, cautions_of((swatch.recipe for swatch in note.swatches), tubes))
    parts += block("Know before you mix", know_before_mixing(note))
    return Group(*parts)


def cards_table(cards: Sequence[CardLine]) -> RenderableType:
    """Lay out the archive's cards, one line a card; a star marks those that were read with warnings."""
    blank = " " if any(card.doubtful for card in cards) else ""
    rows = [
        (
            f"{card.card}{'*' if card.doubtful else blank}",
            plain(card.title) or plain(card.photo),
            plain(card.sitter),
            plain(card.date),
            plain(card.medium),
            str(card.swatches),
            str(card.readings),
        )
        for card in cards
    ]
    heads = ("card", "title", "sitter", "date", "medium", "swatches", "readings")
    spare = [frozenset({6}), frozenset({5, 6}), frozenset({4, 5, 6})]
    table = ConsoleTable(heads, rows, numbers=frozenset({0, 5, 6}), whole=frozenset({3}), spare=spare)
    return Group(table, Text(DOUBTFUL)) if blank else table


def card_view(view: CardView, tubes: TubeList | None = None) -> RenderableType:
    """Lay out one card: its note, and its other readings if there are any."""
    lines = [f"{r.tool_version}  made {r.made}{'  (searched)' if r.newest else ''}" for r in view.readings]
    return Group(note_table(view.note, tubes), *(block("Readings", lines) if len(lines) > 1 else []))


def found_table(found: Sequence[Found], tubes: TubeList | None = None) -> RenderableType:
    """Lay out found swatches in their order; a star marks those whose photo was read with warnings."""
    if not found:
        return Text("No swatch matches.")
    near = found[0].de00 is not None
    heads = ("card", "swatch", "", *(("ΔE00", "alike") if near else ()), "value", "", "Munsell", "warmth", "")
    name, munsell, warmth, relative = range(len(heads) - 4, len(heads))
    blocks = colour_blocks([one.lab for one in found])
    blank = " " if any(one.doubtful for one in found) else ""
    table = ConsoleTable(
        heads,
        [_found_row(one, block, "*" if one.doubtful else blank) for one, block in zip(found, blocks, strict=True)],
        numbers=frozenset({0, 3, 4, 5} if near else {0, 3}),
        whole=frozenset({1, 2, name, munsell, warmth, relative}),
        blocks=frozenset({2}),
        spare=[frozenset({munsell}), frozenset({munsell, warmth}), frozenset({name, munsell, warmth})],
    )
    parts: list[RenderableType] = [table]
    if any(one.doubtful for one in found):
        parts.append(Text(DOUBTFUL, style="dim"))
    if near:
        parts.append(Text("alike: the probability that the eye cannot tell the two colours apart", style="dim"))
    parts += [Text(), *_origins(found)]
    parts += map(Text, cautions_of((one.recipe for one in found), tubes))
    return Group(*parts)


def _as_text(cell: str | Text) -> Text:
    return Text(cell) if isinstance(cell, str) else cell


def colour_blocks(labs: Sequence[Sequence[float]]) -> list[Text]:
    """Return a block of each colour, as near as the terminal can show it; `ConsoleTable.blocks` names their column."""
    return [Text("   ", style=f"on {code}") for code in hex_colours(labs)[0]]


def _note_row(swatch: Swatch, block: Text) -> tuple[str | Text, ...]:
    t = swatch.temperature
    return (
        swatch.id,
        block,
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
    return Text(reference_words(note), style="dim")


def _remarks(note: Note) -> list[str]:
    """Return each doubt once, after the ids of the swatches that it is about."""
    said: dict[str, list[str]] = defaultdict(list)
    for swatch in note.swatches:
        for words in flag_words(swatch):
            said[words].append(swatch.id)
        if swatch.lean != "none":
            said[f"leans {swatch.lean}"].append(swatch.id)
    return [f"{', '.join(ids)}: {words}" for words, ids in said.items()]


def _found_row(one: Found, block: Text, mark: str) -> tuple[str | Text, ...]:
    distance = (f"{one.de00:.1f}", percent(one.same)) if one.de00 is not None else ()
    facts = (f"{one.value:.1f}", plain(one.value_name), plain(one.munsell), one.temperature, one.relative)
    return f"{one.card}{mark}", one.swatch, block, *distance, *facts


def _origins(found: Sequence[Found]) -> list[RenderableType]:
    """Name each card once, and below it each recipe once, after the swatches that it made."""
    cards: dict[str, dict[str, list[str]]] = {}
    for one in found:
        about = ", ".join(plain(part) for part in (one.title, one.sitter, one.date) if plain(part)) or plain(one.photo)
        recipes = cards.setdefault(f"card {one.card}: {about}", {})
        recipes.setdefault(plain(one.recipe) or NO_RECIPE, []).append(one.swatch)
    lines: list[RenderableType] = []
    for card, recipes in cards.items():
        told = (f"{', '.join(swatches)}: {recipe}" for recipe, swatches in recipes.items())
        lines += [Text(card), Lines(list(told), 2)]
    return lines
