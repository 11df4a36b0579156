"""The page Cards: photos are dropped, and the cards shown as pictures."""

from __future__ import annotations

from typing import Final

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import BaseRoute, Route

from swatchread.page.responses import page_response, studio_of

NAVIGATION: Final = ("/cards", "Cards")


def routes() -> list[BaseRoute]:
    """Return the routes of this page."""
    return [Route("/", _first_page), Route("/cards", _cards)]


async def _first_page(request: Request) -> Response:
    return RedirectResponse(f"{request.scope['root_path']}/cards", 303)


async def _cards(request: Request) -> Response:
    cards = await run_in_threadpool(studio_of(request).archive.cards)
    return page_response(request, "cards.html", cards=cards)
