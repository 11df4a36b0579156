"""The page Tubes: the painter says once what a word means, and settles each doubt for all cards."""

from __future__ import annotations

from typing import Any, Final

from pydantic import Field
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import HTMLResponse, JSONResponse, Response
from starlette.routing import BaseRoute, Route

from swatchread.archive.store import Archive
from swatchread.page.responses import Sent, page_response, sent, studio_of
from swatchread.recipes.own_tubes import MAX_WORD_LETTERS, OwnTube, TubeQuestion, parse_own_tube, read_own_tubes
from swatchread.recipes.recipe import tube_words
from swatchread.recipes.tubes import load_tubes
from swatchread.report.pages import render

NAVIGATION: Final = ("/tubes", "Tubes")

_LONGEST_TABLE: Final = 200_000
"""Letters of a table of tubes (choice); a studio's is far shorter."""


class _Meaning(Sent):
    word: str = Field(max_length=MAX_WORD_LETTERS)
    tube: str = Field(max_length=MAX_WORD_LETTERS)


class _Word(Sent):
    word: str = Field(max_length=MAX_WORD_LETTERS)


class _Table(Sent):
    table: str = Field(max_length=_LONGEST_TABLE)


def routes() -> list[BaseRoute]:
    """Return the routes of this page."""
    return [
        Route("/tubes", _tubes),
        Route("/tubes/asked", _asked),
        Route("/tubes/say", _say, methods=["POST"]),
        Route("/tubes/forget", _forget, methods=["POST"]),
        Route("/tubes/table", _table, methods=["POST"]),
    ]


async def _tubes(request: Request) -> Response:
    facts = await run_in_threadpool(_facts, studio_of(request).archive)
    return page_response(request, "tubes.html", **facts)


async def _asked(request: Request) -> Response:
    """Answer with the questions alone, of one card or of all, for a page on which they are met."""
    card = request.query_params.get("card", "")
    number = int(card) if card.isdecimal() and len(card) < 10 else None
    questions = await run_in_threadpool(_questions, studio_of(request).archive, number)
    return HTMLResponse(render("page/templates/asked.html", questions=questions, folded=True) if questions else "")


async def _say(request: Request) -> Response:
    given = await sent(request, _Meaning)
    meant = given.tube.strip() or given.word
    await run_in_threadpool(_keep, studio_of(request).archive, f"{given.word} = {meant}")
    return JSONResponse({"message": f"“{given.word}” is {meant}, on all cards"})


async def _forget(request: Request) -> Response:
    given = await sent(request, _Word)
    await run_in_threadpool(studio_of(request).archive.tubes.forget, given.word)
    return JSONResponse({"message": f"What “{given.word}” means is open again"})


async def _table(request: Request) -> Response:
    given = await sent(request, _Table)
    rows = read_own_tubes(given.table, load_tubes())
    await run_in_threadpool(studio_of(request).archive.tubes.say, rows)
    return JSONResponse({"message": f"{len(rows)} taken from the table"})


def _questions(archive: Archive, card: int | None) -> tuple[TubeQuestion, ...]:
    questions = archive.tubes.questions()
    if card is None:
        return questions
    listed, note = load_tubes(), archive.card(card).note
    words = {word.casefold() for swatch in note.swatches for word in tube_words(swatch.recipe, listed)}
    return tuple(question for question in questions if question.used.word.casefold() in words)


def _keep(archive: Archive, line: str) -> None:
    archive.tubes.say([parse_own_tube(line, load_tubes())])


def _facts(archive: Archive) -> dict[str, Any]:
    known, said = archive.tubes.known(), {one.word.casefold(): one for one in archive.tubes.said()}
    questions = archive.tubes.questions()
    asked = {question.used.word for question in questions}
    lines = []
    for used in archive.tubes.on_cards():
        if used.word not in asked:
            own = said.pop(used.word.casefold(), OwnTube(used.word, ""))
            lines.append(_line(own, known, used))
    lines += [_line(one, known, None) for one in said.values()]
    return {"questions": questions, "lines": lines, "suggestions": [tube.name for tube in load_tubes().tubes]}


def _line(own: OwnTube, known: Any, used: Any) -> dict[str, Any]:
    tube = known.tube(known.match(own.word).name or "")
    return {
        "word": own.word,
        "said": bool(own.tube),
        "means": own.tube or ((tube.kind or tube.name) if tube else ""),
        "listed": tube is not None,
        "pigments": " ".join(tube.pigments) if tube else "",
        "care": known.cautions((tube.name,)) if tube else (),
        "cards": used.cards if used else 0,
        "swatches": used.swatches if used else 0,
    }
