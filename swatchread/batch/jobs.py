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
from pathlib import Path, PurePosixPath
from typing import Literal, TypeVar

from swatchread.batch.photo_addresses import PhotoAddress, Place, files_at
from swatchread.correction.known_stock import KnownStocks
from swatchread.errors import SwatchreadError, UsageError
from swatchread.note.picture_names import is_own_picture
from swatchread.note.safe_files import card_stem, plain_stem, whole_stem

State = Literal["read", "read before", "same photo", "failed", "not reached"]

SUFFIXES = frozenset(
    ".jpg .jpeg .png .tif .tiff .webp .heic .heif .avif .dng .cr2 .cr3 .nef .arw .raf .orf .rw2 .pef .srw".split()  # noqa: SIM905
)
"""Suffixes of the files that are read from a folder; a file that is named itself is tried whatever its suffix."""

_Place = TypeVar("_Place", bound=Place)

_CARD = re.compile(r"(.+)\.[a-z]")
"""The stem of a photo, and the letter of a card in it."""


@dataclass(frozen=True, slots=True)
class Job:
    """A photo to read. The names of its results begin with ``folder/stem``; else only the archive keeps them."""

    photo: Place
    folder: Path | None
    stem: str

    @property
    def file(self) -> Path:
        """The photo, if it is a file of this computer; one at an address has to be fetched first."""
        if not isinstance(self.photo, Path):
            raise TypeError(f"{self.photo} is no file")
        return self.photo

    @property
    def results(self) -> Path:
        """The folder of the results, if there is one."""
        if self.folder is None:
            raise TypeError(f"the results of {self.photo} have no folder")
        return self.folder

    @property
    def note(self) -> Path:
        """The file of its note, if it shows one card."""
        return self.note_of("")

    def note_of(self, letter: str) -> Path:
        """Return the file of the note of one of several cards, by its letter."""
        return self.results / f"{card_stem(self.stem, letter)}.note.json"


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
    photo : pathlib.Path or PhotoAddress
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

    photo: Place
    state: State
    note: Path | None = None
    card: int | None = None
    swatches: int = 0
    doubts: tuple[str, ...] = ()
    remark: str = ""
    error: SwatchreadError | None = None
    seconds: float = 0.0


def find_jobs(given: Sequence[Place], into: Path | None = None) -> tuple[Job, ...]:
    """Find the photos in folders, and give each the place of its results.

    Parameters
    ----------
    given : sequence of pathlib.Path or PhotoAddress
        Photos, and folders that are searched with all folders in them. A photo that is found twice counts once.
        Pictures that an earlier reading wrote are passed over (a shell's ``*.jpg`` names them too) unless nothing else
        is named.
    into : pathlib.Path, optional
        Folder for the results, which keeps the order of the given folders; by default they go beside each photo, and
        those of a photo at an address into no folder.

    Returns
    -------
    tuple of Job
        In the order given; the photos of a folder are sorted by name.

    Raises
    ------
    UsageError
        If there is no photo.
    PhotoAddressError
        If the photos at an address cannot be listed.
    """
    places: dict[Place, tuple[Place, Path | None]] = {}
    for path in photos_of(given):
        if isinstance(path, PhotoAddress):
            for address, inner in _below(path):
                places.setdefault(address, (address, into / inner if into else None))
        elif path.is_dir():
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


def photos_of(given: Sequence[_Place]) -> list[_Place]:
    """Return the files without the pictures that a reading wrote, unless there is nothing else."""
    return [place for place in given if not is_own_picture(_path(place))] or list(given)


def _path(place: Place) -> Path:
    """Return a place as a path whose name can be looked at; that of an address leads nowhere."""
    return place if isinstance(place, Path) else Path(place.path)


def _walk(top: Path) -> Iterator[Path]:
    """Yield the photos in a folder and below; links to folders and hidden names are passed over."""
    for folder, inner, files in os.walk(top):
        inner[:] = sorted(name for name in inner if not name.startswith("."))
        yield from (path for name in sorted(files) if _is_photo(path := Path(folder, name)))


def _is_photo(path: Path) -> bool:
    return path.suffix.lower() in SUFFIXES and not path.name.startswith(".") and not is_own_picture(path)


def _below(address: PhotoAddress) -> Iterator[tuple[PhotoAddress, Path]]:
    """Yield the photos at an address with their folders below it; a photo that is named itself whatever its suffix."""
    for photo, inner in files_at(address).items():
        if inner == PurePosixPath():
            yield photo, Path()
        elif _is_photo(Path(inner)) and not any(part.startswith(".") for part in inner.parts):
            yield photo, Path(inner.parent)


def _named(places: list[tuple[Place, Path | None]]) -> tuple[Job, ...]:
    """Give each photo a stem of its own in its folder: its name, if need be with its suffix and a hash of its path."""
    plain = Counter((folder, plain_stem(_path(photo)).lower()) for photo, folder in places)
    full = Counter((folder, whole_stem(_path(photo)).lower()) for photo, folder in places)
    jobs = []
    for photo, folder in places:
        stem = plain_stem(_path(photo))
        whose = _CARD.fullmatch(stem.lower())  # "a.b.jpg" beside "a.jpg", of which a card b may be found
        if plain[folder, stem.lower()] > 1 or (whose and plain[folder, whose[1]]):
            stem = whole_stem(_path(photo))
            if full[folder, stem.lower()] > 1 or plain[folder, stem.lower()]:  # "a.jpg" beside "a.png" and "a-jpg.png"
                stem += "-" + sha256(os.fsencode(_path(photo).absolute())).hexdigest()[:8]
        jobs.append(Job(photo, folder, stem))
    return tuple(jobs)
