"""`swatchread mix`: what a recipe gives, which recipe gives a colour, and what to add to one that is not right."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from swatchread.cli.shared_options import COLOUR

if TYPE_CHECKING:
    from swatchread.archive.colour_reference import Wanted
    from swatchread.palette.answers import Desk

app = typer.Typer(
    name="mix",
    no_args_is_help=True,
    add_completion=False,
    rich_markup_mode=None,
    help="Predict, match and correct mixtures from your own recorded swatches.",
)

ArchiveOption = Annotated[
    str | None,
    typer.Option("--archive", metavar="ADDRESS", help="The archive: a file, or a database. [default: your own]"),
]
NotesOption = Annotated[
    list[Path] | None,
    typer.Option("--notes", metavar="FILE", help="A note file to work from instead; give it once for each note."),
]
TubesOption = Annotated[
    str, typer.Option("--tubes", metavar="LIST", help="Tubes that may be used, with commas. [default: all recorded]")
]
JsonOption = Annotated[bool, typer.Option("--json", help="Print JSON instead of a table.")]


@app.command("predict")
def predict(
    recipe: Annotated[str, typer.Argument(metavar="RECIPE", help='In parts, as "3 white + 1 ochre".')],
    archive: ArchiveOption = None,
    notes: NotesOption = None,
    as_json: JsonOption = False,
) -> None:
    """Say what colour a recipe gives."""
    from swatchread.palette.answers import predict_facts

    facts = predict_facts(_desk(notes, archive), recipe)
    if not _as_json(facts, wanted=as_json):
        from swatchread.report.console_answers import print_prediction

        print_prediction(facts)


@app.command("match")
def match(
    colour: Annotated[str, typer.Argument(metavar="COLOUR", help=COLOUR)],
    *,
    tubes: TubesOption = "",
    archive: ArchiveOption = None,
    notes: NotesOption = None,
    count: Annotated[int, typer.Option("--count", metavar="N", min=1, max=50, help="At most so many recipes.")] = 5,
    most_tubes: Annotated[
        int, typer.Option("--most-tubes", metavar="N", min=1, max=4, help="At most so many tubes in one.")
    ] = 4,
    as_json: JsonOption = False,
) -> None:
    """Find recipes for a colour: small whole parts of few tubes."""
    from swatchread.palette.answers import match_facts

    wanted = _colour(colour, archive)
    facts = match_facts(_desk(notes, archive), wanted, _listed(tubes), count=count, most_tubes=most_tubes)
    if not _as_json(facts, wanted=as_json):
        from swatchread.report.console_answers import print_matches

        print_matches(facts)


@app.command("nudge", short_help="Say what to add to a mixture that is not right.")
def nudge(
    now: Annotated[str, typer.Argument(metavar="FROM", help=f"The mixture as it is: {COLOUR}")],
    wanted: Annotated[str, typer.Argument(metavar="TO", help="The colour it should have, named the same way.")],
    tubes: TubesOption = "",
    archive: ArchiveOption = None,
    notes: NotesOption = None,
    as_json: JsonOption = False,
) -> None:
    """Say what to add to a mixture that is not right, in at most two additions."""
    from swatchread.palette.answers import nudge_facts

    start, target = _colour(now, archive), _colour(wanted, archive)
    facts = nudge_facts(_desk(notes, archive), start, target, _listed(tubes))
    if not _as_json(facts, wanted=as_json):
        from swatchread.report.console_answers import print_nudge

        print_nudge(facts)


def _desk(notes: list[Path] | None, archive: str | None) -> Desk:
    from swatchread.errors import NoRecipesError
    from swatchread.palette.answers import Desk
    from swatchread.palette.card_sources import gather_cards
    from swatchread.palette.fitted_palette import fit_palette
    from swatchread.recipes.tubes import load_tubes

    tubes = load_tubes()
    studio = fit_palette(gather_cards(notes or [], archive), tubes)
    if not len(studio.collected.samples):
        reasons = "; ".join(f"{name}: {why}" for name, why in studio.collected.left_out[:3])
        raise NoRecipesError("No recorded swatch has a recipe that can be used", reasons)
    return Desk(studio, tubes)


def _colour(text: str, archive: str | None) -> Wanted:
    from functools import partial

    from swatchread.archive.colour_reference import find_colour
    from swatchread.palette.card_sources import archived_note

    return find_colour(text, partial(archived_note, archive))


def _listed(text: str) -> list[str]:
    return [word.strip() for word in text.split(",") if word.strip()]


def _as_json(facts: dict[str, Any], *, wanted: bool) -> bool:
    if wanted:
        import json

        typer.echo(json.dumps(facts, ensure_ascii=False, indent=1))
    return wanted
