"""Which process reads which photo: a few at a time, what is urgent first, and each by the one that remembers it."""

import asyncio
from pathlib import Path

import pytest

from swatchread.page.photo_reading import PhotoReaders, ReadingTask, ReadPhoto


class Reading:
    """Stands for the processes: notes who reads what, and ends when it is told to."""

    def __init__(self, monkeypatch):
        self.begun, self.ends = [], {}
        monkeypatch.setattr("swatchread.page.photo_reading._Reader.run", self._run_of())

    def _run_of(self):
        async def run(reader, _, task):
            reader.last = task.photo
            self.begun.append((task.name, reader))
            self.ends[task.name] = asyncio.Event()
            await self.ends[task.name].wait()
            return ReadPhoto(task.name, {})

        return run

    @property
    def names(self):
        return [name for name, _ in self.begun]

    def reader_of(self, name):
        return dict(self.begun)[name]

    async def end(self, *names):
        for name in names:
            self.ends[name].set()
        await settle()


async def settle():
    for _ in range(10):
        await asyncio.sleep(0)


@pytest.fixture
def reading(monkeypatch):
    return Reading(monkeypatch)


def task(name, photo=None):
    return ReadingTask(Path(photo or name), name)


def test_fifty_photos_are_read_a_few_at_a_time_and_a_correction_before_those_that_wait(reading):
    async def scene():
        readers = PhotoReaders(2)
        waiting = [asyncio.create_task(readers.read(task(f"photo {k}"))) for k in range(50)]
        await settle()
        assert reading.names == ["photo 0", "photo 1"]
        correction = asyncio.create_task(readers.read(task("correction"), urgent=True))
        await settle()
        await reading.end("photo 0")
        assert reading.names[-1] == "correction"
        for _ in range(60):
            await reading.end(*reading.ends)
        assert all(one.done() for one in (*waiting, correction))
        assert len(reading.names) == 51

    asyncio.run(scene())


def test_a_photo_goes_back_to_the_reader_that_remembers_it(reading):
    async def scene():
        readers = PhotoReaders(3)
        for name in ("a", "b", "c"):
            asyncio.create_task(readers.read(task(name)))  # noqa: RUF006 - it ends within this scene
        await settle()
        await reading.end("c", "b", "a")
        for name in ("b", "a", "c"):
            asyncio.create_task(readers.read(task(f"{name} again", name)))  # noqa: RUF006
            await settle()
            assert reading.reader_of(f"{name} again") is reading.reader_of(name)

    asyncio.run(scene())


def test_a_photo_is_taken_in_hand_once_and_never_keeps_another_waiting(reading):
    async def scene():
        readers = PhotoReaders(1)
        first = asyncio.create_task(readers.take_in_hand(task("card")))
        await settle()
        await readers.take_in_hand(task("other"))  # nobody is free
        await reading.end("card")
        await readers.take_in_hand(task("card"))  # it is remembered
        assert first.done()
        assert reading.names == ["card"]

    asyncio.run(scene())
