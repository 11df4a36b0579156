"""What all pages work on."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

from swatchread.archive.picture_archive import PictureArchive
from swatchread.page.inbox import Inbox
from swatchread.page.photo_reading import PhotoReaders
from swatchread.page.reading_desk import ReadingDesk
from swatchread.recipes.tubes import TubeList

if TYPE_CHECKING:
    from swatchread.page.phone_door import PhoneDoor

_MOST_READERS = 3
"""Photos that are read at a time at most (choice): each takes up to 300 MB."""


@dataclass(slots=True)
class Studio:
    """What all pages work on; a page finds it with `swatchread.page.responses.studio_of`.

    Attributes
    ----------
    archive : PictureArchive
        Its methods wait for the disk: call them with `starlette.concurrency.run_in_threadpool`.
    tubes : TubeList
        What recipes are understood with.
    desk : ReadingDesk
        Reads photos.
    note_files : dict of int to pathlib.Path
        Card -> the note file that it was opened from, which takes over what is typed.
    phone : PhoneDoor or None
        The way in for a phone; None where there is no server.
    """

    archive: PictureArchive
    tubes: TubeList
    desk: ReadingDesk
    note_files: dict[int, Path] = field(default_factory=dict)
    phone: PhoneDoor | None = None

    @property
    def inbox(self) -> Inbox:
        """The photos that came in."""
        return self.desk.inbox


def open_studio(
    archive: PictureArchive, tubes: TubeList, *, chart: str | None = None, readers: int | None = None
) -> Studio:
    """Return a studio with the photos that came in beside its archive.

    Parameters
    ----------
    archive : PictureArchive
    tubes : TubeList
    chart : str, optional
        The chart beside the cards.
    readers : int, optional
        How many photos are read at a time; by default as many as there are cores, up to three.
    """
    import os

    cores = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
    size = readers or max(1, min(cores, _MOST_READERS))
    return Studio(archive, tubes, ReadingDesk(archive, Inbox(archive.photo_folder), PhotoReaders(size), chart))
