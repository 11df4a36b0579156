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
from swatchread.page.writing_desk import HEAD_FIELDS
from swatchread.report.card_overlay import card_overlay
from swatchread.report.pages import render

NAVIGATION: Final = ("/doubts", "Doubts")

_LONGEST: Final = 24 * 3600.0
"""Seconds that a page may say a decision took."""


_MARGIN, _LETTERS = 0.06, 0.026
"""Table shown round a card, and the height of the names on it, against the card's size (choice)."""


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
    return {"picture": picture, "close": _close_up(view, pictures), **_open_recipes(view, one, pictures)}


def _close_up(view: CardView, pictures: dict[str, str]) -> dict[str, Any] | None:
    """Return where a card lies in its photo, and what is drawn on it; None if the photo is not here."""
    if PHOTO not in pictures:
        return None
    note = view.note
    xs, ys = zip(*note.card.corners, strict=True)
    margin = _MARGIN * max(max(xs) - min(xs), max(ys) - min(ys))
    left, top = max(min(xs) - margin, 0.0), max(min(ys) - margin, 0.0)
    right, bottom = min(max(xs) + margin, note.photo.width), min(max(ys) + margin, note.photo.height)
    return {
        "photo": pictures[PHOTO],
        "size": (note.photo.width, note.photo.height),
        "box": " ".join(f"{number:.0f}" for number in (left, top, right - left, bottom - top)),
        "letters": round(_LETTERS * (right - left)),
        "swatches": card_overlay(note)["swatches"],
    }


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
        "fields": {name: CARD_FIELDS[name] for name in HEAD_FIELDS if not info[name].strip()},
        "heading": pictures.get(HEADING),
        "cut_out": pictures.get(CARD),
        "longest": MAX_LETTERS,
    }
