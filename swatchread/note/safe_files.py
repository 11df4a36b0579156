"""Files beside a note: written so that an interruption or a full disk leaves the old file as it was, and read safely.

The crops of handwriting are found by the names that a note gives them, and a note may come from anywhere.
"""

from __future__ import annotations

import contextlib
import errno
import os
import sys
from collections.abc import Iterator, Mapping
from pathlib import Path, PurePosixPath

from swatchread.errors import OutputError
from swatchread.note.staged_files import Staged, lock_folder

_MAX_WRITING_BYTES = 2 * 1024 * 1024
"""A larger crop of handwriting is not shown."""

_SIGNATURES = ((b"\x89PNG\r\n\x1a\n", "image/png"), (b"\xff\xd8\xff", "image/jpeg"))

_WRITER_SECONDS = 30.0
"""Seconds to wait for another program that writes into a folder; writing the files of a note takes a tenth of one."""


def write_bytes(path: Path, data: bytes) -> None:
    """Write a file; an interruption or a full disk leaves an older file as it was.

    Parameters
    ----------
    path : pathlib.Path
        The file; its folder is created if it does not exist.
    data : bytes

    Raises
    ------
    OutputError
        If the folder or the file cannot be written.
    """
    write_files({path: data})


def write_text(path: Path, text: str) -> None:
    """Write UTF-8 text as `write_bytes` does."""
    write_bytes(path, encoded(path, text))


def encoded(path: Path, text: str) -> bytes:
    """Return a text as UTF-8.

    Raises
    ------
    OutputError
        If it holds what is no letter; the message names the file that it is for.
    """
    try:
        return text.encode("utf-8")
    except UnicodeEncodeError as error:
        raise OutputError(f"{path.name} could not be written", "a text cannot be encoded as UTF-8") from error


def write_files(contents: Mapping[Path, bytes]) -> None:
    """Write files that belong together. Each takes its name as a whole, and none before all of them are on the disk.

    Parameters
    ----------
    contents : mapping of pathlib.Path to bytes
        In the order in which they take their names. Their folders are created if they do not exist.

    Raises
    ------
    OutputError
        If one cannot be written. If that is found before the first takes its name, as with a full disk, none is.
    """
    with contextlib.ExitStack() as stack:
        path = Path()
        try:
            staged = []
            for path, data in contents.items():
                path.parent.mkdir(parents=True, exist_ok=True)
                staged.append((path, stack.enter_context(Staged(path, data))))
            for path, file in staged:  # noqa: B007 - the message names the one that failed
                file.take_name()
        except OSError as error:
            raise _output_error(path, error) from error


@contextlib.contextmanager
def only_writer(folder: Path) -> Iterator[None]:
    """Let no other program change the notes in a folder meanwhile, so that what was just read is what is replaced.

    It holds among programs of one computer that ask for it. Windows and some network disks have no such lock: there a
    note that was changed meanwhile is only seen where it is compared.

    Parameters
    ----------
    folder : pathlib.Path
        It is created if it does not exist.

    Raises
    ------
    OutputError
        If the folder cannot be made or opened, or another program does not let go of it.
    """
    try:
        folder.mkdir(parents=True, exist_ok=True)
        handle = os.open(folder, os.O_RDONLY) if sys.platform != "win32" else None
    except OSError as error:
        raise _output_error(folder, error) from error
    if handle is None:
        yield
        return
    try:
        if not lock_folder(handle, _WRITER_SECONDS):
            what, why = f"Nothing could be written into {folder}", "another program is writing there and does not end"
            raise OutputError(what, why, "Wait for that program, or end it, and try again")
        yield
    finally:
        os.close(handle)


def require_short_name(path: Path) -> None:
    """Refuse a name that is too long for its disk, before work is done for it.

    Raises
    ------
    OutputError
    """
    try:
        path.lstat()
    except OSError as error:
        if error.errno == errno.ENAMETOOLONG:
            raise _output_error(path, error) from error


def _output_error(path: Path, error: OSError) -> OutputError:
    what = f"{path.name or path} could not be written"
    if error.errno == errno.ENAMETOOLONG:
        size = len(os.fsencode(path.name))
        return OutputError(
            what, f"its name has {size} bytes, more than this disk takes", "Give the photo a shorter name"
        )
    return OutputError(what, error.strerror or str(error))


def readable_name(name: str) -> str:
    """Return a file's name with an underscore in the place of each byte that is no letter in UTF-8.

    Such names come from disks of other systems. Neither a note nor another program could hold them.
    """
    return os.fsencode(name).decode("utf-8", "replace").replace("\ufffd", "_")


def plain_stem(path: Path) -> str:
    """Return a file's name without its suffix, as the names of results can begin with it."""
    return readable_name(path.stem)


def card_stem(stem: str, letter: str) -> str:
    """Return what the names of one card's results begin with: the photo's stem, and the card's letter if it has one."""
    return f"{stem}.{letter}" if letter else stem


def whole_stem(path: Path) -> str:
    """Return a file's name with its suffix as a stem: "a-jpg" for "a.jpg"."""
    return readable_name(path.name).replace(".", "-")


def writing_file(folder: Path, name: str | None) -> Path | None:
    """Return the path of a crop that a note names, or None if there is none.

    A note may come from anywhere, so a name that leads out of the note's folder, or deeper than one folder, counts as
    none.

    Parameters
    ----------
    folder : pathlib.Path
        Where the note lies.
    name : str or None
        `Swatch.writing`.
    """
    # "\\" and ":" would leave the folder on other systems; a zero byte is no name at all.
    parts = PurePosixPath(name or "").parts
    if not parts or name != "/".join(parts[:2]) or ".." in parts or any(sign in name for sign in "\\:\0"):
        return None
    path = folder.joinpath(*parts)
    led = any(one.is_symlink() for one in (path, folder / parts[0]))
    return path if path.is_file() and not led else None


def read_writing(folder: Path, name: str | None) -> tuple[bytes, str] | None:
    """Return a crop's bytes and media type, or None if there is none that a page can show.

    Parameters
    ----------
    folder, name
        As for `writing_file`.
    """
    path = writing_file(folder, name)
    if path is None or path.stat().st_size > _MAX_WRITING_BYTES:
        return None
    data = path.read_bytes()
    kind = media_type(data)
    return (data, kind) if kind else None


def media_type(data: bytes) -> str | None:
    """Return the media type of a picture that a page can show, or None."""
    return next((kind for signature, kind in _SIGNATURES if data.startswith(signature)), None)
