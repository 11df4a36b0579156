"""`swatchread plan`: the palette for the next sitting."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, ClassVar

import typer

from swatchread.cli.grouped_help import RARE, GroupedCommand
from swatchread.cli.mix_command import AmountOption, NotesOption, listed
from swatchread.cli.output import print_json
from swatchread.cli.shared_options import Address, JsonOption

if TYPE_CHECKING:
    from swatchread.palette.training_data import Card

HueOption = Annotated[
    str,
    typer.Option(
        "--hue",
        metavar="NAME",
        help="Family of hue that the run keeps to: red, orange, yellow, green, blue, violet, or any. "
        "[default: the one recorded most]",
    ),
]
CardOption = Annotated[
    list[int] | None, typer.Option("--card", metavar="N", help="Only this archived card; repeat it for more cards.")
]
SheetOption = Annotated[
    Path | None, typer.Option("--sheet", metavar="FILE", help="Write a sheet for the wall, a page to print.")
]


class PlanCommand(GroupedCommand):
    """`plan`, whose conditions stand in a group of their own."""

    sections: ClassVar[Mapping[str, tuple[str, ...]]] = {
        "Which mixtures": ("card", "low", "high", "tubes", "hue"),
        RARE: ("archive", "notes", "as_json", "help"),
    }


COMMAND = PlanCommand


def plan(
    *,
    sitter: Annotated[str, typer.Option("--sitter", metavar="NAME", help="Only cards of this sitter.")] = "",
    card: CardOption = None,
    steps: Annotated[int, typer.Option("--steps", metavar="N", min=2, max=12, help="Mixtures in the run.")] = 6,
    low: Annotated[float | None, typer.Option("--from", metavar="V", help="Darkest value. [default: recorded]")] = None,
    high: Annotated[float | None, typer.Option("--to", metavar="V", help="Lightest value. [default: recorded]")] = None,
    tubes: Annotated[
        str, typer.Option("--tubes", metavar="LIST", help="Tubes that may be used, with commas. [default: all]")
    ] = "",
    hue: HueOption = "",
    amount: AmountOption = "",
    archive: Address = None,
    notes: NotesOption = None,
    sheet: SheetOption = None,
    as_json: JsonOption = False,
) -> None:
    """Plan a run of mixtures even in value, each with a warmer and a cooler one, from what you have recorded."""
    from swatchread.palette.card_sources import gather_cards, gather_tubes
    from swatchread.palette.fitted_palette import fit_palette
    from swatchread.palette.plan_answer import plan_facts
    from swatchread.palette.plan_options import gather_options
    from swatchread.palette.planning import make_plan
    from swatchread.palette.recipe_amounts import tubes_named

    check_sheet(sheet)
    cards = gather_cards(notes or [], archive)
    known = gather_tubes(cards, notes or [], archive)
    palette = fit_palette(cards, known)
    words = listed(tubes)
    allowed = tubes_named(palette, words) if words else ()
    pool = gather_options(_chosen(cards, sitter, card or []), known, allowed, hue)
    made = make_plan(pool, palette, steps, low, high, allowed).for_amount(amount)
    facts = plan_facts(made, palette)
    if sheet is not None:
        from swatchread.report.sheets import render_sheet

        title = f"Palette for {sitter}" if sitter else "Palette for the sitting"
        _write_sheet(sheet, render_sheet(facts, title, f"{len(pool.options)} recorded mixtures"))
    if as_json:
        print_json(facts)
        return
    from swatchread.report.console_answers import print_plan

    print_plan(facts)


def check_sheet(path: Path | None) -> None:
    """Refuse a sheet that is not called a page, before any work is done."""
    from swatchread.errors import UsageError

    if path is None or path.suffix.lower() in {".html", ".htm"}:
        return
    raise UsageError(
        f"{path.name} is not the name of a page",
        "sheets are written as HTML",
        f"Name it {path.with_suffix('.html').name}, open it in the browser, and print it or save it as PDF there",
    )


def _write_sheet(path: Path, page: str) -> None:
    from swatchread.note.safe_files import write_text

    write_text(path, page)
    typer.echo(f"Written: {path}. Open it in the browser to print it.", err=True)


def _chosen(cards: list[Card], sitter: str, numbers: list[int]) -> list[Card]:
    """Return the cards that the options name; what the tubes do is learnt from all cards."""
    from swatchread.errors import UsageError

    named = {f"card {number}" for number in numbers}
    kept = [
        card
        for card in cards
        if (not named or card.name in named)
        and (not sitter or card.note.card_info.sitter.strip().casefold() == sitter.strip().casefold())
    ]
    if not kept:
        raise UsageError("No card is left to plan from", *_why_none(cards, sitter))
    return kept


def _why_none(cards: list[Card], sitter: str) -> tuple[str, str]:
    """Return why no card is left, and what the painter can do."""
    if not cards:
        return (
            "none is on file yet",
            "Read your cards with `swatchread read FOLDER --archive`, or name their notes with --notes",
        )
    known = sorted({card.note.card_info.sitter.strip() for card in cards} - {""})
    if not sitter:
        return f"cards on file: {len(cards)}, under other numbers", "List the cards with `swatchread archive list`"
    return (
        f"the sitters on file are: {', '.join(known) or 'none'}",
        "Write the sitter in with `swatchread note fill` and add the note to the archive; or leave out --sitter",
    )
