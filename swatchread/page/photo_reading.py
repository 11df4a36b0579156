"""Reading photos for the page, in processes of their own: the page never waits for a reading, nor dies of a photo.

This module imports no numerical library at its top: in each process the worker's preparation has to run before.
"""

from __future__ import annotations

import asyncio
import heapq
from collections.abc import Callable
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass, field, replace
from multiprocessing import get_context
from pathlib import Path
from typing import TYPE_CHECKING, Final

from pebble import ProcessExpired, ProcessPool

from swatchread.batch.worker_pool import PHOTOS_PER_WORKER, prepare, process_ended, without_interrupts
from swatchread.errors import BrokenOffError, PhotoError, SwatchreadError, UnexpectedError

if TYPE_CHECKING:
    from swatchread.archive.card_pictures import Picture
    from swatchread.note.model import Corners
    from swatchread.reading import Reading

SECONDS_PER_PHOTO: Final = 120.0
"""How long a photo may take; the largest takes some seconds, and someone is waiting."""


@dataclass(frozen=True, slots=True)
class ReadingTask:
    """A photo to read.

    Attributes
    ----------
    photo : pathlib.Path
    name : str
        What the note calls it.
    hints : str
        `swatchread.page.pointed_hints.Hints` as text.
    chart : str or None
        A known chart's name or a definition file; None for the usual one.
    corners : four places, or None
        Of the card that is meant, or is to be cut out, photo pixels.
    lone : bool
        Whether a single swatch without a card is looked for too.
    """

    photo: Path
    name: str
    hints: str = ""
    chart: str | None = None
    corners: Corners | None = None
    lone: bool = False


@dataclass(frozen=True, slots=True)
class ReadPhoto:
    """A card in a photo that was read.

    Attributes
    ----------
    note : str
        JSON; empty if it was only to be shown.
    pictures : dict of str to Picture
    others : tuple of ReadPhoto
        The other cards in the photo.
    size : tuple of int
        Width and height of a photo that was only to be shown, pixels.
    """

    note: str
    pictures: dict[str, Picture]
    size: tuple[int, int] = (0, 0)
    others: tuple[ReadPhoto, ...] = ()


@dataclass(frozen=True, slots=True)
class RefusedPhoto:
    """A photo that was refused.

    Attributes
    ----------
    error : SwatchreadError
    picture : Picture or None
        The photo, if it can be decoded.
    size : tuple of int
        Its width and height, pixels.
    """

    error: SwatchreadError
    picture: Picture | None = None
    size: tuple[int, int] = (0, 0)


_Function = Callable[[ReadingTask], ReadPhoto | RefusedPhoto]


@dataclass(slots=True)
class PhotoReaders:
    """Processes that read photos, a few at a time. What is urgent comes before what is not.

    Attributes
    ----------
    size : int
        How many photos are read at a time.
    """

    size: int
    _waiting: list[tuple[int, int, asyncio.Future[None]]] = field(default_factory=list, init=False)
    _count: int = field(default=0, init=False)
    _in_hand: int = field(default=0, init=False)
    _processes: ProcessPool | None = field(default=None, init=False)

    async def read(self, task: ReadingTask, *, urgent: bool = False) -> ReadPhoto | RefusedPhoto:
        """Read a photo."""
        return await self._run(read_for_page, task, urgent=urgent)

    async def pictures_of(self, photo: Path, corners: Corners) -> dict[str, Picture]:
        """Return a photo as a page shows it, and the card cut out of it; nothing if it cannot be decoded."""
        found = await self._run(show_photo, ReadingTask(photo, photo.name, corners=corners), urgent=True)
        return found.pictures if isinstance(found, ReadPhoto) else {}

    def warm_up(self) -> None:
        """Start the processes and let them load what they need, so that the first photo does not wait for it."""
        if self._processes is None:
            for _ in range(self.size):
                self._pool().schedule(load_reader)

    def close(self) -> None:
        """End the processes, and drop what they are reading."""
        if self._processes is not None:
            self._processes.stop()  # type: ignore[no-untyped-call]
            self._processes.join()
            self._processes = None

    def _pool(self) -> ProcessPool:
        if self._processes is not None and not self._processes.active:
            self.close()
        if self._processes is None:
            self._processes = ProcessPool(self.size, PHOTOS_PER_WORKER, prepare, context=get_context("spawn"))
        return self._processes

    async def _run(self, function: _Function, task: ReadingTask, *, urgent: bool) -> ReadPhoto | RefusedPhoto:
        await self._turn(urgent)
        try:
            with without_interrupts():
                future = self._pool().schedule(function, (task,), timeout=SECONDS_PER_PHOTO)
            outcome: ReadPhoto | RefusedPhoto = await asyncio.wrap_future(future)
        except TimeoutError:
            why = f"over {SECONDS_PER_PHOTO:.0f} seconds"
            outcome = RefusedPhoto(BrokenOffError(f"{task.name} took too long", why))
        except ProcessExpired as expired:
            outcome = RefusedPhoto(process_ended(task.name, expired.exitcode or 0))
        except BrokenProcessPool as broken:
            outcome = RefusedPhoto(BrokenOffError(f"The reading of {task.name} was broken off", str(broken)))
        finally:
            self._give_turn()
        return outcome

    async def _turn(self, urgent: bool) -> None:
        if self._in_hand < self.size:
            self._in_hand += 1
            return
        turn: asyncio.Future[None] = asyncio.get_running_loop().create_future()
        self._count += 1
        heapq.heappush(self._waiting, (0 if urgent else 1, self._count, turn))
        await turn

    def _give_turn(self) -> None:
        while self._waiting:
            _, _, turn = heapq.heappop(self._waiting)
            if not turn.done():
                turn.set_result(None)
                return
        self._in_hand -= 1


