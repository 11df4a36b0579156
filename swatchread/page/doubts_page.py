"""The page Doubts: one thing to decide at a time, what matters most first."""

from __future__ import annotations

from typing import Any, Final

from pydantic import Field
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import HTMLResponse, JSONResponse, Response
from starlette.routing import BaseRoute, Route

from swatchread.archive.card_pictures import CARD, HEADING, MARKED, PHOTO, WRITING
from swatchread.archive.results import CardView
from swatchread.colour.screen import hex_colours
from swatchread.page.doubt_desk import Deed, OpenDoubt
from swatchread.page.note_keeper import CARD_FIELDS, MAX_LETTERS
from swatchread.page.responses import Sent, page_response, sent, studio_of
from swatchread.page.studio import Studio
from swatchread.report.pages import render

NAVIGATION: Final = ("/doubts", "Doubts")

_LONGEST: Final = 24 * 3600.0
"""Seconds that a page may say a decision took."""

_OFFERED_FIELDS: Final = ("title", "sitter", "date")
"""What stands at the head of a card, fields of `CardInfo`."""


class _Decision(Sent):
    key: str = Field(max_length=200)
    deed: Deed
    seconds: float = Field(ge=0, le=_LONGEST, strict=False)


def routes() -> list[BaseRoute]:
    """Return the routes of this page."""
    return [
        Route("/doubts", _doubts),
        Route("/doubts/count", _count),
        Route("/doubts/decide", _decide, methods=["POST"]),
    ]


async def _doubts(request: Request) -> Response:
    return page_response(request, "doubts.html", **await _next(studio_of(request)))


async def _count(request: Request) -> Response:
    """Tell how much there is to decide, for the page Cards."""
    studio = studio_of(request)
    ahead = await run_in_threadpool(studio.doubts.ahead)
    return JSONResponse({"doubts": len(ahead), "time": studio.doubts.time_left(ahead)})


async def _decide(request: Request) -> Response:
    """Carry out a decision, and answer with what comes next."""
    studio, decision = studio_of(request), await sent(request, _Decision)
    await run_in_threadpool(studio.doubts.decide, decision.key, decision.deed, decision.seconds)
    facts = await _next(studio)
    return HTMLResponse(render("page/templates/doubt.html", root=request.scope["root_path"], **facts))


async def _next(studio: Studio) -> dict[str, Any]:
    """Return what is shown of the next doubt, and have the handwriting of the one after it read meanwhile."""
    ahead = await run_in_threadpool(studio.doubts.ahead)
    facts: dict[str, Any] = {"left": len(ahead), "time": studio.doubts.time_left(ahead), "one": None}
    if ahead:
        studio.doubts.show(ahead[0])
        facts |= {"one": ahead[0].doubt, "card": ahead[0].card} | await _shown(studio, ahead[0])
    for one in ahead[:2]:
        if one.doubt.kind == "recipes" and one.card is not None:
            studio.writing.prepare(studio.archive, await run_in_threadpool(studio.archive.card, one.card))
    return facts


async def _shown(studio: Studio, one: OpenDoubt) -> dict[str, Any]:
    """Return what a doubt needs to be decided: the photo, the marked photo, or the card's open recipes."""
    if one.doubt.kind == "unread":
        arrival = studio.inbox.get(one.doubt.key.partition(":")[0])
        return {"arrival": arrival, "can_accept": bool(arrival and arrival.failure and _is_poor(arrival.failure.code))}
    if one.card is None:
        return {}
    view = await run_in_threadpool(studio.archive.card, one.card)
    pictures = await studio.desk.pictures_of(view)
    picture = pictures.get(MARKED) or pictures.get(PHOTO) or pictures.get(CARD)
    return {"picture": picture, "swatches": len(view.note.swatches), **_open_recipes(view, one, pictures)}


def _is_poor(code: str) -> bool:
    return code == "too_poor"


def _open_recipes(view: CardView, one: OpenDoubt, pictures: dict[str, str]) -> dict[str, Any]:
    swatches = [view.note.swatch(swatch_id) for swatch_id in one.doubt.swatches]
    colours = hex_colours([swatch.lab for swatch in swatches])[0] if swatches else ()
    info = view.note.card_info.model_dump()
    return {
        "items": [
            {"swatch": swatch, "colour": colour, "writing": pictures.get(f"{WRITING}{swatch.id}")}
            for swatch, colour in zip(swatches, colours, strict=True)
        ],
        "fields": {name: CARD_FIELDS[name] for name in _OFFERED_FIELDS if not info[name].strip()},
        "heading": pictures.get(HEADING),
        "cut_out": pictures.get(CARD),
        "longest": MAX_LETTERS,
    }
