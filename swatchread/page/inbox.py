"""The photos that came in: each kept under the hash of its bytes until it is read, and then for corrections.

A photo is on the disk, with its name beside it, before anyone is told that it was taken: whatever ends the program
then, the photo is read at the next start.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
import tempfile
import time
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import IO, Final, Literal

from pydantic import BaseModel, ConfigDict, ValidationError

from swatchread.batch.jobs import SUFFIXES
from swatchread.errors import OutputError, PhotoError, PhotoTooLargeError
from swatchread.note.phrases import plain
from swatchread.note.safe_files import write_bytes, write_text
from swatchread.photo.load import MAX_BYTES
from swatchread.photo.signatures import HEAD_BYTES, may_be_photo

_CHUNK: Final = 1024 * 1024
_LONGEST_NAME: Final = 120
"""Letters of a name that are kept."""

_PART: Final = ".part"
_STALE_SECONDS: Final = 24 * 3600.0
"""Age from which a half copied photo is nobody's any more (choice): another program may be copying now."""

_NO_ROOM: Final = "The photo could not be kept"


class Failure(BaseModel):
    """Why a photo was refused."""

    model_config = ConfigDict(frozen=True)

    code: str
    what: str
    why: str = ""
    remedy: str = ""


class Arrival(BaseModel):
    """What is known of a photo that came in.

    Attributes
    ----------
    id : str
        SHA-256 of the file.
    name : str
        What the painter's device calls it.
    suffix : str
        Of the file here.
    arrived : str
        ISO 8601, UTC.
    state : str
        ``waiting``, ``refused`` or ``read``.
    failure : Failure or None
        Why it was refused.
    hints : str
        What the painter pointed at, `swatchread.page.pointed_hints.Hints` as text.
    left_out : bool
        Whether the painter does not want to be asked about it any more.
    width, height : int
        Of a refused photo after the EXIF turn, pixels; 0 if it cannot be decoded.
    """

    model_config = ConfigDict(frozen=True)

    id: str
    name: str
    suffix: str
    arrived: str
    state: Literal["waiting", "refused", "read"] = "waiting"
    failure: Failure | None = None
    hints: str = ""
    left_out: bool = False
    width: int = 0
    height: int = 0


