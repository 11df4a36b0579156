"""Where photos become cards: each that came in is read, kept in the archive, and told to whoever listens."""

from __future__ import annotations

import asyncio
import contextlib
from collections.abc import AsyncIterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final

from starlette.concurrency import run_in_threadpool

from swatchread import __version__
from swatchread.archive.card_pictures import PHOTO
from swatchread.archive.photo_cards import whole_photo
from swatchread.archive.picture_archive import PictureArchive
from swatchread.archive.results import CardView
from swatchread.archive.stocks import known_stocks
from swatchread.correction.known_stock import KnownStocks
from swatchread.errors import PhotoError, SwatchreadError, UsageError
from swatchread.note.doubts import settle
from swatchread.note.entered_words import carried_words
from swatchread.note.model import Note, parse_note
from swatchread.page.failure_words import page_remedy
from swatchread.page.inbox import Arrival, Failure, Inbox
from swatchread.page.photo_reading import PhotoReaders, ReadingTask, ReadPhoto, RefusedPhoto
from swatchread.page.pointed_hints import Hints

_MOST_EVENTS: Final = 200
"""Events that wait for a listener who does not take them; such a one is let go."""


class Listeners:
    """Those who wait for news."""

    def __init__(self) -> None:
        self._queues: set[asyncio.Queue[dict[str, Any]]] = set()

    @contextlib.contextmanager
    def listening(self) -> Any:
        """Provide a queue of news."""
        queue: asyncio.Queue[dict[str, Any]] = asyncio.Queue(_MOST_EVENTS)
        self._queues.add(queue)
        try:
            yield queue
        finally:
            self._queues.discard(queue)

    def tell(self, **news: Any) -> None:
        """Tell all listeners something."""
        for queue in list(self._queues):
            try:
                queue.put_nowait(news)
            except asyncio.QueueFull:
                self._queues.discard(queue)


