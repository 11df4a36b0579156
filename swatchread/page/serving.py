"""The server: HTTP on the loopback address, until it is stopped."""

from __future__ import annotations

import asyncio
import contextlib
import socket
import threading
from collections.abc import AsyncIterator, Iterator
from pathlib import Path
from typing import Any, Final

import uvicorn
from starlette.types import ASGIApp
from uvicorn.protocols.http.h11_impl import H11Protocol

from swatchread.errors import UsageError
from swatchread.page.application import build_application
from swatchread.page.door import Door, GuardedApplication
from swatchread.page.folder_watch import watch_folder
from swatchread.page.phone_door import PhoneDoor
from swatchread.page.studio import Studio

LOOPBACK: Final = "127.0.0.1"

SECONDS_FOR_HEAD: Final = 10.0
"""How long a request's head may take (choice); browsers send it at once."""

_SECONDS_AT_THE_END: Final = 2
"""How long answers in hand may take once the server stops."""


_SECONDS_BEFORE_READERS: Final = 1.0
"""How long after the server the processes that read photos are started; nobody drops a photo sooner."""


class PageServer:
    """Serves the pages on this computer until it is stopped.

    Parameters
    ----------
    studio : Studio
    port : int
        0 takes one that is free.
    watched : pathlib.Path, optional
        A folder from which photos are taken in as they arrive.

    Raises
    ------
    UsageError
        If the port is taken.
    """

    def __init__(self, studio: Studio, port: int = 0, watched: Path | None = None) -> None:
        self._socket = listen(LOOPBACK, port)
        self.port: int = self._socket.getsockname()[1]
        self.door = Door(frozenset({f"{LOOPBACK}:{self.port}", f"localhost:{self.port}"}))
        self._studio = studio
        self._watched = watched
        self._application = build_application(studio)
        self._loop: asyncio.AbstractEventLoop | None = None
        self._ended: asyncio.Event | None = None
        self.ready = threading.Event()

    @property
    def address(self) -> str:
        """The address of the pages, with the token."""
        return f"http://{LOOPBACK}:{self.port}/{self.door.token}/"

    def serve(self) -> None:
        """Answer until `stop` is called or Ctrl-C is pressed."""
        with contextlib.suppress(asyncio.CancelledError):
            asyncio.run(self._serve())

    def stop(self) -> None:
        """End `serve` from another thread."""
        if self._loop is not None and self._ended is not None:
            with contextlib.suppress(RuntimeError):  # it has ended
                self._loop.call_soon_threadsafe(self._ended.set)

    async def _serve(self) -> None:
        self._loop, self._ended = asyncio.get_running_loop(), asyncio.Event()
        studio = self._studio
        studio.phone = PhoneDoor(self._application, serving, listen)
        watch = asyncio.create_task(watch_folder(self._watched, studio.desk)) if self._watched else None
        try:
            async with serving(GuardedApplication(self._application, self.door), self._socket):
                # The browser asks for the first page now; the readers' start would take the processor from it.
                self._loop.call_later(_SECONDS_BEFORE_READERS, studio.desk.readers.warm_up)
                studio.desk.resume()
                self.ready.set()
                await self._ended.wait()
        finally:
            if watch is not None:
                watch.cancel()
            await studio.phone.close()
            await studio.desk.close()
            studio.writing.close()


@contextlib.asynccontextmanager
async def serving(application: ASGIApp, listening: socket.socket) -> AsyncIterator[None]:
    """Serve an application on a socket for as long as the context lasts."""
    server = _Server(
        uvicorn.Config(
            application,
            http=_PatientProtocol,
            ws="none",
            lifespan="off",
            access_log=False,  # the addresses hold the token
            log_config=None,
            log_level="critical",
            server_header=False,
            timeout_graceful_shutdown=_SECONDS_AT_THE_END,
        )
    )
    task = asyncio.create_task(server.serve(sockets=[listening]))
    try:
        yield
    finally:
        server.should_exit = True
        await asyncio.shield(task)


def listen(host: str, port: int) -> socket.socket:
    """Return a socket that listens.

    Raises
    ------
    UsageError
        If the port is taken.
    """
    listening = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listening.bind((host, port))
    except (OSError, OverflowError) as error:
        listening.close()
        why = getattr(error, "strerror", None) or str(error)
        raise UsageError(f"Port {port} cannot be used", why, "Leave out --port, and a free one is taken") from error
    listening.listen(128)
    return listening


class _Server(uvicorn.Server):
    """Leaves signals to the program."""

    @contextlib.contextmanager
    def capture_signals(self) -> Iterator[None]:
        yield


class _PatientProtocol(H11Protocol):
    """Closes a connection whose request does not come within `SECONDS_FOR_HEAD`."""

    _head_timer: asyncio.TimerHandle | None = None

    def connection_made(self, transport: Any) -> None:
        super().connection_made(transport)
        self._await_head()

    def handle_events(self) -> None:
        super().handle_events()
        if self.cycle is not None and not self.cycle.response_complete:
            self._stop_waiting()

    def on_response_complete(self) -> None:
        self._await_head()
        super().on_response_complete()

    def connection_lost(self, exc: Exception | None) -> None:
        self._stop_waiting()
        super().connection_lost(exc)

    def _await_head(self) -> None:
        self._stop_waiting()
        self._head_timer = self.loop.call_later(SECONDS_FOR_HEAD, self._close)

    def _stop_waiting(self) -> None:
        if self._head_timer is not None:
            self._head_timer.cancel()
            self._head_timer = None

    def _close(self) -> None:
        if not self.transport.is_closing():
            self.transport.close()
