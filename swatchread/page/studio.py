"""What all pages work on."""

from __future__ import annotations

from dataclasses import dataclass

from swatchread.archive.store import Archive
from swatchread.recipes.tubes import TubeList


@dataclass(slots=True)
class Studio:
    """What all pages work on; a page finds it with `swatchread.page.responses.studio_of`.

    Attributes
    ----------
    archive : Archive
        Its methods wait for the disk: call them with `starlette.concurrency.run_in_threadpool`.
    tubes : TubeList
        What recipes are understood with.
    """

    archive: Archive
    tubes: TubeList
