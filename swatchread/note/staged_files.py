"""Files on their way to their names, and the lock of a folder that is written into."""

from __future__ import annotations

import contextlib
import hashlib
import os
import secrets
import sys
import time
from pathlib import Path
from types import TracebackType

if sys.platform != "win32":
    import fcntl

_TEMPORARY = ".part"
"""Ending of the name of a file that is being written."""

_NAMELESS = hasattr(os, "O_TMPFILE") and Path("/proc/self/fd").is_dir()
"""Whether the system (Linux) can write a file that has no name until it is whole, so that a kill leaves nothing."""

_POLL_SECONDS = 0.01


class Staged(contextlib.AbstractContextManager["Staged"]):
    """A file that is on the disk, but does not stand under its name yet. Use it in a ``with`` statement.

    Parameters
    ----------
    path : pathlib.Path
        Its folder exists.
    data : bytes

    Raises
    ------
    OSError
        If it cannot be written.
    """

    def __init__(self, path: Path, data: bytes) -> None:
        # A link is followed: the file that it points to is replaced, and the link is kept.
        self._target = Path(os.path.realpath(path))
        _remove_left_over(self._target)
        self._temporary = self._target.with_name(f"{_prefix(self._target)}{secrets.token_hex(4)}{_TEMPORARY}")
        self._named = False
        mode = _mode(self._target)
        self._handle = self._open(mode or 0o666)
        try:
            with os.fdopen(self._handle, "wb", closefd=False) as file:
                file.write(data)
                file.flush()
                os.fsync(file.fileno())
            if mode is not None and sys.platform != "win32":
                os.fchmod(self._handle, mode)
        except BaseException:
            self.__exit__(None, None, None)
            raise

    def __exit__(
        self, _kind: type[BaseException] | None, _error: BaseException | None, _trace: TracebackType | None
    ) -> None:
        if self._named:
            with contextlib.suppress(OSError):
                self._temporary.unlink()
        with contextlib.suppress(OSError):
            os.close(self._handle)

    def take_name(self) -> None:
        """Put the file in the place of an older one."""
        if not self._named:
            folder = os.open(self._target.parent, os.O_RDONLY)
            try:
                # With a folder's handle Python follows the link in /proc to the file itself.
                os.link(f"/proc/self/fd/{self._handle}", self._temporary.name, dst_dir_fd=folder)
                self._named = True
            finally:
                os.close(folder)
        if sys.platform == "win32":
            os.close(self._handle)  # an open file cannot be renamed there
        os.replace(self._temporary, self._target)  # noqa: PTH105
        self._named = False

    def _open(self, mode: int) -> int:
        if _NAMELESS:
            with contextlib.suppress(OSError):  # not every file system can do it
                return _held(os.open(self._target.parent, os.O_TMPFILE | os.O_WRONLY, mode))
        flags = os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0)
        handle = os.open(self._temporary, flags, mode)
        self._named = True
        return _held(handle)


def _held(handle: int) -> int:
    """Mark a file as being written, for as long as this process has it open."""
    if sys.platform != "win32":
        with contextlib.suppress(OSError):
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    return handle


def _mode(target: Path) -> int | None:
    """Return the permissions of a file, or None if it does not exist."""
    try:
        return target.stat().st_mode & 0o777
    except OSError:
        return None


def _prefix(target: Path) -> str:
    """Return what the names of a target's temporary files begin with: short, for its own name may be long."""
    return f".{hashlib.sha256(os.fsencode(target.name)).hexdigest()[:16]}-"


def _remove_left_over(target: Path) -> None:
    """Remove the temporary files for a target whose writers were killed."""
    prefix = _prefix(target)
    with contextlib.suppress(OSError), os.scandir(target.parent) as entries:
        for entry in entries:
            if entry.name.startswith(prefix) and entry.name.endswith(_TEMPORARY):
                with contextlib.suppress(OSError):
                    _remove_if_abandoned(entry.path)


def _remove_if_abandoned(path: str) -> None:
    if sys.platform == "win32":
        os.unlink(path)  # noqa: PTH108 - refused there while a process has it open
        return
    handle = os.open(path, os.O_RDONLY)
    try:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        os.unlink(path)  # noqa: PTH108
    finally:
        os.close(handle)


def lock_folder(handle: int, seconds: float) -> bool:
    """Wait until no other program writes into a folder.

    Parameters
    ----------
    handle : int
        Of the opened folder. The lock ends when it is closed, also by a kill.
    seconds : float
        How long to wait.

    Returns
    -------
    bool
        Whether no other program holds it. Windows and some network disks have no such lock: there it is always true.
    """
    end = time.monotonic() + seconds
    while sys.platform != "win32":
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            if time.monotonic() > end:
                return False
            time.sleep(_POLL_SECONDS)
        except OSError:
            break
        else:
            break
    return True
