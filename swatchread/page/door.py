"""Who is answered: only requests that know the token, name this server as their host and come from its own pages.

A door stands before the application, once for this computer and once for a phone that was let in. It also caps what a
request may send, ends requests that are sent too slowly, and puts the security headers on every answer.
"""

from __future__ import annotations

import asyncio
import json
import secrets
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Final

from starlette.types import ASGIApp, Message, Receive, Scope, Send

MAX_JSON_BODY: Final = 1024 * 1024
"""Bytes of a request without files (choice): all the texts of a large card are less."""

MAX_UPLOAD_BODY: Final = 400 * 1024 * 1024
"""Bytes of a request with files (choice): far above what cameras write. A larger scan is read from its folder."""

SECONDS_PER_CHUNK: Final = 20.0
"""How long a part of a request's body may take (choice); a phone that walks out of reach stops sending."""

SECONDS_PER_BODY: Final = 600.0
"""How long a whole body may take (choice): the largest photo over a slow home network."""

_POLICY: Final = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' blob:; font-src 'self'; "
    "connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
)
HEADERS: Final = {
    "content-security-policy": _POLICY,
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "referrer-policy": "no-referrer",  # the address holds the token
    "x-content-type-options": "nosniff",
    "x-frame-options": "DENY",
}
"""On every answer. An answer that says nothing else is not kept by the browser."""

_CLOSE: Final = (b"connection", b"close")
"""Ends the connection with the answer: the rest of a body that is too large or too slow is not waited for."""

_READING_METHODS: Final = frozenset({"GET", "HEAD"})


class RefusedRequest(Exception):  # noqa: N818 - not a failure of the program: the request gets this answer
    """A request that is answered with a status and one sentence."""

    def __init__(self, status: int, message: str) -> None:
        super().__init__(message)
        self.status = status
        self.message = message


@dataclass(slots=True)
class Door:
    """One way in.

    Attributes
    ----------
    hosts : frozenset of str
        What a request may name as its host, with the port.
    token : str
        The first part of every path.
    is_open : callable
        Whether anyone is answered; a phone's door is shut again.
    is_phone : bool
        Whether it is a phone's, which may let nobody else in.
    """

    hosts: frozenset[str]
    token: str = field(default_factory=lambda: secrets.token_urlsafe(24))
    is_open: Callable[[], bool] = lambda: True
    is_phone: bool = False

    def require(self, scope: Scope) -> None:
        """Refuse a request that does not belong here.

        Raises
        ------
        RefusedRequest
        """
        headers = {name.decode("latin-1"): value.decode("latin-1") for name, value in scope["headers"]}
        if not self.is_open():
            raise RefusedRequest(404, "There is nothing here")
        # A page from elsewhere may reach this address under a name of its own, which is not answered.
        host = headers.get("host", "")
        if host not in self.hosts:
            raise RefusedRequest(403, "This address is not answered")
        given = scope["path"].split("/")[1] if "/" in scope["path"] else ""
        if not secrets.compare_digest(given.encode("utf-8", "replace"), self.token.encode()):
            raise RefusedRequest(404, "There is nothing here")
        if scope["method"] in _READING_METHODS:
            return
        foreign = headers.get("origin", f"http://{host}") != f"http://{host}"
        if foreign or headers.get("sec-fetch-site", "same-origin") not in {"same-origin", "none"}:
            raise RefusedRequest(403, "Only the page itself may change something")


class GuardedApplication:
    """An application behind a door.

    Parameters
    ----------
    application : ASGI application
    door : Door
    """

    def __init__(self, application: ASGIApp, door: Door) -> None:
        self._application = application
        self._door = door

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request."""
        if scope["type"] != "http":
            return
        begun = False
        body: _Body | None = None

        async def send_guarded(message: Message) -> None:
            nonlocal begun
            if message["type"] == "http.response.start":
                begun = True
                message["headers"] = _with_headers(message.get("headers", []))
                if body is not None and body.cut_off:
                    message["headers"].append(_CLOSE)
            await send(message)

        try:
            self._door.require(scope)
            inner = {**scope, "root_path": f"/{self._door.token}", "door": self._door}
            body = _Body(scope, receive)
            await self._application(inner, body, send_guarded)
        except RefusedRequest as refused:
            if not begun:
                await _refuse(send_guarded, refused)


class _Body:
    """Receives a body within its size and its time.

    Attributes
    ----------
    cut_off : bool
        Whether the body was too large or too slow; the rest of it is not taken, whoever answers.
    """

    def __init__(self, scope: Scope, receive: Receive) -> None:
        headers = dict(scope["headers"])
        is_upload = headers.get(b"content-type", b"").startswith(b"multipart/form-data")
        self._most = MAX_UPLOAD_BODY if is_upload else MAX_JSON_BODY
        self._receive = receive
        self._got = 0
        self._done = False
        self.cut_off = False
        self._deadline: float | None = None
        declared = headers.get(b"content-length", b"0")
        if not declared.isdigit() or int(declared) > self._most:
            raise RefusedRequest(413, f"More than {self._most // 2**20} MiB is not taken")

    async def __call__(self) -> Message:
        if self._done:  # what follows is only the news that the browser has gone, for which nobody need hurry
            return await self._receive()
        loop = asyncio.get_running_loop()
        self._deadline = self._deadline or loop.time() + SECONDS_PER_BODY
        left = min(SECONDS_PER_CHUNK, self._deadline - loop.time())
        try:
            message = await asyncio.wait_for(self._receive(), max(left, 0.0))
        except TimeoutError as error:
            self.cut_off = True
            raise RefusedRequest(408, "The request was sent too slowly") from error
        self._got += len(message.get("body", b""))
        if self._got > self._most:
            self.cut_off = True
            raise RefusedRequest(413, f"More than {self._most // 2**20} MiB is not taken")
        self._done = not message.get("more_body", False)
        return message


def _with_headers(given: list[tuple[bytes, bytes]]) -> list[tuple[bytes, bytes]]:
    names = {name.lower() for name, _ in given}
    added = {**HEADERS} if b"cache-control" in names else {**HEADERS, "cache-control": "no-store"}
    return [*given, *((name.encode(), value.encode()) for name, value in added.items())]


async def _refuse(send: Send, refused: RefusedRequest) -> None:
    body = json.dumps({"message": refused.message}).encode()
    headers = [(b"content-type", b"application/json"), (b"content-length", str(len(body)).encode()), _CLOSE]
    await send({"type": "http.response.start", "status": refused.status, "headers": headers})
    await send({"type": "http.response.body", "body": body})
