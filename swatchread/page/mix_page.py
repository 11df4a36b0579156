"""The page Mix: chips of now, wanted and after; recipes for a colour; what to add to a mixture that is off."""

from __future__ import annotations

import shutil
import tempfile
from pathlib import Path
from typing import Any, Final

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import QueryParams, UploadFile
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import BaseRoute, Route

from swatchread.archive.colour_reference import Wanted
from swatchread.errors import NoRecipesError, SwatchreadError, UsageError
from swatchread.note.model import parse_note
from swatchread.note.phrases import know_before_mixing
from swatchread.page.named_colour import named_colour
from swatchread.page.photo_reading import ReadingTask, RefusedPhoto
from swatchread.page.responses import failure_facts, page_response, studio_of
from swatchread.page.studio import Studio
from swatchread.photo.load import MAX_BYTES
from swatchread.report.sheets import sentences

NAVIGATION: Final = ("/mix", "Mix")

_RECIPES: Final = 6
"""Recipes that are shown for a colour (choice)."""


def routes() -> list[BaseRoute]:
    """Return the routes of this page."""
    return [Route("/mix", _mix), Route("/mix/dab", _dab, methods=["POST"])]


async def _mix(request: Request) -> Response:
    facts = await run_in_threadpool(_page_facts, studio_of(request), request.query_params)
    return page_response(request, "mix.html", asked=request.query_params, **facts)


async def _dab(request: Request) -> Response:
    """Read the photo of a fresh dab beside the chart; it is not kept."""
    studio = studio_of(request)
    async with request.form(max_files=1, max_fields=2) as form:
        file = form.get("photos")
        if not isinstance(file, UploadFile):
            raise HTTPException(400, "No photo was sent")
        with tempfile.TemporaryDirectory() as folder:
            photo = Path(folder) / f"dab{_suffix(file.filename)}"
            await run_in_threadpool(_copy, file, photo)
            task = ReadingTask(photo, file.filename or "photo", lone=True)
            outcome = await studio.desk.readers.read(task, urgent=True)
    if isinstance(outcome, RefusedPhoto):
        return JSONResponse(failure_facts(outcome.error), 422)
    note = parse_note(outcome.note, "the dab")
    if len(note.swatches) != 1:
        several = UsageError(
            f"The photo shows {len(note.swatches)} swatches, not one dab",
            "",
            "Photograph one dab beside the chart; a whole card belongs on the page Cards",
        )
        return JSONResponse(failure_facts(several), 422)
    L, a, b = note.swatches[0].lab
    return JSONResponse({"colour": f"{L:.1f} {a:.1f} {b:.1f}", "doubts": know_before_mixing(note)})


def _suffix(name: str | None) -> str:
    suffix = Path(name or "").suffix.lower()
    return suffix if suffix[1:].isalnum() and len(suffix) < 8 else ""


def _copy(file: UploadFile, photo: Path) -> None:
    with photo.open("wb") as copied:
        shutil.copyfileobj(file.file, copied, MAX_BYTES)


def _page_facts(studio: Studio, asked: QueryParams) -> dict[str, Any]:
    facts: dict[str, Any] = dict.fromkeys(
        ("now", "wanted", "recipes", "correction", "prediction", "failure", "learning")
    )
    facts |= {"tubes": (), "care": "", "trust": "", "missing": ()}
    # What is recorded is shown at once; then the page asks again, and waits for what is learnt from it.
    facts["learning"] = not (studio.knows_palette() or "wait" in asked)
    try:
        palette = studio.records() if facts["learning"] else studio.palette()
        facts["tubes"] = palette.collected.samples.tubes
        _answer(studio, palette, asked, facts)
    except SwatchreadError as error:
        final = isinstance(error, NoRecipesError | UsageError)  # what is learnt changes nothing of these
        facts |= {"failure": failure_facts(error), "learning": facts["learning"] and not final}
    return facts


def _answer(studio: Studio, palette: Any, asked: QueryParams, facts: dict[str, Any]) -> None:
    """Add what the address asks for."""
    from swatchread.palette.answers import match, nudge, predict

    tubes = tuple(asked.getlist("tube"))
    now = _colour(asked.get("now", ""), studio, facts, "now")
    wanted = _colour(asked.get("wanted", ""), studio, facts, "wanted")
    answers: list[Any] = []
    if asked.get("recipe", "").strip():
        facts["prediction"] = predict(asked["recipe"], palette)
        answers.append(facts["prediction"])
    if wanted is not None:
        facts["recipes"] = match(wanted, palette, tubes=tubes, count=_RECIPES, amount=asked.get("amount", ""))
        answers.append(facts["recipes"])
        if now is not None:
            facts["correction"] = nudge(now, wanted, palette, tubes=tubes)
            answers.append(facts["correction"])
    facts["care"] = sentences(list(dict.fromkeys(line for answer in answers for line in answer.care)))
    facts["missing"] = tuple(dict.fromkeys(line for answer in answers for line in answer.missing))
    facts["trust"] = next((answer.left_out_cards.words for answer in answers if answer.left_out_cards), "")


def _colour(text: str, studio: Studio, facts: dict[str, Any], name: str) -> Wanted | None:
    from swatchread.palette.answer_records import colour_of

    if not text.strip():
        return None
    wanted = named_colour(text, studio.archive)
    facts[name] = {"colour": colour_of(wanted.lab), "recipe": wanted.recipe, "name": wanted.name}
    return wanted
