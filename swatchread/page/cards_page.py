"""The page Cards: photos are dropped and read, and the cards shown as pictures, the newest first."""

from __future__ import annotations

import contextlib
import json
from collections.abc import AsyncIterator
from typing import Any, Final

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import UploadFile
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, RedirectResponse, Response, StreamingResponse
from starlette.routing import BaseRoute, Route

from swatchread.archive.card_pictures import CARD, MARKED
from swatchread.archive.card_shelf import Shelf, ShelfCard
from swatchread.colour.screen import hex_colours
from swatchread.errors import SwatchreadError
from swatchread.note.flags_and_warnings import ABOUT_THE_RUN, SWATCH_FLAGS
from swatchread.note.phrases import heading, know_before_mixing, plain, swatches
from swatchread.page.door import MAX_UPLOAD_BODY
from swatchread.page.inbox import Arrival
from swatchread.page.pointed_hints import Hints
from swatchread.page.reading_desk import events
from swatchread.page.responses import NOT_THERE, Sent, failure_facts, page_response, sent, studio_of
from swatchread.page.studio import Studio

NAVIGATION: Final = ("/cards", "Cards")

_MOST_FILES: Final = 60
"""Files of one request (choice); the page sends them one by one."""

_SILENCE: Final = 15.0
"""Seconds after which a line without news keeps the connection alive."""

_SAMPLE: Final = "white-card.jpg"
"""The photo that an empty archive offers to read."""


class _Again(Sent):
    accept_poor: bool = False
    hints: Hints | None = None


def routes() -> list[BaseRoute]:
    """Return the routes of this page."""
    return [
        Route("/", _first_page),
        Route("/cards", _cards),
        Route("/photos", _take, methods=["POST"]),
        Route("/photos/sample", _take_sample, methods=["POST"]),
        Route("/photos/{photo}", _state_of),
        Route("/photos/{photo}/picture", _picture),
        Route("/photos/{photo}/open", _open),
        Route("/photos/{photo}/point", _point),
        Route("/photos/{photo}/again", _read_again, methods=["POST"]),
        Route("/photos/{photo}/drop", _drop, methods=["POST"]),
        Route("/events", _events),
    ]


async def _first_page(request: Request) -> Response:
    return RedirectResponse(f"{request.scope['root_path']}/cards", 303)


async def _cards(request: Request) -> Response:
    studio = studio_of(request)
    before, words = request.query_params.get("before", ""), request.query_params.get("words", "")[:200]
    shelf = await run_in_threadpool(studio.archive.shelf, int(before) if before.isdecimal() else None, words)
    numbers = [card.card for card in shelf.cards]
    pictures = await run_in_threadpool(studio.archive.pictures.of_cards, numbers, CARD)
    arrivals = [one for one in studio.inbox if one.state != "read"]
    return page_response(
        request,
        "cards.html",
        cards=await run_in_threadpool(_shown, shelf, pictures),
        older=shelf.older,
        words=words,
        waiting=[one for one in arrivals if one.state == "waiting"],
        refused=[one for one in arrivals if one.state == "refused"],
        is_empty=not (shelf.cards or arrivals or words or before),
        is_first=not before,
        most_bytes=MAX_UPLOAD_BODY - 2**20,  # what frames the photo in the request
        from_phone=request.scope["door"].is_phone,
    )


def _shown(shelf: Shelf, pictures: dict[int, str]) -> list[dict[str, Any]]:
    """Return what the page shows of each card."""
    labs = [swatch.lab for card in shelf.cards for swatch in card.note.swatches]
    colours = iter(hex_colours(labs)[0] if labs else ())
    return [
        {
            "card": card.card,
            "title": heading(card.note),
            "info": card.note.card_info,
            "picture": pictures.get(card.card),
            "chips": _chips(card, [next(colours) for _ in card.note.swatches]),
            "doubts": _doubts(card),
            "remarks": _remarks(card),
        }
        for card in shelf.cards
    ]


def _chips(card: ShelfCard, colours: list[str]) -> dict[str, Any]:
    """Return a card's swatches as squares in its rows and columns."""
    rows = {row: place for place, row in enumerate(sorted({s.row for s in card.note.swatches}))}
    columns = {column: place for place, column in enumerate(sorted({s.column for s in card.note.swatches}))}
    places = [
        {"x": columns[s.column], "y": rows[s.row], "colour": colour}
        for s, colour in zip(card.note.swatches, colours, strict=True)
    ]
    return {"width": len(columns), "height": len(rows), "places": places}


def _doubts(card: ShelfCard) -> list[str]:
    """Return in words what is doubtful about a card: its warnings, and how many of its swatches are read in doubt."""
    told = [plain(warning.message) for warning in card.note.warnings]
    doubtful = sum(bool(set(swatch.flags) - ABOUT_THE_RUN) for swatch in card.note.swatches)
    if doubtful:
        told.append(f"{doubtful} of {swatches(len(card.note.swatches))} read in doubt: the card’s page says why")
    return told


def _remarks(card: ShelfCard) -> list[str]:
    """Return in words what a card's swatches show of its run: steps that are missing, doubled or chalky."""
    flags = [flag for swatch in card.note.swatches for flag in swatch.flags if flag in ABOUT_THE_RUN]
    return [f"{swatches(flags.count(flag))}: {SWATCH_FLAGS[flag]}" for flag in dict.fromkeys(flags)]


async def _take(request: Request) -> Response:
    studio = studio_of(request)
    async with request.form(max_files=_MOST_FILES, max_fields=10) as form:
        files = [file for file in form.getlist("photos") if isinstance(file, UploadFile)]
        if not files:
            raise HTTPException(400, "No photo was sent")
        taken = [await _taken(studio, file) for file in files]
    return JSONResponse({"photos": taken}, 202 if any(one["state"] == "waiting" for one in taken) else 422)


