"""The page on which a phone is let in, and shut out again. A phone itself cannot ask for it."""

from __future__ import annotations

from typing import Final

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import BaseRoute, Route

from swatchread.page.phone_door import PhoneDoor
from swatchread.page.responses import NOT_THERE, page_response, studio_of
from swatchread.report.pages import markup

NAVIGATION: Final = ("/phone", "Phone")


def routes() -> list[BaseRoute]:
    """Return the routes of this page."""
    return [
        Route("/phone", _phone),
        Route("/phone/open", _open, methods=["POST"]),
        Route("/phone/close", _close, methods=["POST"]),
    ]


async def _phone(request: Request) -> Response:
    phone = _door(request)
    drawn = _code(phone.address) if phone.is_open else ""
    return page_response(request, "phone.html", address=phone.address, code=markup(drawn))


async def _open(request: Request) -> Response:
    return JSONResponse({"address": await _door(request).open()})


async def _close(request: Request) -> Response:
    await _door(request).close()
    return JSONResponse({})


def _door(request: Request) -> PhoneDoor:
    phone = studio_of(request).phone
    if phone is None or request.scope["door"].is_phone:
        raise HTTPException(NOT_THERE, "There is nothing here")
    return phone


def _code(address: str) -> str:
    """Draw an address as a code for a camera (ISO/IEC 18004)."""
    import segno

    code = segno.make(address, error="m", micro=False)
    drawn: str = code.svg_inline(
        scale=6, border=4, dark="#000", light="#fff", omitsize=True, title="Code for the phone"
    )
    return drawn
