"""The page Changes: two readings of one card, what became of each swatch, and the curve of a series."""

from __future__ import annotations

from typing import Any, Final

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import QueryParams
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import BaseRoute, Route

from swatchread.archive.store import Archive
from swatchread.errors import SwatchreadError, UsageError
from swatchread.page.responses import failure_facts, page_response, studio_of

NAVIGATION: Final = ("/changes", "Changes")

_MOST_CARDS: Final = 500
"""Cards that can be chosen from the list (choice); the latest ones."""
_MOST_READINGS: Final = 12
"""Readings of one card that are compared at once (choice)."""


def routes() -> list[BaseRoute]:
    """Return the routes of this page."""
    return [Route("/changes", _changes)]


async def _changes(request: Request) -> Response:
    facts = await run_in_threadpool(_page_facts, studio_of(request).archive, request.query_params)
    return page_response(request, "changes.html", asked=request.query_params, **facts)


def _page_facts(archive: Archive, asked: QueryParams) -> dict[str, Any]:
    facts: dict[str, Any] = {"cards": archive.cards()[-_MOST_CARDS:][::-1], "shown": None, "failure": None}
    numbers = [int(text) for text in asked.getlist("card") if text.isdecimal()][:_MOST_READINGS]
    if len(numbers) >= 2:
        try:
            facts["shown"] = _compared(archive, list(dict.fromkeys(numbers)), asked.getlist("anchor"))
        except SwatchreadError as error:
            facts["failure"] = failure_facts(error)
    return facts


def _compared(archive: Archive, numbers: list[int], anchors: list[str]) -> dict[str, Any]:
    if len(numbers) < 2:
        raise UsageError("Choose two different readings", "this is the same photo twice")
    from swatchread.comparison.pair import follow
    from swatchread.report.change_drawing import change_view

    series = follow([archive.card(number).note for number in numbers], anchors)
    return change_view(series)