async def _taken(studio: Studio, file: UploadFile) -> dict[str, Any]:
    name = file.filename or "photo"
    try:
        arrival = await run_in_threadpool(studio.inbox.take, file.file, name)
    except SwatchreadError as error:
        return {"id": "", "name": plain(name), "state": "refused", "failure": failure_facts(error)}
    cards: tuple[int, ...] = ()
    with contextlib.suppress(SwatchreadError):  # a damaged archive is told with the reading
        cards = await run_in_threadpool(studio.archive.cards_of_photo, arrival.id)
    studio.desk.begin(arrival)
    return {"id": arrival.id, "name": arrival.name, "state": arrival.state, "card": cards[0] if cards else None}


async def _take_sample(request: Request) -> Response:
    from swatchread.page.sample_photo import sample_photo

    studio = studio_of(request)

    def take() -> Arrival:
        with sample_photo() as file:
            return studio.inbox.take(file, _SAMPLE)

    arrival = await run_in_threadpool(take)
    studio.desk.begin(arrival)
    return JSONResponse({"photos": [{"id": arrival.id, "name": arrival.name, "state": arrival.state}]}, 202)


def _arrival(request: Request) -> Arrival:
    arrival = studio_of(request).inbox.get(request.path_params["photo"])
    if arrival is None:
        raise HTTPException(NOT_THERE, "There is no such photo")
    return arrival


async def _state_of(request: Request) -> Response:
    """Tell what became of a photo: a phone shows it as its verdict."""
    studio, arrival = studio_of(request), _arrival(request)
    facts: dict[str, Any] = {"id": arrival.id, "name": arrival.name, "state": arrival.state}
    if arrival.failure is not None:
        facts["failure"] = arrival.failure.model_dump()
        facts["picture"] = studio.inbox.picture(arrival.id) is not None
    if arrival.state == "read":
        cards = await run_in_threadpool(studio.archive.cards_of_photo, arrival.id)
        views = [await run_in_threadpool(studio.archive.card, card) for card in cards]
        if views:
            roles = await run_in_threadpool(studio.archive.pictures.of, cards[0])
            doubts = [line for view in views for line in know_before_mixing(view.note)]
            facts |= {
                "card": cards[0],
                "cards": len(cards),
                "swatches": sum(len(view.note.swatches) for view in views),
                "marked": roles.get(MARKED),
                "doubts": list(dict.fromkeys(doubts)),
            }
    return JSONResponse(facts)


async def _open(request: Request) -> Response:
    """Lead to the card of a photo; if it is being read, to Cards, which goes there as soon as it is read."""
    arrival, root = _arrival(request), request.scope["root_path"]
    cards: tuple[int, ...] = ()
    if arrival.state == "read":
        cards = await run_in_threadpool(studio_of(request).archive.cards_of_photo, arrival.id)
    return RedirectResponse(f"{root}/cards/{cards[0]}" if cards else f"{root}/cards?photo={arrival.id}", 303)


async def _picture(request: Request) -> Response:
    arrival = _arrival(request)
    data = await run_in_threadpool(studio_of(request).inbox.picture, arrival.id)
    if data is None:
        raise HTTPException(NOT_THERE, "This photo cannot be shown")
    return Response(data, media_type="image/jpeg")


async def _point(request: Request) -> Response:
    """Show a refused photo, so that the painter can say where chart and card lie."""
    arrival = _arrival(request)
    if arrival.state != "refused" or not arrival.width:
        raise HTTPException(NOT_THERE, "There is nothing to point at on this photo")
    width, height = arrival.width, arrival.height
    hints = Hints.read(arrival.hints)
    drawn = {
        "width": width,
        "height": height,
        "card": hints.card or _quadrangle(width, height, 0.08, 0.47),
        "chart": hints.chart or _quadrangle(width, height, 0.55, 0.92),
        "swatches": [],
        "rows": [],
        "columns": [],
        "hints": hints.model_dump(mode="json"),
    }
    return page_response(request, "point.html", arrival=arrival, drawn=json.dumps(drawn))


def _quadrangle(width: int, height: int, left: float, right: float) -> list[list[float]]:
    """Return the corners of a piece of a photo, for the painter to move."""
    top, bottom = 0.25 * height, 0.75 * height
    return [[left * width, top], [right * width, top], [right * width, bottom], [left * width, bottom]]


async def _read_again(request: Request) -> Response:
    studio, arrival = studio_of(request), _arrival(request)
    asked = await sent(request, _Again)
    hints = (asked.hints or Hints.read(arrival.hints)).model_copy(update={"accept_poor": asked.accept_poor})
    changed = {"state": "waiting", "failure": None, "hints": hints.text()}
    studio.desk.begin(await run_in_threadpool(studio.inbox.note, arrival.model_copy(update=changed)))
    return JSONResponse({"id": arrival.id, "state": "waiting"}, 202)


async def _drop(request: Request) -> Response:
    arrival = _arrival(request)
    if arrival.state != "refused":
        raise HTTPException(409, "Only a photo that was refused can be put away here")
    await run_in_threadpool(studio_of(request).inbox.drop, arrival.id)
    return JSONResponse({})


async def _events(request: Request) -> Response:
    async def lines() -> AsyncIterator[str]:
        yield "retry: 2000\n\n"
        async for news in events(studio_of(request).desk.news, _SILENCE):
            yield ": nothing new\n\n" if news is None else f"data: {json.dumps(news)}\n\n"

    return StreamingResponse(lines(), media_type="text/event-stream")
