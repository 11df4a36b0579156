"""A batch reads every photo once, keeps each note as soon as it is written, and goes on past failures."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass, field, replace
from pathlib import Path
from string import ascii_lowercase
from typing import TYPE_CHECKING, Protocol, Self

from swatchread import __version__
from swatchread.batch.jobs import Job, Line, Settings
from swatchread.batch.photo_addresses import Place
from swatchread.batch.worker_pool import WorkerPool
from swatchread.errors import NoteError, OutputError
from swatchread.note.model import Note, load_note
from swatchread.note.phrases import warning_words
from swatchread.note.safe_files import only_writer
from swatchread.report.note_files import save_with_texts, texts_behind

if TYPE_CHECKING:
    from swatchread.archive.store import Archive

_POLL_SECONDS = 0.2
"""How long to wait for a result before asking again whether to stop: Ctrl-C should be answered at once."""


class PhotoPool(Protocol):
    """Whatever reads photos for a batch: the processes of this computer, or a cluster."""

    @property
    def busy(self) -> bool:
        """Whether a photo is being read."""

    @property
    def free(self) -> bool:
        """Whether another photo can be given."""

    def digests(self, jobs: Iterable[Job]) -> Iterator[str | None]:
        """Yield the SHA-256 of each photo in turn, or None for one that cannot be read."""

    def give(self, job: Job) -> None:
        """Have a photo read."""

    def results(self, timeout: float) -> Iterable[tuple[Line, ...]]:
        """Wait for photos that are done; the notes of those without a folder stand until the next is asked for."""

    def __enter__(self) -> Self:
        """Begin."""

    def __exit__(self, *failure: object) -> None:
        """End, and drop what is being read."""


@dataclass(frozen=True, slots=True)
class Batch:
    """How a batch is read.

    Attributes
    ----------
    settings : Settings
    chart : str
        Name of the chart that `settings` refers to.
    archive : Archive or None
        The archive that keeps the notes, if any.
    again : bool
        Whether to read photos again that were read before.
    size : int
        How many photos are read at a time on this computer.
    cluster : str or None
        Address of the scheduler of a cluster that reads them instead.
    """

    settings: Settings
    chart: str
    archive: Archive | None = None
    again: bool = False
    size: int = 1
    cluster: str | None = None
    _copies: dict[str, list[Job]] = field(default_factory=dict, init=False)
    """SHA-256 of each photo that is being read -> the jobs of the same bytes, which wait for it."""
    _done: dict[str, Place] = field(default_factory=dict, init=False)
    """SHA-256 of each photo that was read -> that photo."""

    def read(self, jobs: Sequence[Job], stopping: Callable[[], bool] = lambda: False) -> Iterator[Line]:
        """Read photos and yield a line for each card as soon as its photo is done, in no fixed order.

        Parameters
        ----------
        jobs : sequence of Job
        stopping : callable
            Called now and then. Once it returns True, no new photo is begun, and those being read are finished.

        Yields
        ------
        Line

        Raises
        ------
        ArchiveError
            If the archive could not take a note. The note is in its file nevertheless.
        ClusterError
            If the cluster cannot be used, or no longer.
        """
        waiting, retried = deque(jobs), deque[tuple[Job, str]]()
        in_hand: dict[Place, tuple[Job, str]] = {}
        with self._pool() as pool:
            digests = pool.digests(jobs)
            while True:
                while (waiting or retried) and pool.free and not stopping():
                    job, digest = retried.popleft() if retried else (waiting.popleft(), next(digests))
                    known = self._lines_without_reading(job, digest)
                    if known:
                        yield from known
                    elif digest in self._copies:
                        self._copies[digest].append(job)
                    else:
                        # Without a digest, reading it will tell what is wrong with it.
                        in_hand[job.photo] = job, digest or str(job.photo)
                        self._copies[digest or str(job.photo)] = []
                        pool.give(job)
                if not pool.busy:
                    break
                for lines in pool.results(_POLL_SECONDS):
                    job, digest = in_hand.pop(lines[0].photo)
                    yield from (self._with_note(line, job) for line in lines)
                    yield from self._told_of_copies(lines[0], digest, retried)
        yield from (Line(job.photo, "not reached") for job in (*(job for job, _ in retried), *waiting))

    def _pool(self) -> PhotoPool:
        if self.cluster is None:
            return WorkerPool(self.settings, self.size)
        from swatchread.batch.cluster_pool import ClusterPool

        return ClusterPool(self.cluster, self.settings)

    def _lines_without_reading(self, job: Job, digest: str | None) -> list[Line]:
        """Return the lines of a photo that need not be read; its bytes are compared, it is not decoded."""
        if digest is None or digest in self._copies:
            return []
        if digest in self._done:
            return [_same_photo(job, self._done[digest])]
        lines = [] if self.again else self._known(job, digest)
        if lines:
            self._done[digest] = job.photo
        return lines

    def _told_of_copies(self, line: Line, digest: str, retried: deque[tuple[Job, str]]) -> list[Line]:
        """Return the lines of the photos of the same bytes. If this one failed, perhaps for its name, they are read."""
        copies = self._copies.pop(digest)
        if line.state == "failed":
            retried.extend((job, digest) for job in copies)
            return []
        self._done[digest] = line.photo
        return [_same_photo(job, line.photo) for job in copies]

    def _known(self, job: Job, digest: str) -> list[Line]:
        if self.archive and (cards := self._archived(self.archive, digest)):
            return [Line(job.photo, "read before", card=card) for card in cards]
        notes = notes_of(job, digest, self.chart) if job.folder else {}
        for path in notes:
            _complete(path)
        return [self._kept(Line(job.photo, "read before", path), note) for path, note in notes.items()]

    def _archived(self, archive: Archive, digest: str) -> tuple[int, ...]:
        """Return the numbers of a photo's cards if the archive has what this version and chart would read."""
        from swatchread.archive.photo_cards import whole_photo

        cards = whole_photo(archive, digest, __version__)
        same = all(archive.card(card, __version__).note.chart.name == self.chart for card in cards)
        return cards if same else ()

    def _with_note(self, line: Line, job: Job) -> Line:
        """Return the line of a photo that was just read, with what its note says."""
        if line.note is None:
            return line
        try:
            kept = self._kept(line, load_note(line.note))
            return kept if job.folder else replace(kept, note=None)
        except NoteError as error:  # another program removed or changed it meanwhile
            return replace(line, state="failed", note=None, error=error)

    def _kept(self, line: Line, note: Note) -> Line:
        doubts = tuple(map(warning_words, note.warnings))
        line = replace(line, swatches=len(note.swatches), doubts=doubts)
        if self.archive is None or line.note is None:
            return line
        added = self.archive.add(note, line.note.parent)
        return replace(line, card=added.card, remark="; ".join(filter(None, (line.remark, added.message))))


