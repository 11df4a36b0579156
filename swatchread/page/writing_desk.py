"""Handwriting read for the page, in a process of its own, and offered where a recipe is still missing."""

from __future__ import annotations

import asyncio
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date
from functools import lru_cache
from multiprocessing import get_context
from typing import TYPE_CHECKING, Any, Final

from pebble import ProcessExpired, ProcessPool
from starlette.concurrency import run_in_threadpool

from swatchread.archive.card_pictures import HEADING, WRITING
from swatchread.archive.confirmed_writing import ConfirmedWriting
from swatchread.archive.picture_archive import PictureArchive
from swatchread.archive.results import CardView
from swatchread.batch.worker_pool import prepare, without_interrupts
from swatchread.writing.installed import is_installed
from swatchread.writing.written_dates import day_of, day_words

if TYPE_CHECKING:
    from swatchread.writing.note_writing import WritingReader

_SECONDS: Final = 120.0
"""How long a card's writing may take; 18 crops take about three."""

_CARDS_A_PROCESS: Final = 200
"""Cards after which the process is started anew."""


HEAD_FIELDS: Final = ("title", "sitter", "date")
"""Fields of `CardInfo` that stand at the head of a card."""

Offers = dict[str, Any]
_NOTHING: Final[Offers] = {"swatches": [], "card": {}}

_MOST_BEGUN: Final = 4
"""Cards whose handwriting is read before anyone asks for it (choice): the one that is shown and the next."""


@dataclass(frozen=True, slots=True)
class WritingTask:
    """Crops to read, by the id of their swatches, and what is known of the hand.

    Attributes
    ----------
    crops : tuple of (str, bytes)
    heading : bytes or None
        What stands at the head of the card, if title, sitter or date is missing.
    day : datetime.date
        Of the photo.
    fields : tuple of str
        Which of these are missing.
    known : ConfirmedWriting
    tubes : str
        JSON.
    """

    crops: tuple[tuple[str, bytes], ...]
    heading: bytes | None
    day: date
    fields: tuple[str, ...]
    known: ConfirmedWriting
    tubes: str


@dataclass(slots=True)
class WritingDesk:
    """Reads the handwriting of one card after the other."""

    _pool: ProcessPool | None = field(default=None, init=False)
    _one_at_a_time: asyncio.Lock = field(default_factory=asyncio.Lock, init=False)
    _begun: dict[tuple[int, int], asyncio.Task[Offers]] = field(default_factory=dict, init=False)

    def prepare(self, archive: PictureArchive, view: CardView) -> None:
        """Begin to read the handwriting of a card that is shown soon, so that its offers are ready then."""
        key = view.card, view.edition
        if key not in self._begun:
            while len(self._begun) >= _MOST_BEGUN:
                self._begun.pop(next(iter(self._begun))).cancel()
            self._begun[key] = asyncio.create_task(self._read(archive, view))

    async def offers(self, archive: PictureArchive, view: CardView) -> Offers:
        """Return what the handwriting of a card may say where nothing was entered yet.

        Parameters
        ----------
        archive : PictureArchive
        view : CardView

        Returns
        -------
        dict
            ``swatches``: a list of ``id``, ``text``, and ``unsure``, what is to be looked at closely; ``card``: by
            ``title``, ``sitter`` and ``date`` the same, with ``choices`` where a date may mean two days. Empty where
            handwriting cannot be read.
        """
        begun = self._begun.pop((view.card, view.edition), None)
        return await (begun or self._read(archive, view))

    async def _read(self, archive: PictureArchive, view: CardView) -> Offers:
        task = await run_in_threadpool(writing_task, archive, view) if is_installed() else None
        if task is None:
            return _NOTHING
        async with self._one_at_a_time:
            if self._pool is None or not self._pool.active:
                self._pool = ProcessPool(1, _CARDS_A_PROCESS, prepare, context=get_context("spawn"))
            with without_interrupts():
                future = self._pool.schedule(read_offers, (task,), timeout=_SECONDS)
            try:
                offers: Offers = await asyncio.wrap_future(future)
            except (TimeoutError, ProcessExpired):  # an offer that does not come is no fault: the painter types
                return _NOTHING
            return offers

    def close(self) -> None:
        """End the process."""
        for task in self._begun.values():
            task.cancel()
        if self._pool is not None:
            self._pool.stop()  # type: ignore[no-untyped-call]
            self._pool.join()
            self._pool = None


def read_offers(task: WritingTask) -> Offers:
    """Read the crops of a task; see `WritingDesk.offers`."""
    from swatchread.writing.note_writing import decode_crop

    reader, offered = _reader(task.known, task.tubes), []
    for swatch, data in task.crops:
        crop = decode_crop(data)
        offer = None if crop is None else reader.read(crop)
        if offer is not None and offer.text:
            offered.append({"id": swatch, "text": offer.text, "unsure": list(offer.doubts)})
    picture = decode_crop(task.heading) if task.heading else None
    if picture is None:
        return {"swatches": offered, "card": {}}
    heading = reader.read_heading(picture, task.day)
    found: dict[str, dict[str, Any]] = {}
    for name, one in heading.offers().items():
        if one.text:
            found[name] = {"text": one.text, "unsure": list(one.doubts)}
    if heading.dates:
        found["date"] = {"text": "", "unsure": [], "choices": [(day, day_words(day)) for day in heading.dates]}
    return {"swatches": offered, "card": {name: one for name, one in found.items() if name in task.fields}}


@lru_cache(maxsize=1)
def _reader(known: ConfirmedWriting, tubes: str) -> WritingReader:
    """Return the reader for a hand; what was confirmed is looked at once, not for each card."""
    from swatchread.recipes.tubes import TubeList
    from swatchread.writing.note_writing import WritingReader, confirmed_crops, confirmed_heads

    words = TubeList.model_validate_json(tubes)
    return WritingReader(words, known.recipes, confirmed_crops(known.crops), confirmed_heads(known.heads))


def writing_task(archive: PictureArchive, view: CardView) -> WritingTask | None:
    """Return what is to be read of a card.

    Parameters
    ----------
    archive : PictureArchive
    view : CardView

    Returns
    -------
    WritingTask or None
        None if nothing is missing, or nothing is written.
    """
    open_swatches = [swatch.id for swatch in view.note.swatches if not swatch.recipe.strip()]
    fields = tuple(name for name in HEAD_FIELDS if not getattr(view.note.card_info, name).strip())
    crops = _crops(archive, view.card, open_swatches)
    heading = archive.pictures.picture(archive.pictures.of(view.card).get(HEADING, "")) if fields else None
    if not crops and heading is None:
        return None
    known, tubes = archive.known_writing(), archive.tubes.known().model_dump_json()
    return WritingTask(crops, heading.data if heading else None, day_of(view.note), fields, known, tubes)


def _crops(archive: PictureArchive, card: int, swatches: Sequence[str]) -> tuple[tuple[str, bytes], ...]:
    store = archive.pictures
    digests = store.of(card)
    found = ((swatch, store.picture(digests.get(f"{WRITING}{swatch}", ""))) for swatch in swatches)
    return tuple((swatch, picture.data) for swatch, picture in found if picture is not None)