@dataclass(slots=True)
class Inbox:
    """A folder with photos that came in.

    Attributes
    ----------
    folder : pathlib.Path
        It is made when the first photo comes.
    """

    folder: Path
    _known: dict[str, Arrival] = field(default_factory=dict, init=False)

    def __post_init__(self) -> None:
        """Read what came in before, and clear away what a killed program left half copied."""
        for part in self.folder.glob(f".*{_PART}") if self.folder.is_dir() else ():
            with contextlib.suppress(OSError):
                if time.time() - part.stat().st_mtime > _STALE_SECONDS:
                    part.unlink()
        for path in sorted(self.folder.glob("*.json")) if self.folder.is_dir() else ():
            try:
                arrival = Arrival.model_validate_json(path.read_bytes())
            except (OSError, ValidationError):
                continue  # not ours, or damaged: the photo beside it stays, and can be dropped again
            if path.stem == arrival.id and self._photo(arrival).is_file():
                self._known[arrival.id] = arrival

    def __iter__(self) -> Iterator[Arrival]:
        """Return what came in, the newest first."""
        return iter(sorted(self._known.values(), key=lambda one: one.arrived, reverse=True))

    def get(self, photo_id: str) -> Arrival | None:
        """Return what is known of a photo."""
        return self._known.get(photo_id)

    def photo(self, photo_id: str) -> Path | None:
        """Return the file of a photo that came in, or None; `photo_id` is a hash, not a text from elsewhere."""
        arrival = self._known.get(photo_id)
        return next(self.folder.glob(f"{photo_id}.photo*"), None) if arrival is None else self._photo(arrival)

    def take(self, file: IO[bytes], name: str, *, again: bool = True) -> Arrival:
        """Keep a photo.

        Parameters
        ----------
        file : binary file
            At its beginning.
        name : str
            Not trusted: it is shown, but names no file.
        again : bool
            Whether a photo that came in before is read again.

        Returns
        -------
        Arrival
            Waiting to be read; if it came in before and is not read again, as it stands.

        Raises
        ------
        PhotoError
            If it is no photo. Nothing is kept.
        OutputError
            If there is no room for it.
        """
        shown = _shown_name(name)
        head = file.read(HEAD_BYTES)
        if not head:
            raise PhotoError(f"{shown} is empty", "the file has no content", "Take it from the camera again")
        if not may_be_photo(head):
            raise PhotoError(f"{shown} is not a photo", "its content is no picture format known here")
        file.seek(0)
        suffix = Path(shown).suffix.lower()
        try:
            self.folder.mkdir(parents=True, exist_ok=True)
            handle, temporary = tempfile.mkstemp(dir=self.folder, prefix=".", suffix=_PART)
            try:
                with os.fdopen(handle, "wb") as part:
                    digest = _copy(file, part, shown)
                before = self._known.get(digest) or self._read_before(digest, shown)
                arrival = before or Arrival(
                    id=digest,
                    name=shown,
                    suffix=suffix if suffix in SUFFIXES else "",
                    arrived=datetime.now(UTC).isoformat(timespec="milliseconds"),
                )
                os.replace(temporary, self._photo(arrival))  # noqa: PTH105 - if it is there, it has the same bytes
            finally:
                Path(temporary).unlink(missing_ok=True)
        except OSError as error:
            raise OutputError(_NO_ROOM, error.strerror or str(error)) from error
        if before and not again:
            return before
        return self.note(arrival.model_copy(update={"state": "waiting", "failure": None, "left_out": False}))

    def note(self, arrival: Arrival) -> Arrival:
        """Write down what is known of a photo; of one that was read the archive knows all, and only the photo stays.

        Raises
        ------
        OutputError
            If it cannot be written.
        """
        self._known[arrival.id] = arrival
        if arrival.state == "read":
            self._facts(arrival.id).unlink(missing_ok=True)
        else:
            write_text(self._facts(arrival.id), arrival.model_dump_json())
        return arrival

    def keep_picture(self, photo_id: str, data: bytes) -> None:
        """Keep a refused photo as a page shows it."""
        write_bytes(self._picture(photo_id), data)

    def picture(self, photo_id: str) -> bytes | None:
        """Return a refused photo as a page shows it, a JPEG; None if it cannot be decoded."""
        if photo_id not in self._known or not self._picture(photo_id).is_file():
            return None
        return self._picture(photo_id).read_bytes()

    def drop(self, photo_id: str) -> None:
        """Forget a photo, and delete it here."""
        photo = self.photo(photo_id)
        self._known.pop(photo_id, None)
        for path in (self._facts(photo_id), self._picture(photo_id), *([] if photo is None else [photo])):
            path.unlink(missing_ok=True)

    def _read_before(self, photo_id: str, name: str) -> Arrival | None:
        """Return a photo that was read when the program last ran."""
        photo = self.photo(photo_id)
        if photo is None:
            return None
        now = datetime.now(UTC).isoformat(timespec="milliseconds")
        return Arrival(id=photo_id, name=name, suffix=photo.suffix.removesuffix(".photo"), arrived=now, state="read")

    def _facts(self, photo_id: str) -> Path:
        return self.folder / f"{photo_id}.json"

    def _photo(self, arrival: Arrival) -> Path:
        return self.folder / f"{arrival.id}.photo{arrival.suffix}"

    def _picture(self, photo_id: str) -> Path:
        return self.folder / f"{photo_id}.shown"


def _copy(file: IO[bytes], part: IO[bytes], name: str) -> str:
    """Copy a file onto the disk; return the SHA-256 of its bytes."""
    digest, size = hashlib.sha256(), 0
    while chunk := file.read(_CHUNK):
        size += len(chunk)
        if size > MAX_BYTES:
            raise PhotoTooLargeError(f"{name} is too large", f"over {MAX_BYTES // 2**20} MiB")
        digest.update(chunk)
        part.write(chunk)
    part.flush()
    os.fsync(part.fileno())
    return digest.hexdigest()


def _shown_name(name: str) -> str:
    """Return a file's name as it is shown: without folders and hidden letters, and not too long."""
    last = plain(name.replace("\\", "/").rsplit("/", 1)[-1])
    stem, dot, suffix = last.rpartition(".")
    short = f"{stem[: _LONGEST_NAME - len(suffix)]}{dot}{suffix}" if dot and len(suffix) < 10 else last[:_LONGEST_NAME]
    return short or "photo"
