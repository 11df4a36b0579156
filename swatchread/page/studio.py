"""What all pages work on."""

from __future__ import annotations

import threading
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

from swatchread.archive.picture_archive import PictureArchive
from swatchread.page.doubt_desk import DoubtDesk
from swatchread.page.inbox import Inbox
from swatchread.page.photo_reading import PhotoReaders
from swatchread.page.reading_desk import ReadingDesk
from swatchread.page.writing_desk import WritingDesk
from swatchread.recipes.tubes import TubeList

if TYPE_CHECKING:
    from swatchread.page.phone_door import PhoneDoor
    from swatchread.palette.fitted_palette import FittedPalette

_MOST_READERS = 2
"""Photos that are read at a time at most: each takes up to 410 MB, and the whole program is to stay below 1 GB."""


@dataclass(slots=True)
class Studio:
    """What all pages work on; a page finds it with `swatchread.page.responses.studio_of`.

    Attributes
    ----------
    archive : PictureArchive
        Its methods wait for the disk: call them with `starlette.concurrency.run_in_threadpool`.
    desk : ReadingDesk
        Reads photos.
    note_files : dict of int to pathlib.Path
        Card -> the note file that it was opened from, which takes over what is typed.
    phone : PhoneDoor or None
        The way in for a phone; None where there is no server.
    writing : WritingDesk
        Reads handwriting.
    doubts : DoubtDesk
        The pass over what is doubtful.
    """

    archive: PictureArchive
    desk: ReadingDesk
    note_files: dict[int, Path] = field(default_factory=dict)
    phone: PhoneDoor | None = None
    writing: WritingDesk = field(default_factory=WritingDesk)
    doubts: DoubtDesk = field(init=False)
    _learnt: tuple[object, FittedPalette] | None = field(default=None, init=False)
    _learning: threading.Lock = field(default_factory=threading.Lock, init=False)

    def __post_init__(self) -> None:
        self.doubts = DoubtDesk(self.archive, self.inbox)

    @property
    def inbox(self) -> Inbox:
        """The photos that came in."""
        return self.desk.inbox

    @property
    def tubes(self) -> TubeList:
        """What recipes are understood with: the tubes under the painter's own words."""
        return self.archive.tubes.known()

    def knows_palette(self) -> bool:
        """Tell whether `palette` answers at once; learning anew takes some seconds."""
        return self._learnt is not None and self._learnt[0] == self.archive.map.state()

    def records(self) -> FittedPalette:
        """Return what is recorded, without what can be learnt from it: at once.

        Raises
        ------
        NoRecipesError
            If no swatch has a recipe that can be used.
        """
        from swatchread.palette.card_sources import cards_of, require_recipes
        from swatchread.palette.fitted_palette import FittedPalette
        from swatchread.palette.training_data import collect

        cards, words = tuple(cards_of(self.archive)), self.tubes
        return require_recipes(FittedPalette(words, cards, collect(cards, words), None, None, (), ()))

    def palette(self) -> FittedPalette:
        """Return what the archived cards teach of the tubes; it is learnt again when the archive has changed.

        Raises
        ------
        NoRecipesError
            If no swatch has a recipe that can be used.
        """
        from swatchread.palette.card_sources import learn

        with self._learning:
            state = self.archive.map.state()
            if self._learnt is None or self._learnt[0] != state:
                self._learnt = state, learn(self.archive)
            return self._learnt[1]


def open_studio(archive: PictureArchive, *, chart: str | None = None, readers: int | None = None) -> Studio:
    """Return a studio with the photos that came in beside its archive.

    Parameters
    ----------
    archive : PictureArchive
    chart : str, optional
        The chart beside the cards.
    readers : int, optional
        How many photos are read at a time; by default as many as there are cores, up to two.
    """
    import os

    cores = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
    size = readers or max(1, min(cores, _MOST_READERS))
    return Studio(archive, ReadingDesk(archive, Inbox(archive.photo_folder), PhotoReaders(size), chart))
