"""Reading photos for the page, in processes of their own: the page never waits for a reading, nor dies of a photo.

This module imports no numerical library at its top: in each process the worker's preparation has to run before.
"""

from __future__ import annotations

import asyncio
import heapq
from collections.abc import Callable
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass, field, replace
from functools import cache
from multiprocessing import get_context
from pathlib import Path
from typing import TYPE_CHECKING, Final

from pebble import ProcessExpired, ProcessPool

from swatchread.batch.worker_pool import PHOTOS_PER_WORKER, prepare, process_ended, without_interrupts
from swatchread.correction.known_stock import KnownStocks
from swatchread.errors import BrokenOffError, PhotoError, SwatchreadError, UnexpectedError

if TYPE_CHECKING:
    from swatchread.archive.card_pictures import Picture
    from swatchread.note.model import Corners
    from swatchread.photo.stage_memory import StageMemory
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
    stocks : KnownStocks
        What the archive's cards say of the stock.
    """

    photo: Path
    name: str
    hints: str = ""
    chart: str | None = None
    corners: Corners | None = None
    lone: bool = False
    stocks: KnownStocks = field(default_factory=KnownStocks)


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


class _Reader:
    """A process that reads one photo at a time, and remembers the last."""

    def __init__(self) -> None:
        self.last: Path | None = None
        self._process: ProcessPool | None = None

    def start(self) -> ProcessPool:
        """Return the process, which is started if there is none."""
        if self._process is not None and not self._process.active:
            self.close()
        if self._process is None:
            self._process = ProcessPool(1, PHOTOS_PER_WORKER, prepare, context=get_context("spawn"))
        return self._process

    async def run(self, function: _Function, task: ReadingTask) -> ReadPhoto | RefusedPhoto:
        self.last = task.photo
        with without_interrupts():
            future = self.start().schedule(function, (task,), timeout=SECONDS_PER_PHOTO)
        outcome: ReadPhoto | RefusedPhoto = await asyncio.wrap_future(future)
        return outcome

    def close(self) -> None:
        """End the process, and drop what it is reading."""
        if self._process is not None:
            self._process.stop()  # type: ignore[no-untyped-call]
            self._process.join()
            self._process = None


@dataclass(slots=True)
class PhotoReaders:
    """Processes that read photos, a few at a time. What is urgent comes before what is not.

    Attributes
    ----------
    size : int
        How many photos are read at a time.
    """

    size: int
    _waiting: list[tuple[int, int, asyncio.Future[_Reader]]] = field(default_factory=list, init=False)
    _count: int = field(default=0, init=False)
    _free: list[_Reader] = field(init=False)
    _all: tuple[_Reader, ...] = field(init=False)

    def __post_init__(self) -> None:
        self._all = tuple(_Reader() for _ in range(self.size))
        self._free = list(self._all)

    async def read(self, task: ReadingTask, *, urgent: bool = False) -> ReadPhoto | RefusedPhoto:
        """Read a photo."""
        return await self._run(read_for_page, task, urgent=urgent)

    async def pictures_of(self, photo: Path, corners: Corners) -> dict[str, Picture]:
        """Return a photo as a page shows it, and the card cut out of it; nothing if it cannot be decoded."""
        found = await self._run(show_photo, ReadingTask(photo, photo.name, corners=corners), urgent=True)
        return found.pictures if isinstance(found, ReadPhoto) else {}

    async def take_in_hand(self, task: ReadingTask) -> None:
        """Have a reader that has nothing to do remember a photo which will probably be corrected soon."""
        if self._free and all(reader.last != task.photo for reader in self._all):
            await self._run(read_for_page, task, urgent=True)

    def warm_up(self) -> None:
        """Start the processes and let them load what they need, so that the first photo does not wait for it."""
        for reader in self._free:
            reader.start().schedule(load_reader)

    def close(self) -> None:
        """End the processes, and drop what they are reading."""
        for reader in self._all:
            reader.close()

    async def _run(self, function: _Function, task: ReadingTask, *, urgent: bool) -> ReadPhoto | RefusedPhoto:
        reader = await self._reader_for(task.photo, urgent)
        try:
            return await reader.run(function, task)
        except TimeoutError:
            why = f"over {SECONDS_PER_PHOTO:.0f} seconds"
            return RefusedPhoto(BrokenOffError(f"{task.name} took too long", why))
        except ProcessExpired as expired:
            return RefusedPhoto(process_ended(task.name, expired.exitcode or 0))
        except BrokenProcessPool as broken:
            return RefusedPhoto(BrokenOffError(f"The reading of {task.name} was broken off", str(broken)))
        finally:
            self._give_back(reader)

    async def _reader_for(self, photo: Path, urgent: bool) -> _Reader:
        """Return the reader that remembers a photo if it is free, or any that is."""
        if self._free:
            chosen = next((reader for reader in self._free if reader.last == photo), self._free[0])
            self._free.remove(chosen)
            return chosen
        turn: asyncio.Future[_Reader] = asyncio.get_running_loop().create_future()
        self._count += 1
        heapq.heappush(self._waiting, (0 if urgent else 1, self._count, turn))
        return await turn

    def _give_back(self, reader: _Reader) -> None:
        while self._waiting:
            _, _, turn = heapq.heappop(self._waiting)
            if not turn.done():
                turn.set_result(reader)
                return
        self._free.append(reader)


def load_reader() -> None:
    """Load what reading a photo needs."""
    from PIL import Image
    from scipy.sparse import csgraph

    from swatchread import reading
    from swatchread.chart.definition import load_chart
    from swatchread.report import reading_pictures

    load_chart()
    Image.init()
    assert csgraph and reading_pictures and reading  # noqa: S101, PT018 - loaded for later


@cache
def _memory() -> StageMemory:
    """Return what this process remembers of the last photo, which is often corrected next."""
    from swatchread.photo.stage_memory import StageMemory

    return StageMemory()


def read_for_page(task: ReadingTask) -> ReadPhoto | RefusedPhoto:
    """Read a photo, with its pictures."""
    from swatchread.page.pointed_hints import Hints
    from swatchread.setup.setup_reading import cards_reader

    try:
        hints = Hints.read(task.hints)
        if task.lone:
            from swatchread.reading import read_lone_swatch

            return ReadPhoto(read_lone_swatch(task.photo).note.to_json(), {})
        pointed = hints.manual_hints(task.corners)
        read = cards_reader(
            task.chart,
            None,
            accept_poor=hints.accept_poor,
            pointed=pointed,
            stocks=task.stocks,
            memory=_memory(),
        )
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
