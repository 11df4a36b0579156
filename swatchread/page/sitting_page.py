"""The page Sitting: a run of mixtures for the next sitting, each of which can be swapped, and the wall sheet."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any, Final

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import QueryParams
from starlette.requests import Request
from starlette.responses import HTMLResponse, Response
from starlette.routing import BaseRoute, Route

from swatchread.archive.results import CardLine
from swatchread.errors import NoRecipesError, SwatchreadError, UsageError
from swatchread.note.phrases import plain
from swatchread.page.responses import failure_facts, page_response, studio_of
from swatchread.page.studio import Studio
from swatchread.report.sheets import remarks_on, render_sheet, sentences

NAVIGATION: Final = ("/sitting", "Sitting")

_MOST_STEPS: Final = 12
HUES: Final = ("red", "orange", "yellow", "green", "blue", "violet")
"""Families of hue that a run can be asked to keep to; `swatchread.palette.hue_family` says what they are."""
_SWAP: Final = re.compile(r"(\d{1,2}):(run|warmer|cooler):(.{1,200})", re.DOTALL)


def routes() -> list[BaseRoute]:
    """Return the routes of this page."""
    return [
        Route("/sitting", _sitting),
        Route("/sitting/alternatives", _alternatives),
        Route("/sitting/sheet", _sheet),
    ]


@dataclass(frozen=True)
class _Made:
    """A plan with what it was made from."""

    plan: Any
    pool: Any
    palette: Any

    def facts(self) -> dict[str, Any]:
        from swatchread.palette.plan_answer import plan_facts

        facts = plan_facts(self.plan, self.palette)
        options = [option for step in self.plan.steps for option in step.options if option is not None]
        facts.setdefault("tubes", list(dict.fromkeys(tube for option in options for tube in option.tubes)))
        return facts


async def _sitting(request: Request) -> Response:
    facts = await run_in_threadpool(_page_facts, studio_of(request), request.query_params)
    return page_response(request, "sitting.html", asked=request.query_params, most_steps=_MOST_STEPS, **facts)


async def _alternatives(request: Request) -> Response:
    facts = await run_in_threadpool(_alternative_facts, studio_of(request), request.query_params)
    return page_response(request, "alternatives.html", **facts)


async def _sheet(request: Request) -> Response:
    page = await run_in_threadpool(_sheet_page, studio_of(request), request.query_params, request.scope["root_path"])
    return HTMLResponse(page)


def _page_facts(studio: Studio, asked: QueryParams) -> dict[str, Any]:
    cards = studio.archive.cards()
    facts: dict[str, Any] = {
        "sitters": sorted({card.sitter for card in cards} - {""}),
        "cards": cards,
        "tubes": (),
        "plan": None,
        "failure": None,
        "learning": False,
        "hues": (*HUES, "any"),
    }
    if not cards:
        facts["failure"] = failure_facts(
            NoRecipesError("There is nothing to plan from", "no card is on file yet", "Drop photos on the page Cards")
        )
        return facts
    # What is recorded is shown at once; then the page asks again, and waits for what is learnt from it.
    facts["learning"] = not (studio.knows_palette() or "wait" in asked)
    try:
        palette = studio.records() if facts["learning"] else studio.palette()
        facts["tubes"] = palette.collected.samples.tubes
        plan = facts["plan"] = _made(palette, asked, cards).facts()
        facts |= {
            "care": sentences(plan["care"]),
            "remarks": [("" if facts["learning"] else remarks_on(step)) for step in plan["steps"]],
        }
    except SwatchreadError as error:
        final = isinstance(error, NoRecipesError | UsageError)  # what is learnt changes nothing of these
        facts |= {"failure": failure_facts(error), "learning": facts["learning"] and not final}
    return facts


def _made(palette: Any, asked: QueryParams, cards: tuple[CardLine, ...]) -> _Made:
    """Make the plan that an address asks for.

    Raises
    ------
    NoRecipesError
        If too few mixtures are recorded.
    UsageError
        If a number makes no sense.
    """
    from swatchread.palette.plan_options import gather_options
    from swatchread.palette.plan_swaps import swapped
    from swatchread.palette.planning import make_plan
    from swatchread.palette.recipe_amounts import tubes_named

    allowed = tubes_named(palette, tuple(asked.getlist("tube"))) if asked.getlist("tube") else ()
    chosen = _chosen(asked, cards)
    cards_used = [card for card in palette.cards if card.name in chosen]
    pool = gather_options(cards_used, palette.vocabulary, allowed, asked.get("hue", ""))
    steps = int(_number(asked, "steps") or 6)
    made = make_plan(pool, palette, steps, _number(asked, "from"), _number(asked, "to"), allowed)
    made = swapped(made, pool, _places(asked))
    return _Made(made.for_amount(asked.get("amount", "")), pool, palette)


def _chosen(asked: QueryParams, cards: tuple[CardLine, ...]) -> set[str]:
    """Return the names of the cards that the plan is made from."""
    sitter, numbers = asked.get("sitter", "").strip().casefold(), set(asked.getlist("card"))
    return {
        f"card {card.card}"
        for card in cards
        if (not sitter or card.sitter.strip().casefold() == sitter) and (not numbers or str(card.card) in numbers)
    }


def _places(asked: QueryParams) -> dict[tuple[int, str], str]:
    found = [_SWAP.fullmatch(text) for text in asked.getlist("swap")]
    return {(int(one[1]), one[2]): one[3] for one in found if one}


def _number(asked: QueryParams, name: str) -> float | None:
    text = asked.get(name, "").strip()
    try:
        return float(text.replace(",", ".")) if text else None
    except ValueError as error:
        raise UsageError(f"“{plain(text)[:40]}” is not a number", "", "Write it in figures: 5.5") from error


def _alternative_facts(studio: Studio, asked: QueryParams) -> dict[str, Any]:
    from swatchread.colour.screen import hex_colours
    from swatchread.palette.plan_swaps import alternatives
    from swatchread.palette.step_choice import ROLES

    made = _made(studio.palette(), asked, studio.archive.cards())
    number, role = int(_number(asked, "step") or 0), asked.get("role", "run")
    if not 1 <= number <= len(made.plan.steps) or role not in ROLES:
        raise UsageError("The plan has no such place")
    step = made.plan.steps[number - 1]
    options = alternatives(made.pool, step, role)
    colours = hex_colours([option.lab for option in options])[0] if options else []
    return {"step": step, "role": role, "options": list(zip(options, colours, strict=True))}


def _sheet_page(studio: Studio, asked: QueryParams, root: str) -> str:
    made = _made(studio.palette(), asked, studio.archive.cards())
    sitter = asked.get("sitter", "").strip()
    title = f"Palette for {sitter}" if sitter else "Palette for the sitting"
    told = f"{len(made.pool.options)} recorded mixtures"
    return render_sheet(made.facts(), title, told, sparing=asked.get("ink") == "sparing", root=root)