def load_reader() -> None:
    """Load what reading a photo needs."""
    from swatchread.chart.definition import load_chart
    from swatchread.report import reading_pictures
    from swatchread.setup import setup_reading

    load_chart()
    assert reading_pictures and setup_reading  # noqa: S101, PT018 - loaded for later


def read_for_page(task: ReadingTask) -> ReadPhoto | RefusedPhoto:
    """Read a photo, with its pictures."""
    from swatchread.page.pointed_hints import Hints
    from swatchread.setup.setup_reading import cards_reader

    try:
        hints = Hints.read(task.hints)
        if task.lone:
            from swatchread.reading import read_card

            return ReadPhoto(read_card(task.photo, lone=True).note.to_json(), {})
        read = cards_reader(task.chart, None, accept_poor=hints.accept_poor, pointed=hints.manual_hints(task.corners))
        first, *others = (_shown_card(reading, task.name) for reading in read(task.photo))
        return replace(first, others=tuple(others))
    except SwatchreadError as refusal:
        error = _renamed(refusal, task)
    except MemoryError:
        error = UnexpectedError(f"{task.name} needs too much memory", "", "Reduce it, and read it again")
    except Exception as fault:  # noqa: BLE001 - whatever a photo does, the page goes on and says what happened
        error = UnexpectedError(f"{task.name} met a fault", f"{type(fault).__name__}: {fault}")
    shown = None if isinstance(error, PhotoError) else show_photo(task)
    return (
        RefusedPhoto(error, shown.pictures["photo"], shown.size)
        if isinstance(shown, ReadPhoto)
        else RefusedPhoto(error)
    )


def _shown_card(reading: Reading, name: str) -> ReadPhoto:
    """Return a card that was read, its photo under the painter's name for it."""
    from swatchread.report.reading_pictures import reading_pictures

    named = reading.note.photo.model_copy(update={"file": name})
    note = reading.note.model_copy(update={"photo": named})
    return ReadPhoto(note.to_json(), reading_pictures(reading, note))


def show_photo(task: ReadingTask) -> ReadPhoto | RefusedPhoto:
    """Return a photo for the screen, and the card cut out of it if its corners are known; nothing is read."""
    from swatchread.report.reading_pictures import photo_pictures

    try:
        return ReadPhoto("", *photo_pictures(task.photo, task.corners))
    except SwatchreadError as error:
        return RefusedPhoto(error)


def _renamed(error: SwatchreadError, task: ReadingTask) -> SwatchreadError:
    """Return an error that calls the photo as the painter does."""
    return type(error)(*(text.replace(task.photo.name, task.name) for text in (error.what, error.why, error.remedy)))
