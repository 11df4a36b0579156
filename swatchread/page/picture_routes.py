"""Pictures of the archive, by the hash of their bytes."""

from __future__ import annotations

import re
from typing import Final

from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import BaseRoute, Route

from swatchread.page.responses import NOT_THERE, studio_of

_DIGEST: Final = re.compile("[0-9a-f]{64}")
_SHOWN: Final = frozenset({"image/jpeg", "image/png"})


def routes() -> list[BaseRoute]:
    """Return the routes of the pictures."""
    return [Route("/pictures/{digest}", _picture)]


async def _picture(request: Request) -> Response:
    digest = request.path_params["digest"]
    found = None
    if _DIGEST.fullmatch(digest):
        found = await run_in_threadpool(studio_of(request).archive.pictures.picture, digest)
    if found is None or found.media_type not in _SHOWN:
        raise HTTPException(NOT_THERE, "There is no such picture")
    # What has this hash never changes.
    headers = {"cache-control": "private, max-age=31536000, immutable"}
    return Response(found.data, media_type=found.media_type, headers=headers)
