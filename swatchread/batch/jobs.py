"""The photos that a batch reads, where the results of each go, and the records of a batch.

All records can be sent from one process to another.
"""

from __future__ import annotations

import os
import re
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from hashlib import sha256
from pathlib import Path
from typing import Literal

from swatchread.correction.known_stock import KnownStocks
from swatchread.errors import SwatchreadError, UsageError
from swatchread.note.picture_names import is_own_picture
from swatchread.note.safe_files import card_stem, plain_stem, whole_stem

State = Literal["read", "read before", "same photo", "failed", "not reached"]

SUFFIXES = frozenset(
    ".jpg .jpeg .png .tif .tiff .webp .heic .heif .avif .dng .cr2 .cr3 .nef .arw .raf .orf .rw2 .pef .srw".split()  # noqa: SIM905
)
"""Suffixes of the files that are read from a folder; a file that is named itself is tried whatever its suffix."""

_CARD = re.compile(r"(.+)\.[a-z]")
"""The stem of a photo, and the letter of a card in it."""


@dataclass(frozen=True, slots=True)
class Job:
    """A photo to read. The names of its results begin with ``folder/stem``."""

    photo: Path
    folder: Path
    stem: str

    @property
    def note(self) -> Path:
        """The file of its note, if it shows one card."""
        return self.note_of("")

    def note_of(self, letter: str) -> Path:
        """Return the file of the note of one of several cards, by its letter."""
        return self.folder / f"{card_stem(self.stem, letter)}.note.json"


@dataclass(frozen=True, slots=True)
class Settings:
    """How to read.

    Attributes
    ----------
    chart : str or None
        A known chart's name or a definition file; None for the classic 24-patch chart.
    accept_poor : bool
    setup : pathlib.Path or None
        File of a kept set-up.
    stocks : KnownStocks
        What earlier cards say of the stock.
    """

    chart: str | None = None
    accept_poor: bool = False
    setup: Path | None = None
    stocks: KnownStocks = field(default_factory=KnownStocks)


@dataclass(frozen=True, slots=True)
class Line:
    """What became of one photo, or of one of several cards in it.

    Attributes
    ----------
    photo : pathlib.Path
    state : str
        ``read``, ``read before`` (nothing had to be done), ``same photo`` (as another of this batch), ``failed``, or
        ``not reached`` (the batch was stopped before).
    note : pathlib.Path or None
    card : int or None
        Its card's number in the archive.
    swatches : int
        How many its note has.
    doubts : tuple of str
        The warnings of its note, each with its remedy.
    remark : str
    error : SwatchreadError or None
        Why it failed, if it did.
    seconds : float
        Spent reading it.
    """

    photo: Path
    state: State
    note: Path | None = None
    card: int | None = None
    swatches: int = 0
    doubts: tuple[str, ...] = ()
    remark: str = ""
    error: SwatchreadError | None = None
    seconds: float = 0.0


def find_jobs(given: Sequence[Path], into: Path | None = None) -> tuple[Job, ...]:
    """Find the photos in folders, and give each the place of its results.

    Parameters
    ----------
    given : sequence of pathlib.Path
        Photos, and folders that are searched with all folders in them. A photo that is found twice counts once.
        Pictures that an earlier reading wrote are passed over (a shell's ``*.jpg`` names them too) unless nothing else
        is named.
    into : pathlib.Path, optional
        Folder for the results, which keeps the order of the given folders; by default they go beside each photo.

    Returns
    -------
    tuple of Job
        In the order given; the photos of a folder are sorted by name.

    Raises
    ------
    UsageError
        If there is no photo.
    """
    places: dict[Path, tuple[Path, Path]] = {}
    for path in photos_of(given):
        if path.is_dir():
            for photo in _walk(path):
                folder = into / photo.parent.relative_to(path) if into else photo.parent
                # Unlike `resolve`, this gives up quietly on links that lead round in a circle.
                places.setdefault(Path(os.path.realpath(photo)), (photo, folder))
        else:
            places.setdefault(path.absolute(), (path, into or path.parent))
    if not places:
        names = ", ".join(str(path) for path in given)
        raise UsageError(f"There is no photo in {names}", "", f"Photos end in {', '.join(sorted(SUFFIXES))}")
    return _named(list(places.values()))


def photos_of(given: Sequence[Path]) -> list[Path]:
    """Return the files without the pictures that a reading wrote, unless there is nothing else."""
    return [path for path in given if not is_own_picture(path)] or list(given)


def _walk(top: Path) -> Iterator[Path]:
    """Yield the photos in a folder and below; links to folders and hidden names are passed over."""
    for folder, inner, files in os.walk(top):
        inner[:] = sorted(name for name in inner if not name.startswith("."))
        for name in sorted(files):
            path = Path(folder, name)
            if path.suffix.lower() in SUFFIXES and not name.startswith(".") and not is_own_picture(path):
                yield path


def _named(places: list[tuple[Path, Path]]) -> tuple[Job, ...]:
    """Give each photo a stem of its own in its folder: its name, if need be with its suffix and a hash of its path."""
    plain = Counter((folder, plain_stem(photo).lower()) for photo, folder in places)
    full = Counter((folder, whole_stem(photo).lower()) for photo, folder in places)
    jobs = []
    for photo, folder in places:
        stem = plain_stem(photo)
        whose = _CARD.fullmatch(stem.lower())  # "a.b.jpg" beside "a.jpg", of which a card b may be found
        if plain[folder, stem.lower()] > 1 or (whose and plain[folder, whose[1]]):
            stem = whole_stem(photo)
            if full[folder, stem.lower()] > 1 or plain[folder, stem.lower()]:  # "a.jpg" beside "a.png" and "a-jpg.png"
                stem += "-" + sha256(os.fsencode(photo.absolute())).hexdigest()[:8]
        jobs.append(Job(photo, folder, stem))
    return tuple(jobs)
