"""The page Find: all archived swatches on the value-and-warmth map, and questions to them."""

from __future__ import annotations

import base64
from collections.abc import Sequence
from dataclasses import replace
from functools import lru_cache
from typing import Any, Final

import numpy as np
from starlette.concurrency import run_in_threadpool
from starlette.datastructures import QueryParams
from starlette.requests import Request
from starlette.responses import HTMLResponse, JSONResponse, Response
from starlette.routing import BaseRoute, Route

from swatchread.archive.conditions import Near, Query
from swatchread.archive.map_search import LISTED, MapQuestion, Scatter
from swatchread.archive.results import Found
from swatchread.archive.store import Archive
from swatchread.colour.painter_terms import warmth
from swatchread.colour.screen import hex_colours, lab_to_srgb
from swatchread.errors import UsageError
from swatchread.note.phrases import plain, swatches
from swatchread.page.named_colour import named_colour
from swatchread.page.responses import page_response, studio_of
from swatchread.report.pages import render
from swatchread.report.sheets import contact_sheet

NAVIGATION: Final = ("/find", "Find")

RADIUS: Final = 6.0
"""CIEDE2000 within which a colour is near, until the painter moves the slider: a clearly different mixture (choice)."""

_MOST_WORDS: Final = 60
"""Tubes that are offered; a painter's archive holds fewer (choice)."""

_MOST_HALOS: Final = 3000
"""Swatches up to which the map draws how far each may be off; of more the halos would hide one another (choice)."""


def routes() -> list[BaseRoute]:
    """Return the routes of this page."""
    return [
        Route("/find", _find),
        Route("/find/points", _points),
        Route("/find/answer", _answer),
        Route("/find/sheet", _sheet),
    ]


async def _find(request: Request) -> Response:
    facts = await run_in_threadpool(_page_facts, studio_of(request).archive)
    return page_response(request, "find.html", asked=request.query_params, radius=RADIUS, **facts)


async def _points(request: Request) -> Response:
    data = await run_in_threadpool(_packed_points, studio_of(request).archive)
    return Response(data, media_type="application/octet-stream")


async def _answer(request: Request) -> Response:
    archive = studio_of(request).archive
    facts = await run_in_threadpool(_answer_facts, archive, request.query_params, request.scope["root_path"])
    return JSONResponse(facts)


async def _sheet(request: Request) -> Response:
    root = request.scope["root_path"]
    return HTMLResponse(await run_in_threadpool(_sheet_page, studio_of(request).archive, request.query_params, root))


def _page_facts(archive: Archive) -> dict[str, Any]:
    known = archive.tubes.known()
    names = dict.fromkeys(known.match(used.word).name or used.word for used in archive.tubes.on_cards())
    cards = archive.cards()
    return {
        "tubes": list(names)[:_MOST_WORDS],
        "sitters": sorted({card.sitter for card in cards} - {""}),
        "count": len(archive.map.scatter()),
    }


def _packed_points(archive: Archive) -> bytes:
    """Return value, warmth, uncertainty, card and colour of all points, little-endian, one after the other."""
    scatter = archive.map.scatter()
    few = len(scatter) <= _MOST_HALOS
    parts = (
        np.array([len(scatter)], "<u4"),
        scatter.value.astype("<f4"),
        scatter.warmth.astype("<f4"),
        (archive.map.uncertainties(scatter) if few else np.zeros(len(scatter))).astype("<f4"),
        scatter.cards.astype("<u4"),
        _colours(_Kept(scatter)),
    )
    return b"".join(part.tobytes() for part in parts)


class _Kept:
    """A scatter as the key of its colours: two of the same swatches are equal."""

    def __init__(self, scatter: Scatter) -> None:
        self.lab = scatter.lab
        self._bytes = scatter.lab.tobytes()

    def __hash__(self) -> int:
        return hash(self._bytes)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Kept) and self._bytes == other._bytes


@lru_cache(maxsize=1)
def _colours(kept: _Kept) -> np.ndarray[Any, np.dtype[np.uint8]]:
    """Return sRGB codes, shape (n, 3); they take longest, and change only with the swatches."""
    return np.rint(lab_to_srgb(kept.lab)[0] * 255.0).astype(np.uint8)


