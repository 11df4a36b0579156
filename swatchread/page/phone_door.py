"""A way in for a phone on the home network: off until it is asked for, with a token of its own, and off again."""

from __future__ import annotations

import asyncio
import contextlib
import socket
from collections.abc import Callable
from typing import Any, Final

from starlette.types import ASGIApp

from swatchread.errors import UsageError
from swatchread.page.door import Door, GuardedApplication

_ELSEWHERE: Final = ("192.0.2.1", 9)
"""An address for documentation (RFC 5737): nothing is sent, the system only says by which way it would go."""

Serving = Callable[[ASGIApp, socket.socket], Any]


def home_address() -> str:
    """Return this computer's address in the home network.

    Raises
    ------
    UsageError
        If it is in none.
    """
    try:
        with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as asking:
            asking.connect(_ELSEWHERE)
            address: str = asking.getsockname()[0]
    except OSError as error:
        raise UsageError(
            "No phone can be let in: this computer is in no network",
            error.strerror or str(error),
            "Connect it to the network that the phone is in",
        ) from error
    return address


class PhoneDoor:
    """Lets phones in while it is open.

    Parameters
    ----------
    application : ASGI application
    serving : callable
        From an application and a socket to an asynchronous context in which it is served.
    listen : callable
        From a host and a port to a socket.
    """

    def __init__(self, application: ASGIApp, serving: Serving, listen: Callable[[str, int], socket.socket]) -> None:
        self._application = application
        self._serving = serving
        self._listen = listen
        self._door: Door | None = None
        self._shut = asyncio.Event()
        self._task: asyncio.Task[None] | None = None
        self.address = ""

    @property
    def is_open(self) -> bool:
        """Whether phones are answered."""
        return bool(self.address)

    async def open(self) -> str:
        """Let phones in, and return the address with a new token; the address that there is if it is open already.

        Raises
        ------
        UsageError
            If this computer is in no network.
        """
        if self.is_open:
            return self.address
        host = home_address()
        listening = self._listen(host, 0)
        self._shut = asyncio.Event()
        shut = self._shut
        port = listening.getsockname()[1]
        self._door = Door(frozenset({f"{host}:{port}"}), is_open=lambda: not shut.is_set(), is_phone=True)
        self.address = f"http://{host}:{port}/{self._door.token}/"
        self._task = asyncio.create_task(self._serve(GuardedApplication(self._application, self._door), listening))
        return self.address

    async def close(self) -> None:
        """Let no phone in any more: the token is worth nothing from now on."""
        self.address = ""
        self._shut.set()
        if self._task is not None:
            with contextlib.suppress(asyncio.CancelledError):
                await self._task
            self._task = None

    async def _serve(self, application: ASGIApp, listening: socket.socket) -> None:
        async with self._serving(application, listening):
            await self._shut.wait()
