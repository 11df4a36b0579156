"""The server of the page. It answers this computer only, and only requests that know the token.

Werkzeug speaks HTTP here; for six addresses a framework with routing would add nothing.
"""

from __future__ import annotations

import json
import secrets
import threading
from dataclasses import asdict
from http.server import HTTPServer
from typing import Any

from pydantic import BaseModel, Field, TypeAdapter, ValidationError
from werkzeug.exceptions import BadRequest, Forbidden, HTTPException, NotFound, ServiceUnavailable
from werkzeug.serving import BaseWSGIServer, WSGIRequestHandler, make_server
from werkzeug.wrappers import Request, Response

from swatchread.errors import SwatchreadError
from swatchread.note.safe_files import read_writing
from swatchread.page.fill_page import FILES, fill_page, page_file
from swatchread.page.note_keeper import MAX_LETTERS, NoteKeeper, Words, tell_recipe
from swatchread.recipes.tubes import TubeList

LOOPBACK = "127.0.0.1"
MAX_BODY = 4 * 1024 * 1024
"""Bytes of a request; all the texts of a large card are far less."""

_HEADERS = {
    "Content-Security-Policy": "default-src 'none'; style-src 'self'; script-src 'self'; img-src 'self'; "
    "connect-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'",
    "Cache-Control": "no-store",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Referrer-Policy": "no-referrer",
    "X-Content-Type-Options": "nosniff",
}


class _TypedRecipe(BaseModel):
    text: str = Field(max_length=MAX_LETTERS)


class FillServer:
    """Serves the page for one note on the loopback address, at a port that is free, until the page is closed.

    Parameters
    ----------
    keeper : NoteKeeper
    tubes : TubeList
    """

    def __init__(self, keeper: NoteKeeper, tubes: TubeList) -> None:
        self._keeper = keeper
        self._tubes = tubes
        self._token = secrets.token_urlsafe(24)
        self._ended = threading.Event()
        self._saving = threading.Lock()
        self.saved = False
        self._server: BaseWSGIServer = make_server(
            LOOPBACK, 0, self._answer, threaded=True, request_handler=_QuietHandler
        )

    @property
    def address(self) -> str:
        """The page's address, with its token."""
        return f"http://{LOOPBACK}:{self._server.server_port}/{self._token}/"

    def serve(self) -> None:
        """Answer until the page is closed or `stop` is called."""
        try:
            # Werkzeug's own method swallows Ctrl-C, after which the painter has to be told that nothing was saved.
            HTTPServer.serve_forever(self._server, poll_interval=0.1)
        finally:
            self._ended.set()
            self._server.server_close()

    def stop(self) -> None:
        """End `serve` from another thread."""
        # `shutdown` waits for the loop to end, which may be waiting for the caller of this method.
        threading.Thread(target=self._server.shutdown, daemon=True).start()

    def _answer(self, environ: Any, start_response: Any) -> Any:
        request = Request(environ)
        request.max_content_length = MAX_BODY
        try:
            response = self._respond(request)
        except SwatchreadError as error:
            response = _json({"message": str(error), "code": error.code}, 409)
        except ValidationError:
            response = _json(
                {"message": f"The request is not as the page sends it, or a recipe has over {MAX_LETTERS} letters"}, 400
            )
        except HTTPException as error:
            response = _json({"message": error.description or error.name}, error.code or 400)
        response.headers.extend(_HEADERS)
        return response(environ, start_response)

    def _respond(self, request: Request) -> Response:
        if self._ended.is_set():  # a connection that the browser opened in advance outlives the server's socket
            raise ServiceUnavailable("The program has stopped: nothing was saved")
        port = self._server.server_port
        # A page from elsewhere may reach this address under a name of its own, which is not answered.
        if request.host not in {f"{LOOPBACK}:{port}", f"localhost:{port}"}:
            raise Forbidden("This page answers on the loopback address only")
        token, _, rest = request.path.lstrip("/").partition("/")
        if not secrets.compare_digest(token.encode(), self._token.encode()):
            raise NotFound("There is nothing here")
        if request.method == "GET":
            return self._get(rest)
        if request.method == "POST":
            return self._post(request, rest)
        raise BadRequest("Only GET and POST are understood")

    def _get(self, rest: str) -> Response:
        folder, note = self._keeper.path.parent, self._keeper.note
        if rest == "":
            crops = frozenset(s.id for s in note.swatches if read_writing(folder, s.writing))
            return Response(fill_page(note, self._tubes, crops), mimetype="text/html")
        if rest in FILES:
            return Response(page_file(rest), mimetype=FILES[rest])
        crops_of = {f"writing/{swatch.id}": swatch.writing for swatch in note.swatches}
        crop = read_writing(folder, crops_of.get(rest))
        if crop is None:
            raise NotFound("There is nothing here")
        return Response(crop[0], mimetype=crop[1])

    def _post(self, request: Request, rest: str) -> Response:
        origin = request.headers.get("Origin")
        if request.mimetype != "application/json" or origin not in {None, f"http://{request.host}"}:
            raise Forbidden("Only the page itself may write")
        data = request.get_data()
        if rest == "recipe":
            typed = _TypedRecipe.model_validate_json(data, strict=True)
            return _json(asdict(tell_recipe(typed.text, self._tubes)))
        if rest == "save":
            words = TypeAdapter(Words).validate_json(data, strict=True)
            with self._saving:
                self._keeper.save(words)
            self.saved = True
            return _json({"message": f"Saved in {self._keeper.path.name}"})
        if rest == "close":
            response = _json({})
            response.call_on_close(self.stop)  # after the answer was sent
            return response
        raise NotFound("There is nothing here")


class _QuietHandler(WSGIRequestHandler):
    """Prints nothing, because the addresses hold the token."""

    def log(self, type: str, message: str, *args: Any) -> None:  # noqa: A002 - werkzeug's own name
        pass


def _json(data: dict[str, Any], status: int = 200) -> Response:
    return Response(json.dumps(data, ensure_ascii=False), status=status, mimetype="application/json")
