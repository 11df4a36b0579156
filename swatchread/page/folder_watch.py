"""Takes in the photos that arrive in a folder, as from a phone's cable or a cloud folder."""

from __future__ import annotations

import asyncio
import os
from pathlib import Path
from typing import Final

from starlette.concurrency import run_in_threadpool

from swatchread.batch.jobs import SUFFIXES
from swatchread.errors import SwatchreadError
from swatchread.note.picture_names import is_own_picture
from swatchread.page.reading_desk import ReadingDesk

_SECONDS: Final = 2.0
"""How often the folder is looked at; in network and cloud folders no system tells of changes."""

_Look = dict[Path, tuple[int, int]]
"""Photo -> size and time of the last change."""


async def watch_folder(folder: Path, desk: ReadingDesk) -> None:
    """Take in photos that are in a folder, and those that arrive, until this is cancelled.

    A photo counts as arrived when its file has not changed between two looks: before, it is still being copied.
    """
    taken: _Look = {}
    before: _Look = {}
    while True:
        now = await run_in_threadpool(_look_at, folder)
        for photo, state in now.items():
            if before.get(photo) == state and taken.get(photo) != state:
                taken[photo] = state
                await _take(photo, desk)
        before = now
        await asyncio.sleep(_SECONDS)


def _look_at(folder: Path) -> _Look:
    try:
        with os.scandir(folder) as entries:
            files = [(Path(e.path), e.stat()) for e in entries if e.is_file() and _is_photo(e.name)]
    except OSError:  # it was taken away, or is not mounted: it may come back
        return {}
    return {path: (status.st_size, status.st_mtime_ns) for path, status in files}


def _is_photo(name: str) -> bool:
    return Path(name).suffix.lower() in SUFFIXES and not name.startswith(".") and not is_own_picture(Path(name))


async def _take(photo: Path, desk: ReadingDesk) -> None:
    def keep() -> None:
        with photo.open("rb") as file:
            arrival = desk.inbox.take(file, photo.name, again=False)
        if arrival.state == "waiting":
            loop.call_soon_threadsafe(desk.begin, arrival)

    loop = asyncio.get_running_loop()
    try:
        await run_in_threadpool(keep)
    except (SwatchreadError, OSError) as error:
        desk.news.tell(folder=str(error), name=photo.name)
