"""Handwriting read for the page, in a process of its own, and offered where a recipe is still missing."""

from __future__ import annotations

import asyncio
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from multiprocessing import get_context
from typing import TYPE_CHECKING, Any, Final

from pebble import ProcessExpired, ProcessPool
from starlette.concurrency import run_in_threadpool

from swatchread.archive.card_pictures import WRITING
from swatchread.archive.confirmed_writing import ConfirmedWriting
from swatchread.archive.picture_archive import PictureArchive
from swatchread.archive.results import CardView
from swatchread.batch.worker_pool import prepare, without_interrupts
from swatchread.writing.installed import is_installed

if TYPE_CHECKING:
    from swatchread.writing.note_writing import WritingReader

_SECONDS: Final = 120.0
"""How long a card's writing may take; 18 crops take about three."""

_CARDS_A_PROCESS: Final = 200
"""Cards after which the process is started anew."""


_MOST_BEGUN: Final = 4
"""Cards whose handwriting is read before anyone asks for it (choice): the one that is shown and the next."""


@dataclass(frozen=True, slots=True)
class WritingTask:
    """Crops to read, by the id of their swatches, and what is known of the hand."""

    crops: tuple[tuple[str, bytes], ...]
    known: ConfirmedWriting
    tubes: str


@dataclass(slots=True)
class WritingDesk:
    """Reads the handwriting of one card after the other."""

    _pool: ProcessPool | None = field(default=None, init=False)
    _one_at_a_time: asyncio.Lock = field(default_factory=asyncio.Lock, init=False)
    _begun: dict[tuple[int, int], asyncio.Task[list[dict[str, Any]]]] = field(default_factory=dict, init=False)

    def prepare(self, archive: PictureArchive, view: CardView) -> None:
        """Begin to read the handwriting of a card that is shown soon, so that its offers are ready then."""
        key = view.card, view.edition
        if key not in self._begun:
            while len(self._begun) >= _MOST_BEGUN:
                self._begun.pop(next(iter(self._begun))).cancel()
            self._begun[key] = asyncio.create_task(self._read(archive, view))

    async def offers(self, archive: PictureArchive, view: CardView) -> list[dict[str, Any]]:
        """Return what the handwriting of a card may say, for each swatch that has no recipe yet.

        Parameters
        ----------
        archive : PictureArchive
        view : CardView

        Returns
        -------
        list of dict
            ``id``, ``text``, and ``unsure``: what is to be looked at closely. Empty where handwriting
            cannot be read.
        """
        begun = self._begun.pop((view.card, view.edition), None)
        return await (begun or self._read(archive, view))

    async def _read(self, archive: PictureArchive, view: CardView) -> list[dict[str, Any]]:
        task = await run_in_threadpool(_task, archive, view) if is_installed() else None
        if task is None:
            return []
        async with self._one_at_a_time:
            if self._pool is None or not self._pool.active:
                self._pool = ProcessPool(1, _CARDS_A_PROCESS, prepare, context=get_context("spawn"))
            with without_interrupts():
                future = self._pool.schedule(read_offers, (task,), timeout=_SECONDS)
            try:
                offers: list[dict[str, Any]] = await asyncio.wrap_future(future)
            except (TimeoutError, ProcessExpired):  # an offer that does not come is no fault: the painter types
                return []
            return offers

    def close(self) -> None:
        """End the process."""
        for task in self._begun.values():
            task.cancel()
        if self._pool is not None:
            self._pool.stop()  # type: ignore[no-untyped-call]
            self._pool.join()
            self._pool = None


def read_offers(task: WritingTask) -> list[dict[str, Any]]:
    """Read the crops of a task; see `WritingDesk.offers`."""
    from swatchread.writing.note_writing import decode_crop

    reader, offered = _reader(task.known, task.tubes), []
    for swatch, data in task.crops:
        crop = decode_crop(data)
        offer = None if crop is None else reader.read(crop)
        if offer is not None and offer.text:
            offered.append({"id": swatch, "text": offer.text, "unsure": list(offer.doubts)})
    return offered


@lru_cache(maxsize=1)
def _reader(known: ConfirmedWriting, tubes: str) -> WritingReader:
    """Return the reader for a hand; what was confirmed is looked at once, not for each card."""
    from swatchread.recipes.tubes import TubeList
    from swatchread.writing.note_writing import WritingReader, confirmed_crops

    return WritingReader(TubeList.model_validate_json(tubes), known.recipes, confirmed_crops(known.crops))


def _task(archive: PictureArchive, view: CardView) -> WritingTask | None:
    """Return what is to be read of a card; None if nothing is."""
    open_swatches = [swatch.id for swatch in view.note.swatches if not swatch.recipe.strip()]
    crops = _crops(archive, view.card, open_swatches)
    if not crops:
        return None
    return WritingTask(crops, archive.known_writing(), archive.tubes.known().model_dump_json())


def _crops(archive: PictureArchive, card: int, swatches: Sequence[str]) -> tuple[tuple[str, bytes], ...]:
    store = archive.pictures
    digests = store.of(card)
    found = ((swatch, store.picture(digests.get(f"{WRITING}{swatch}", ""))) for swatch in swatches)
    return tuple((swatch, picture.data) for swatch, picture in found if picture is not None)