def _answer_facts(archive: Archive, asked: QueryParams, root: str) -> dict[str, Any]:
    question = question_of(archive, asked)
    answer = archive.map.answer(question)
    shown = question.first + len(answer.listed)
    return {
        "total": answer.total,
        "points": base64.b64encode(np.packbits(answer.points, bitorder="little").tobytes()).decode("ascii"),
        "next": shown if shown < answer.total else None,
        "told": f"Showing {shown} of {answer.total}" if shown < answer.total else f"{swatches(answer.total)}",
        "html": render("page/templates/found.html", root=root, items=result_items(answer.listed)),
    }


def result_items(found: Sequence[Found]) -> list[dict[str, Any]]:
    """Return found swatches as the template shows them."""
    if not found:
        return []
    lab = np.array([one.lab for one in found])
    colours, on_screen = hex_colours(lab)
    return [
        {"found": one, "colour": colour, "on_screen": inside, "warmth": score, "about": _about(one)}
        for one, colour, inside, score in zip(found, colours, on_screen, warmth(lab).tolist(), strict=True)
    ]


def _about(one: Found) -> str:
    return " · ".join(plain(part) for part in (one.title or one.photo, one.sitter, one.date) if plain(part))


def question_of(archive: Archive, asked: QueryParams) -> MapQuestion:
    """Return the question that an address asks.

    Raises
    ------
    UsageError
        If a number is none, or the colour cannot be understood.
    """
    near = None
    if asked.get("near", "").strip():
        wanted = named_colour(asked["near"], archive)
        L, a, b = wanted.lab.tolist()
        near = Near(
            (L, a, b),
            _number(asked, "within", RADIUS),
            uncertainty_de00=wanted.uncertainty_de00,
            swatch=wanted.swatch,
            own_de00=wanted.own_de00,
        )
    query = Query(
        near=near,
        value=_span(asked, "value", 0.0, 10.0),
        sitter=asked.get("sitter") or None,
        text=tuple(asked.get("words", "").split()),
        with_tubes=tuple(asked.getlist("with")),
        without_tubes=tuple(asked.getlist("without")),
        limit=None,
    )
    return MapQuestion(query, _span(asked, "warmth", -9.0, 9.0), max(0, int(_number(asked, "first", 0.0))))


def _span(asked: QueryParams, name: str, low: float, high: float) -> tuple[float, float] | None:
    if not asked.get(f"{name}-from") and not asked.get(f"{name}-to"):
        return None
    ends = _number(asked, f"{name}-from", low), _number(asked, f"{name}-to", high)
    return min(ends), max(ends)


def _number(asked: QueryParams, name: str, usual: float) -> float:
    text = asked.get(name, "")
    try:
        number = float(text) if text else usual
    except ValueError as error:
        raise UsageError(f"{name} is not a number", plain(text)[:40]) from error
    if not abs(number) < 1e9:  # nor is NaN
        raise UsageError(f"{name} is not a number")
    return number


def _sheet_page(archive: Archive, asked: QueryParams, root: str) -> str:
    question = question_of(archive, asked)
    found: list[Found] = []
    while True:
        answer = archive.map.answer(replace(question, first=len(found)))
        found += answer.listed
        if len(answer.listed) < LISTED or len(found) >= 5 * LISTED:
            break
    return contact_sheet(found, in_words(asked), root=root)


def in_words(asked: QueryParams) -> str:
    """Return the question of an address in words."""
    parts = []
    for name, word in (("value", "value"), ("warmth", "warmth")):
        low, high = asked.get(f"{name}-from"), asked.get(f"{name}-to")
        if low or high:
            parts.append(f"{word} {low or '…'} to {high or '…'}")
    if asked.get("near"):
        parts.append(f"near {asked['near']}")
    parts += [f"{way} {name}" for way in ("with", "without") for name in asked.getlist(way)]
    parts += [f"sitter {asked['sitter']}"] if asked.get("sitter") else []
    parts += [f"“{asked['words']}”"] if asked.get("words") else []
    return ", ".join(parts) or "everything"
