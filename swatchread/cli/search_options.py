"""The options of `archive find`, and the question that they make."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from math import ceil
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Final, Literal

import typer

from swatchread.cli.shared_options import COLOUR

if TYPE_CHECKING:
    from swatchread.archive.conditions import Query
    from swatchread.archive.results import Found
    from swatchread.archive.store import Archive

NearText = Annotated[str | None, typer.Option(metavar="COLOUR", help=f"Near a colour: {COLOUR}")]
Within = Annotated[
    float | None, typer.Option(metavar="ΔE00", help="How far from that colour at most, in ΔE00. [default: 5]")
]
Alike = Annotated[float, typer.Option(metavar="ΔE00", help="Closer than this, two colours count as alike.")]
Value = Annotated[str | None, typer.Option(metavar="LOW-HIGH", help="Munsell value, e.g. 3-5, or by name: dark.")]
Munsell = Annotated[str | None, typer.Option(metavar="NOTATION", help="E.g. 5YR 6/4, 5YR, YR 6, N.")]
Temperature = Annotated[Literal["warm", "neutral", "cool"] | None, typer.Option(help="How warm it is by itself.")]
Relative = Annotated[
    Literal["warmer", "even", "cooler"] | None,
    typer.Option(help="How warm it is beside the other swatches of its card at that value."),
]
Lean = Annotated[
    Literal["none", "red", "yellow", "green", "blue"] | None,
    typer.Option(help="Which way it differs from the other swatches of its card."),
]
Sitter = Annotated[str | None, typer.Option(metavar="NAME", help="Whose card.")]
Medium = Annotated[str | None, typer.Option(metavar="WORDS", help="Part of the medium's name.")]
Since = Annotated[
    str | None, typer.Option(metavar="DATE", help="The first day, year first: 2024, 2024-05, 2024-05-31.")
]
Until = Annotated[
    str | None, typer.Option(metavar="DATE", help="The last day, that day included; written the same way.")
]
Tubes = Annotated[
    list[str] | None, typer.Option("--tube", metavar="TUBE", help="Mixed with this tube; may be repeated.")
]
NoTubes = Annotated[
    list[str] | None, typer.Option("--without", metavar="TUBE", help="Mixed without this tube; may be repeated.")
]
Words = Annotated[
    list[str] | None,
    typer.Option("--text", metavar="WORDS", help="Words in the recipe or on the card; may be repeated."),
]
Every = Annotated[bool, typer.Option("--every-reading", help="Search older readings, too.")]
Limit = Annotated[int, typer.Option(metavar="N", help="How many to show; 0 for all.", min=0)]
Into = Annotated[
    Path | None,
    typer.Option(
        metavar="FILE", help="Write them to a file: a page to print (.html), a table (.csv) or CGATS text (.txt)."
    ),
]


NEAR_REACH: Final = 5.0
"""CIEDE2000 up to which --near takes a colour for near: about half a step of value (choice)."""

Options = Mapping[str, Any]
"""The options of `archive find` as they were typed, under the names of its parameters."""

_NO_CONDITION = frozenset({"archive", "alike", "limit", "kind", "into", "as_json"})
"""Names of those that say how to answer, and not what is wanted."""


def query_of(options: Options, archive: Archive) -> Query:
    """Return the question as the archive takes it.

    Raises
    ------
    UsageError
        If some part makes no sense.
    """
    from swatchread.archive.colour_reference import read_near
    from swatchread.archive.conditions import Query
    from swatchread.archive.question_words import munsell_range
    from swatchread.errors import UsageError

    if options["near"] is None and options["within"] is not None:
        raise UsageError("--within needs --near", "", "Name the colour with --near")
    within = NEAR_REACH if options["within"] is None else options["within"]
    return Query(
        near=read_near(options["near"], archive, within, options["alike"]) if options["near"] else None,
        value=_range(options["value"]) if options["value"] else None,
        munsell=munsell_range(options["munsell"]) if options["munsell"] else None,
        temperature=options["temperature"],
        relative=options["relative"],
        lean=options["lean"],
        sitter=options["sitter"],
        medium=options["medium"],
        days=_days(options["since"], options["until"]),
        with_tubes=tuple(options["tube"] or ()),
        without_tubes=tuple(options["without"] or ()),
        text=tuple(options["text"] or ()),
        every_reading=options["every_reading"],
        limit=options["limit"] or None,
    )


EMPTY: Final = "The archive {} is empty. Read cards into it: `swatchread read FOLDER --archive`."

_TOLD: Final = {
    "near": "near {words}",
    "within": "within ΔE00 {words}",
    "temperature": "{words}",
    "relative": "{words} beside the run of its card",
    "lean": "leaning {words}",
    "tube": "with {words}",
    "text": "with the words {words}",
    "every_reading": "older readings, too",
}
"""Option -> how a sheet words it; others go by their own name."""


def in_words(options: Options) -> str:
    """Return the question in words, in one line."""
    parts = []
    for name, given in options.items():
        if given not in (None, [], False) and name not in _NO_CONDITION:
            words = " and ".join(given) if isinstance(given, list) else "" if given is True else str(given)
            parts.append(_TOLD.get(name, "{name} {words}").format(name=name.replace("_", " "), words=words).strip())
    return ", ".join(parts) or "everything"


@dataclass(frozen=True)
class Answer:
    """What the archive answers.

    Attributes
    ----------
    found : tuple of Found
        Dark to light.
    total : int
        How many answer the question, those included that the limit cut off.
    nearest : Found or None
        Near a colour: the nearest of all, be it within reach or not.
    empty : str
        The archive's address if there is nothing in it.
    """

    found: tuple[Found, ...]
    total: int
    nearest: Found | None = None
    empty: str = ""

    @property
    def more(self) -> bool:
        """Whether the limit cut off others."""
        return self.total > len(self.found)


def answer(archive: Archive, query: Query) -> Answer:
    """Ask the archive; of swatches near a colour, the limit keeps the nearest."""
    found = archive.find(query if query.limit is None else replace(query, limit=query.limit + 1))
    kept = found[: query.limit]
    nearest = kept[:1]
    if query.near and not found:
        nearest = archive.find(replace(query, near=replace(query.near, radius=None), limit=1))
    return Answer(
        tuple(sorted(kept, key=lambda one: one.value)),
        len(found if len(found) == len(kept) else archive.find(replace(query, limit=None))),
        nearest[0] if query.near and nearest else None,
        archive.address if not found and not archive.cards() else "",
    )


def remarks(options: Options, told: Answer) -> list[str]:
    """Return what the painter should know about the answer: doubtful tubes in the question, and what it leaves out.

    A painter's own tubes are not in the list of tubes. So a tube in --tube is doubtful only if nothing was found, and
    a tube in --without only if its name is so close to one in the list that mixtures of that one may be among the
    answers.
    """
    from swatchread.note.phrases import plain
    from swatchread.page.note_keeper import tell_recipe
    from swatchread.recipes.tubes import load_tubes

    tubes = load_tubes()
    without = options["without"] or []
    unknown = [word for word in (*(options["tube"] or ()), *without) if not tubes.match(word).names]
    doubts = [(word, doubt) for word in unknown for doubt in tell_recipe(word, tubes).doubts]
    lines = [doubt for word, doubt in doubts if ("meant" in doubt if word in without else not told.found)]
    if told.empty:
        lines.append(EMPTY.format(plain(told.empty)))
    if told.more:
        which = "nearest" if told.nearest else "first"
        lines.append(f"Showing the {which} {len(told.found)} of {told.total}. --limit 0 shows all.")
    if told.nearest and not told.found:
        near, de00 = told.nearest, told.nearest.de00 or 0.0
        lines.append(
            f"The nearest is card {near.card}, {near.swatch}, at ΔE00 {de00:.1f}: --within {ceil(de00)} shows it."
        )
    return lines


def _range(text: str) -> tuple[float, float]:
    from swatchread.colour.painter_terms import VALUE_NAMES, span_of_name
    from swatchread.errors import UsageError

    low, _, high = text.replace("–", "-").replace("..", "-").partition("-")
    remedy = f"Write it like 3-5, or by name: {', '.join(VALUE_NAMES)}"
    try:
        spans = [span_of_name(word) or (float(word), float(word)) for word in (low, high or low)]
    except ValueError as error:
        raise UsageError(f"{text!r} is not a range of values", "", remedy) from error
    first, last = spans[0][0], spans[1][1]
    if not 0.0 <= first <= last <= 10.0:
        raise UsageError(f"{text!r} is not a range of values", "values run from 0 to 10", remedy)
    return (first - 0.5, last + 0.5) if first == last and not high else (first, last)


def _days(since: str | None, until: str | None) -> tuple[int, int] | None:
    if since is None and until is None:
        return None
    from swatchread.archive.question_words import parse_day_range

    first = parse_day_range(since)[0] if since else 0
    return first, parse_day_range(until)[1] if until else 99991231
