"""Answers of the page: filled templates, JSON, failures in words; and what a request sent, checked."""

from __future__ import annotations

from typing import Any, TypeVar

from pydantic import BaseModel, ConfigDict, ValidationError
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import HTMLResponse, JSONResponse, Response

from swatchread.errors import ArchiveError, OutputError, SwatchreadError
from swatchread.page.door import RefusedRequest
from swatchread.page.failure_words import page_remedy
from swatchread.page.studio import Studio
from swatchread.report.pages import render

NOT_THERE = 404
_NOT_ON_A_PHONE = "/phone"
"""Where phones are let in, which a phone cannot do."""

_CONFLICT, _UNUSABLE, _NO_ROOM = 409, 400, 507


class Sent(BaseModel):
    """Base of what a page sends as JSON: no unknown fields, and types as they are."""

    model_config = ConfigDict(extra="forbid", strict=True, frozen=True)


AnySent = TypeVar("AnySent", bound=Sent)


def studio_of(request: Request) -> Studio:
    """Return what the pages work on."""
    studio: Studio = request.app.state.studio
    return studio


def page_response(request: Request, template: str, status: int = 200, **facts: Any) -> Response:
    """Fill in a template of `page/templates/`.

    Parameters
    ----------
    request : starlette.requests.Request
    template : str
        File name, for instance ``cards.html``. It extends ``layout.html``, and finds there as `root` what every
        address begins with, and as `here` the path below it.
    status : int
        HTTP status.
    **facts
        What the template shows; texts are escaped.
    """
    root, is_phone = request.scope["root_path"], request.scope["door"].is_phone
    shared = {
        "root": root,
        "here": request.scope["path"].removeprefix(root),
        "navigation": [one for one in request.app.state.navigation if not (is_phone and one[0] == _NOT_ON_A_PHONE)],
    }
    return HTMLResponse(render(f"page/templates/{template}", **shared, **facts), status)


async def sent(request: Request, kind: type[AnySent]) -> AnySent:
    """Return what a page sent as JSON.

    Raises
    ------
    HTTPException
        If it is not of this kind.
    """
    if request.headers.get("content-type", "").partition(";")[0].strip() != "application/json":
        raise HTTPException(415, "JSON is expected")
    try:
        return kind.model_validate_json(await request.body())
    except ValidationError as error:
        first = error.errors()[0]
        place = ".".join(str(part) for part in first["loc"]) or "the whole"
        raise HTTPException(_UNUSABLE, f"This cannot be taken: {place}: {first['msg']}") from error


def failure_facts(error: SwatchreadError) -> dict[str, str]:
    """Return a failure as a page shows it: what happened, why, and what to do."""
    remedy = page_remedy(error)
    message = f"{error.what}{error.why and f': {error.why}'}{remedy and f'. {remedy}'}"
    return {"code": error.code, "message": message, "what": error.what, "why": error.why, "remedy": remedy}


async def told_failure(request: Request, error: Exception) -> Response:
    """Answer a request that failed: a page to someone who looks, JSON to a script."""
    if isinstance(error, SwatchreadError):
        status = _NO_ROOM if isinstance(error, OutputError) else _CONFLICT
        facts = failure_facts(error) | getattr(error, "facts", {})
        if isinstance(error, ArchiveError) and request.method == "GET":
            status = NOT_THERE
    else:
        status, what = _refused(error)
        facts = {"code": "request", "message": what, "what": what, "why": "", "remedy": ""}
    if "text/html" in request.headers.get("accept", ""):
        return page_response(request, "failure.html", status, failure=facts)
    return JSONResponse(facts, status)


def _refused(error: Exception) -> tuple[int, str]:
    if isinstance(error, HTTPException):
        return error.status_code, error.detail
    if isinstance(error, RefusedRequest):
        return error.status, error.message
    return 500, "The program met a fault"
