"""Photos in files, and photos at addresses that fsspec knows, such as ``s3://bucket/cards``: listed, hashed, fetched.

This module imports no numerical library at its top, because `swatchread.batch.worker_pool` may not.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path, PurePosixPath
from tempfile import TemporaryDirectory
from typing import Any

from swatchread.errors import MissingPackageError, PhotoAddressError, PhotoError, PhotoTooLargeError, why_unread

CLUSTER_EXTRA = 'pip install "swatchread[cluster]"'


@dataclass(frozen=True, slots=True)
class PhotoAddress:
    """The address of a photo, or of a folder of photos."""

    url: str

    def __str__(self) -> str:
        """Return the address itself."""
        return self.url

    @property
    def path(self) -> PurePosixPath:
        """What follows the scheme: host or bucket, folders, name."""
        return PurePosixPath(self.url.partition("://")[2])

    @property
    def name(self) -> str:
        """The name of the file."""
        return self.path.name


Place = Path | PhotoAddress
"""Where a photo, or a folder of photos, lies."""


def place_of(word: str) -> Place:
    """Return a place as it was typed: an address has a scheme."""
    return PhotoAddress(word) if "://" in word else Path(word)


def files_at(address: PhotoAddress) -> dict[PhotoAddress, PurePosixPath]:
    """Return the files in a folder at an address and below it, each with its path from there; a file gives itself.

    Raises
    ------
    MissingPackageError
        If fsspec, or its plugin for this kind of address, is not installed.
    PhotoAddressError
        If the kind of address is unknown, or its contents cannot be listed.
    """
    files, path = _opened(address)
    try:
        found = {one: PurePosixPath(one).relative_to(path) for one in sorted(files.find(path))}
        return {PhotoAddress(files.unstrip_protocol(one)): inner for one, inner in found.items()}
    except Exception as error:  # each kind of storage fails in ways of its own
        raise PhotoAddressError(f"The photos at {address} cannot be listed", _told(error)) from error


def photo_digest(photo: Place) -> str | None:
    """Return the SHA-256 of a photo's bytes, or None if it cannot be read or is larger than any photo may be."""
    from swatchread.photo.load import MAX_BYTES

    try:
        if isinstance(photo, Path):
            if not photo.is_file() or photo.stat().st_size > MAX_BYTES:
                return None
            with photo.open("rb") as file:
                return hashlib.file_digest(file, "sha256").hexdigest()
        files, path = _opened(photo)
        if (files.size(path) or 0) > MAX_BYTES:
            return None
        with files.open(path, "rb") as file:
            return hashlib.file_digest(file, "sha256").hexdigest()
    except Exception:  # noqa: BLE001 - reading the photo will tell what is wrong with it
        return None


def photo_digests(photos: Sequence[Place]) -> list[str | None]:
    """Return what `photo_digest` does of each photo."""
    return [photo_digest(photo) for photo in photos]


@contextmanager
def fetched(photo: Place) -> Iterator[Path]:
    """Provide a photo as a file of this computer. One that lies at an address is copied for the time being.

    Raises
    ------
    PhotoError
        If it cannot be copied.
    PhotoTooLargeError
        If it is larger than any photo may be.
    """
    if isinstance(photo, Path):
        yield photo
        return
    from swatchread.photo.load import MAX_BYTES

    files, path = _opened(photo)
    with TemporaryDirectory(prefix="swatchread-") as folder:
        copy = Path(folder, photo.name)
        try:
            size = files.size(path) or 0
            if size <= MAX_BYTES:
                files.get_file(path, str(copy))
        except OSError as error:
            raise PhotoError(f"{photo.name} cannot be opened", *why_unread(error)) from error
        except Exception as error:  # each kind of storage fails in ways of its own
            raise PhotoError(f"{photo.name} cannot be opened", _told(error), "Check its address") from error
        if size > MAX_BYTES:
            raise PhotoTooLargeError(f"{photo.name} is too large", f"{size // 2**20} MiB")
        yield copy


def _opened(address: PhotoAddress) -> tuple[Any, str]:
    """Return the file system of an address, and the path in it."""
    what = f"The photos at {address} cannot be reached"
    try:
        import fsspec
    except ImportError as error:
        raise MissingPackageError(what, "fsspec is not installed", f"Install it: {CLUSTER_EXTRA}") from error
    try:
        files, path = fsspec.core.url_to_fs(address.url)
    except ImportError as error:  # fsspec names the plugin
        raise MissingPackageError(what, str(error), "Install what is named, here and on every worker") from error
    except Exception as error:  # each kind of storage fails in ways of its own
        raise PhotoAddressError(what, _told(error)) from error
    return files, path


def _told(error: Exception) -> str:
    return str(error) or type(error).__name__
