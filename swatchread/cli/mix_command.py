"""`swatchread mix`: what a recipe gives, which recipe gives a colour, and what to add to one that is not right."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from swatchread.cli.colour_words import ColourCommand
from swatchread.cli.shared_options import COLOUR, Address, JsonOption

if TYPE_CHECKING:
    from collections.abc import Callable

    from swatchread.archive.colour_reference import Wanted
    from swatchread.palette.answer_records import Answer, Facts
    from swatchread.palette.fitted_palette import FittedPalette

app = typer.Typer(
    name="mix",
    no_args_is_help=True,
    add_completion=False,
    rich_markup_mode=None,
    help="Predict, match and correct mixtures from your own recorded swatches.",
)

NotesOption = Annotated[
    list[Path] | None,
    typer.Option("--notes", metavar="FILE", help="A note file to work from instead; give it once for each note."),
]
TubesOption = Annotated[
    str, typer.Option("--tubes", metavar="LIST", help="Tubes that may be used, with commas. [default: all recorded]")
]

AmountOption = Annotated[
    str, typer.Option("--amount", metavar="AMOUNT", help='How much of a mixture is wanted in all, as "15 ml".')
]


@app.command("predict")
def predict(
    recipe: Annotated[str, typer.Argument(metavar="RECIPE", help='In parts, as "3 white + 1 ochre".')],
    archive: Address = None,
    notes: NotesOption = None,
    as_json: JsonOption = False,
) -> None:
    """Say what colour a recipe gives."""
    from swatchread.palette.answers import predict as answer
    from swatchread.report.console_answers import print_prediction

    _show(answer(recipe, _palette(notes, archive)), print_prediction, as_json=as_json)


@app.command("match", cls=ColourCommand)
def match(
    colour: Annotated[str, typer.Argument(metavar="COLOUR", help=COLOUR)],
    *,
    tubes: TubesOption = "",
    archive: Address = None,
    notes: NotesOption = None,
    count: Annotated[int, typer.Option("--count", metavar="N", min=1, max=50, help="How many recipes to show.")] = 5,
    most_tubes: Annotated[
        int, typer.Option("--most-tubes", metavar="N", min=1, max=4, help="The most tubes that a recipe may hold.")
    ] = 4,
    amount: AmountOption = "",
    as_json: JsonOption = False,
) -> None:
    """Find recipes for a colour: small whole parts of few tubes."""
    from swatchread.palette.answers import match as answer
    from swatchread.report.console_answers import print_matches

    wanted, palette = _colour(colour, archive), _palette(notes, archive)
    found = answer(wanted, palette, tubes=listed(tubes), count=count, most_tubes=most_tubes, amount=amount)
    _show(found, print_matches, as_json=as_json)


@app.command("nudge", cls=ColourCommand, short_help="Say what to add to a mixture that is not right.")
def nudge(
    now: Annotated[str, typer.Argument(metavar="FROM", help=f"The mixture as it is: {COLOUR}")],
    wanted: Annotated[str, typer.Argument(metavar="TO", help="The colour it should have, named the same way.")],
    tubes: TubesOption = "",
    archive: Address = None,
    notes: NotesOption = None,
    as_json: JsonOption = False,
) -> None:
    """Say what to add to a mixture that is not right, in at most two additions."""
    from swatchread.palette.answers import nudge as answer
    from swatchread.report.console_answers import print_nudge

    start, target = _colour(now, archive), _colour(wanted, archive)
    found = answer(start, target, _palette(notes, archive), tubes=listed(tubes))
    _show(found, print_nudge, as_json=as_json)


def _palette(notes: list[Path] | None, archive: str | None) -> FittedPalette:
    from swatchread.palette.card_sources import gather_cards, gather_tubes, require_recipes
    from swatchread.palette.fitted_palette import fit_palette

    cards = gather_cards(notes or [], archive)
    return require_recipes(fit_palette(cards, gather_tubes(cards, notes or [], archive)))


def _colour(text: str, archive: str | None) -> Wanted:
    from functools import partial

    from swatchread.archive.colour_reference import find_colour
    from swatchread.palette.card_sources import archived_note

    return find_colour(text, partial(archived_note, archive))


def listed(text: str) -> list[str]:
    """Return the words of a list with commas."""
    return [word.strip() for word in text.split(",") if word.strip()]


def _show(answer: Answer, print_table: Callable[[Facts], None], *, as_json: bool) -> None:
    """Print an answer as JSON if that is wanted, otherwise as a table."""
    import json

    from swatchread.palette.answer_records import as_facts

    facts = as_facts(answer)
    if as_json:
        typer.echo(json.dumps(facts, ensure_ascii=False, indent=1))
    else:
        print_table(facts)
