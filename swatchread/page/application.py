"""The application: all pages under one roof.

A page is a module with `routes`, which returns its routes, and, if it stands in the navigation, with `NAVIGATION`: its
path and its name. A new page needs a line in `PAGES`.
"""

from __future__ import annotations

from types import ModuleType
from typing import Final

from starlette.applications import Starlette
from starlette.exceptions import HTTPException
from starlette.routing import BaseRoute, Mount
from starlette.staticfiles import StaticFiles

from swatchread.errors import SwatchreadError
from swatchread.page import (
    card_page,
    cards_page,
    changes_page,
    doubts_page,
    find_page,
    mix_page,
    phone_page,
    picture_routes,
    sitting_page,
    tubes_page,
)
from swatchread.page.door import RefusedRequest
from swatchread.page.responses import told_failure
from swatchread.page.studio import Studio

PAGES: Final[tuple[ModuleType, ...]] = (
    cards_page,
    card_page,
    picture_routes,
    doubts_page,
    find_page,
    changes_page,
    sitting_page,
    mix_page,
    tubes_page,
    phone_page,
)
"""In the order of the navigation."""


def build_application(studio: Studio) -> Starlette:
    """Return the application. It answers whoever asks: put it behind a `swatchread.page.door.Door`.

    Parameters
    ----------
    studio : Studio
        What the pages work on.
    """
    routes: list[BaseRoute] = [
        Mount("/static", StaticFiles(packages=[("swatchread.page", "static")])),
        Mount("/look", StaticFiles(packages=[("swatchread.report", "look")])),
    ]
    for page in PAGES:
        routes += page.routes()
    handlers = dict.fromkeys((HTTPException, RefusedRequest, SwatchreadError, Exception), told_failure)
    application = Starlette(routes=routes, exception_handlers=handlers)
    application.state.studio = studio
    application.state.navigation = [page.NAVIGATION for page in PAGES if hasattr(page, "NAVIGATION")]
    return application
