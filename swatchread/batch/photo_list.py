"""The photos to read, and where the results of each go."""

from __future__ import annotations

import os
from collections import Counter
from collections.abc import Iterator, Sequence
from hashlib import sha256
from pathlib import Path

from swatchread.batch.jobs import Job
from swatchread.errors import UsageError
from swatchread.note.safe_files import whole_stem

SUFFIXES = frozenset(
    ".jpg .jpeg .png .tif .tiff .webp .heic .heif .avif .dng .cr2 .cr3 .nef .arw .raf .orf .rw2 .pef .srw".split()  # noqa: SIM905
)
"""Suffixes of the files that are read from a folder; a file that is named itself is tried whatever its suffix."""

_OUR_OWN = (".marked.jpg", ".writing.jpg")


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
                places.setdefault(photo.resolve(), (photo, folder))
        else:
            places.setdefault(path.absolute(), (path, into or path.parent))
    if not places:
        names = ", ".join(str(path) for path in given)
        raise UsageError(f"There is no photo in {names}", "", f"Photos end in {', '.join(sorted(SUFFIXES))}")
    return _named(list(places.values()))


def photos_of(given: Sequence[Path]) -> list[Path]:
    """Return the files without the pictures that a reading wrote, unless there is nothing else."""
    return [path for path in given if not _is_our_own(path.name)] or list(given)


def _walk(top: Path) -> Iterator[Path]:
    """Yield the photos in a folder and below; links to folders and hidden names are passed over."""
    for folder, inner, files in os.walk(top):
        inner[:] = sorted(name for name in inner if not name.startswith("."))
        for name in sorted(files):
            path = Path(folder, name)
            if path.suffix.lower() in SUFFIXES and not name.startswith(".") and not _is_our_own(name):
                yield path


def _is_our_own(name: str) -> bool:
    return name.lower().endswith(_OUR_OWN)


def _named(places: list[tuple[Path, Path]]) -> tuple[Job, ...]:
    """Give each photo a stem of its own in its folder: its name, if need be with its suffix and a hash of its path."""
    plain = Counter((folder, photo.stem.lower()) for photo, folder in places)
    full = Counter((folder, whole_stem(photo).lower()) for photo, folder in places)
    jobs = []
    for photo, folder in places:
        stem = photo.stem
        if plain[folder, stem.lower()] > 1:
            stem = whole_stem(photo)
            if full[folder, stem.lower()] > 1 or plain[folder, stem.lower()]:  # "a.jpg" beside "a.png" and "a-jpg.png"
                stem += "-" + sha256(os.fsencode(photo.absolute())).hexdigest()[:8]
        jobs.append(Job(photo, folder, stem))
    return tuple(jobs)
