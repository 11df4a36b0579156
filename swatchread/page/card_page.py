"""The page of one card: the photo on which it is corrected, and its swatches with their recipes."""

from __future__ import annotations

import json
from typing import Any, Final

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import BaseRoute, Route

from swatchread.archive.card_pictures import CARD, HEADING, MARKED, PHOTO, WRITING
from swatchread.archive.results import CardView
from swatchread.colour.screen import hex_colours
from swatchread.errors import SwatchreadError
from swatchread.note.model import Note
from swatchread.note.phrases import flag_words, heading, know_before_mixing, relative
from swatchread.page.card_words import FieldChange, change_field, save_beside
from swatchread.page.note_keeper import CARD_FIELDS, MAX_LETTERS, tell_recipe
from swatchread.page.pointed_hints import Hints
from swatchread.page.responses import Sent, page_response, sent, studio_of
from swatchread.page.studio import Studio
from swatchread.report.card_overlay import card_overlay
from swatchread.report.value_map import value_uncertainty, warmth_uncertainty
from swatchread.writing.installed import is_installed

_WHITE_GROUND: Final = 80.0
"""L* of a card's bare ground from which its handwriting stands on white paper; toned cards are darker (choice)."""


class _Corrected(Sent):
    edition: int
    hints: Hints


class _Edition(Sent):
    edition: int


class _Typed(Sent):
    text: str


def routes() -> list[BaseRoute]:
    """Return the routes of this page."""
    return [
        Route("/cards/{card:int}", _card),
        Route("/cards/{card:int}/offers", _offers),
        Route("/cards/{card:int}/words", _save_words, methods=["POST"]),
        Route("/cards/{card:int}/in-hand", _take_in_hand, methods=["POST"]),
        Route("/cards/{card:int}/correct", _correct, methods=["POST"]),
        Route("/cards/{card:int}/undo", _undo, methods=["POST"]),
        Route("/cards/{card:int}/remove", _remove, methods=["POST"]),
        Route("/recipe", _understand, methods=["POST"]),
    ]


async def _view(request: Request) -> CardView:
    return await run_in_threadpool(studio_of(request).archive.card, request.path_params["card"])


async def _card(request: Request) -> Response:
    studio, view = studio_of(request), await _view(request)
    store = studio.archive.pictures
    hints = Hints.read(await run_in_threadpool(store.hints, view.card))
    steps = await run_in_threadpool(store.steps, view.card)
    pictures = await studio.desk.pictures_of(view)
    can_correct = PHOTO in pictures and not view.note.photos and await studio.desk.photo_of(view) is not None
    facts = await run_in_threadpool(_facts, studio, view, pictures)
    drawn = {**card_overlay(view.note), "hints": hints.model_dump(mode="json"), "canCorrect": can_correct}
    if hints.rows is not None:
        drawn["rows"] = hints.rows
    if hints.columns is not None:
        drawn["columns"] = hints.columns
    return page_response(
        request, "card.html", **facts, drawn=json.dumps(drawn), steps=steps, can_correct=can_correct, hints=hints
    )


def _facts(studio: Studio, view: CardView, pictures: dict[str, str]) -> dict[str, Any]:
    note = view.note
    colours, on_screen = hex_colours([swatch.lab for swatch in note.swatches])
    items = [
        {
            "swatch": swatch,
            "colour": colour,
            "on_screen": inside,
            "understood": tell_recipe(swatch.recipe, studio.tubes),
            "writing": pictures.get(f"{WRITING}{swatch.id}"),
            "remarks": flag_words(swatch),
            "relative": relative(swatch.temperature),
            "u_value": value_uncertainty(swatch),
            "u_warmth": warmth_uncertainty(swatch),
        }
        for swatch, colour, inside in zip(note.swatches, colours, on_screen, strict=True)
    ]
    return {
        "card": view.card,
        "edition": view.edition,
        "title": heading(note),
        "note": note,
        "items": items,
        "info": note.card_info.model_dump(),
        "fields": CARD_FIELDS,
        "longest": MAX_LETTERS,
        "rows": max(swatch.row for swatch in note.swatches),
        "columns": max(swatch.column for swatch in note.swatches),
        "photo": pictures.get(PHOTO),
        "marked": pictures.get(MARKED),
        "cut_out": pictures.get(CARD),
        "heading": pictures.get(HEADING),
        "reads_writing": is_installed() and _lacks_recipes(note, pictures),
        "white_ground": note.card.ground.lab[0] > _WHITE_GROUND,
        "warnings": know_before_mixing(note),
    }


def _lacks_recipes(note: Note, pictures: dict[str, str]) -> bool:
    """Tell whether handwriting stands beside a swatch that has no recipe yet."""
    return any(f"{WRITING}{swatch.id}" in pictures and not swatch.recipe for swatch in note.swatches)


async def _save_words(request: Request) -> Response:
    studio, change = studio_of(request), await sent(request, FieldChange)
    card = request.path_params["card"]

    def save() -> tuple[CardView, str]:
        saved = studio.archive.change(card, lambda note: change_field(note, change))
        return saved, save_beside(studio.note_files.get(card), saved.note)

    saved, remark = await run_in_threadpool(save)
    studio.desk.news.tell(card=card, state="words")
    facts: dict[str, Any] = {"edition": saved.edition, "remark": remark}
    if change.swatch is not None:
        facts |= _understood(change.text, studio)
    return JSONResponse(facts)


def _understood(text: str, studio: Studio) -> dict[str, Any]:
    told = tell_recipe(text, studio.tubes)
    return {"plain": told.plain, "doubts": told.doubts, "cautions": told.cautions, "ambiguous": told.ambiguous}


async def _understand(request: Request) -> Response:
    typed = await sent(request, _Typed)
    return JSONResponse(await run_in_threadpool(_understood, typed.text[:MAX_LETTERS], studio_of(request)))


async def _offers(request: Request) -> Response:
    studio = studio_of(request)
    return JSONResponse({"swatches": await studio.writing.offers(studio.archive, await _view(request))})


async def _take_in_hand(request: Request) -> Response:
    studio, view = studio_of(request), await _view(request)
    hints = await run_in_threadpool(studio.archive.pictures.hints, view.card)
    await studio.desk.take_in_hand(view, hints)
    return JSONResponse({})


async def _correct(request: Request) -> Response:
    studio, asked = studio_of(request), await sent(request, _Corrected)
    view = await studio.desk.correct(await _view(request), asked.hints, asked.edition)
    return JSONResponse(await _after(studio, view))


async def _undo(request: Request) -> Response:
    studio, asked = studio_of(request), await sent(request, _Edition)
    view = await studio.desk.undo(await _view(request), asked.edition)
    return JSONResponse(await _after(studio, view))


async def _after(studio: Studio, view: CardView) -> dict[str, Any]:
    """Bring the note file along, and return what the page is told after a correction."""
    remark = await run_in_threadpool(_replace_beside, studio, view.card, view.note)
    return {"edition": view.edition, "swatches": len(view.note.swatches), "remark": remark}


def _replace_beside(studio: Studio, card: int, note: Note) -> str:
    try:
        return save_beside(studio.note_files.get(card), note)
    except SwatchreadError as error:
        return str(error)


async def _remove(request: Request) -> Response:
    studio, view = studio_of(request), await _view(request)
    asked = await sent(request, _Edition)

    def remove() -> None:
        studio.archive.change(view.card, lambda note: note, expected=asked.edition)
        studio.archive.remove(view.card)
        studio.inbox.drop(view.note.photo.sha256)

    await run_in_threadpool(remove)
    studio.desk.news.tell(card=view.card, state="removed")
    return JSONResponse({})