def _same_photo(job: Job, first: Place) -> Line:
    return Line(job.photo, "same photo", remark=f"the same as {first}")


def _complete(note_file: Path) -> None:
    """Write the texts beside a note anew if a reading was killed before it had written them."""
    with suppress(OutputError):  # a folder that may only be read holds what it can
        if behind := texts_behind(note_file):
            with only_writer(note_file.parent):
                save_with_texts(note_file, load_note(note_file), behind)


def notes_of(job: Job, digest: str, chart: str) -> dict[Path, Note]:
    """Return the notes in files, if they are what reading all cards in the photo now would give; else none."""
    for first, letters in ((job.note, ("",)), (job.note_of("a"), ascii_lowercase)):
        note = _note_of(first, digest, chart)
        if note is not None:
            paths = [job.note_of(letter) for letter in letters[: note.card.cards]]
            notes = {path: one for path in paths if (one := _note_of(path, digest, chart))}
            return notes if len(notes) == len(paths) else {}
    return {}


def _note_of(path: Path, digest: str, chart: str) -> Note | None:
    """Return the note in a file if it is what reading the photo now would give."""
    if not path.is_file():
        return None
    try:
        note = load_note(path)
    except NoteError:
        return None
    same = note.photo.sha256 == digest and note.tool.version == __version__ and note.chart.name == chart
    return note if same else None