@dataclass(slots=True)
class ReadingDesk:
    """Reads what comes in, and what is to be read otherwise.

    Attributes
    ----------
    archive : PictureArchive
    inbox : Inbox
    readers : PhotoReaders
    chart : str or None
        The chart beside the cards; None for the usual one.
    """

    archive: PictureArchive
    inbox: Inbox
    readers: PhotoReaders
    chart: str | None = None
    news: Listeners = field(default_factory=Listeners, init=False)
    _tasks: dict[str, asyncio.Task[None]] = field(default_factory=dict, init=False)
    _one_at_a_time: dict[int, asyncio.Lock] = field(default_factory=dict, init=False)

    def resume(self) -> None:
        """Go on with what was waiting when the program last ended."""
        for arrival in self.inbox:
            if arrival.state == "waiting":
                self.begin(arrival)

    def begin(self, arrival: Arrival) -> None:
        """Have a photo read, unless it is being read."""
        if arrival.id not in self._tasks:
            task = asyncio.create_task(self._read(arrival))
            self._tasks[arrival.id] = task
            task.add_done_callback(lambda _: self._tasks.pop(arrival.id, None))
        self.news.tell(photo=arrival.id, state="waiting")

    async def close(self) -> None:
        """End what is being read; it is begun again at the next start."""
        tasks = list(self._tasks.values())
        for task in tasks:
            task.cancel()
        await asyncio.gather(*tasks, return_exceptions=True)
        await run_in_threadpool(self.readers.close)

    async def _read(self, arrival: Arrival) -> None:
        try:
            cards = await self._known_cards(arrival)
            if not cards:
                photo = self.inbox.photo(arrival.id)
                if photo is None:
                    return
                stocks = await run_in_threadpool(self._stocks)
                task = ReadingTask(photo, arrival.name, arrival.hints, self.chart, stocks=stocks)
                outcome = await self.readers.read(task)
                if isinstance(outcome, RefusedPhoto):
                    await self._refuse(arrival, outcome)
                    return
                cards = await run_in_threadpool(self._keep, outcome, arrival.hints)
            await run_in_threadpool(self.inbox.note, arrival.model_copy(update={"state": "read", "failure": None}))
            for card in cards:
                self.news.tell(photo=arrival.id, state="read", card=card)
        except SwatchreadError as error:  # the archive or the disk failed
            await self._refuse(arrival, RefusedPhoto(error))

    def _stocks(self, card: CardView | None = None) -> KnownStocks:
        """Return what the archive's other cards say of the stock, and what the painter calls that of this card."""
        if card is None:
            return KnownStocks(known_stocks(self.archive))
        return KnownStocks(known_stocks(self.archive, without=card.card), card.note.card_info.support)

    async def _known_cards(self, arrival: Arrival) -> tuple[int, ...]:
        """Return the cards of a photo that was read before as it would be read now."""
        if arrival.hints:
            return ()
        return await run_in_threadpool(whole_photo, self.archive, arrival.id, __version__)

    def _keep(self, outcome: ReadPhoto, hints: str) -> tuple[int, ...]:
        cards = (outcome, *outcome.others)
        return tuple(self.archive.add_read(parse_note(one.note), one.pictures, hints).card for one in cards)

    async def _refuse(self, arrival: Arrival, outcome: RefusedPhoto) -> None:
        error = outcome.error
        failure = Failure(code=error.code, what=error.what, why=error.why, remedy=page_remedy(error))
        width, height = outcome.size
        told = {"state": "refused", "failure": failure, "width": width, "height": height}
        refused = arrival.model_copy(update=told)
        with contextlib.suppress(SwatchreadError):  # a full disk: what is on the page stays until the program ends
            if outcome.picture is not None:
                await run_in_threadpool(self.inbox.keep_picture, arrival.id, outcome.picture.data)
            await run_in_threadpool(self.inbox.note, refused)
        self.news.tell(photo=arrival.id, state="refused")

    async def photo_of(self, card: CardView) -> Path | None:
        """Return the file of a card's photo if it can be found here, as it was read."""
        digest = card.note.photo.sha256
        return self.inbox.photo(digest) or await run_in_threadpool(self.archive.photo_file, card.card)

    async def correct(self, card: CardView, hints: Hints, edition: int) -> CardView:
        """Read a card again as the painter has pointed, and keep what was there to be undone.

        Parameters
        ----------
        card : CardView
        hints : Hints
        edition : int
            Of the note that the painter saw.

        Returns
        -------
        CardView

        Raises
        ------
        ConflictError
            If the card was changed meanwhile.
        SwatchreadError
            If it can't be read so. Nothing is changed.
        """
        async with self._one_at_a_time.setdefault(card.card, asyncio.Lock()):
            photo = await self._photo_to_read(card)
            stocks = await run_in_threadpool(self._stocks, card)
            meant = card.note.card.corners
            task = ReadingTask(photo, card.note.photo.file, hints.text(), self.chart, meant, stocks=stocks)
            outcome = await self.readers.read(task, urgent=True)
            if isinstance(outcome, RefusedPhoto):
                raise outcome.error
            corrected = await run_in_threadpool(self._keep_corrected, card.card, outcome, hints, edition)
        self.news.tell(card=card.card, state="corrected")
        return corrected

    async def take_in_hand(self, card: CardView, hints: str) -> None:
        """Have a card's photo decoded and searched, because it will probably be corrected; nothing is kept of it.

        Parameters
        ----------
        card : CardView
        hints : str
            What is pointed at on it now, `swatchread.page.pointed_hints.Hints` as text.
        """
        photo = await self.photo_of(card)
        if photo is not None:
            async with self._one_at_a_time.setdefault(card.card, asyncio.Lock()):  # a correction begins where this ends
                await self.readers.take_in_hand(ReadingTask(photo, card.note.photo.file, hints, self.chart))

    def _keep_corrected(self, card: int, outcome: ReadPhoto, hints: Hints, edition: int) -> CardView:
        fresh = parse_note(outcome.note)

        def change(kept: Note) -> Note:
            # The card keeps its letter, however its neighbours are counted now.
            named = {"letter": kept.card.letter, "cards": kept.card.cards}
            corrected = fresh.model_copy(update={"card": fresh.card.model_copy(update=named)})
            return settle(carried_words(kept, corrected), "grid")  # whoever corrects a card has looked at its grid

        return self.archive.correct(card, change, outcome.pictures, hints.text(), expected=edition)

    async def _photo_to_read(self, card: CardView) -> Path:
        if card.note.photos:
            raise UsageError(
                f"Card {card.card} was made of {len(card.note.photos)} photos and cannot be corrected as one",
                "",
                "Drop one of the photos here and correct that",
            )
        photo = await self.photo_of(card)
        if photo is None:
            raise PhotoError(
                f"The photo {card.note.photo.file} of this card is not on this computer",
                "",
                "Drop it on the page Cards",
            )
        return photo

    async def undo(self, card: CardView, edition: int) -> CardView:
        """Bring back how a card was read before the last correction, with today's words.

        Raises
        ------
        ConflictError
            If the card was changed meanwhile.
        ArchiveError
            If nothing can be undone.
        """
        async with self._one_at_a_time.setdefault(card.card, asyncio.Lock()):
            view = await run_in_threadpool(self._undone, card.card, edition)
        self.news.tell(card=card.card, state="corrected")
        return view

    def _undone(self, card: int, edition: int) -> CardView:
        return self.archive.undo(card, carried_words, expected=edition)

    async def pictures_of(self, card: CardView) -> dict[str, str]:
        """Return the hashes of a card's pictures; what it lacks is made if its photo or its files are here."""
        store = self.archive.pictures
        roles = await run_in_threadpool(store.of, card.card)
        if not roles:
            await run_in_threadpool(self.archive.take_pictures_beside, card.card)
        if PHOTO not in roles and (photo := await self.photo_of(card)) is not None:
            more = await self.readers.pictures_of(photo, card.note.card.corners)
            await run_in_threadpool(self.archive.add_pictures, card.card, more)
        return roles if PHOTO in roles else await run_in_threadpool(store.of, card.card)


async def events(news: Listeners, every: float) -> AsyncIterator[dict[str, Any] | None]:
    """Yield news as they come, and None after every so many seconds of silence."""
    with news.listening() as queue:
        while True:
            try:
                yield await asyncio.wait_for(queue.get(), every)
            except TimeoutError:
                yield None
