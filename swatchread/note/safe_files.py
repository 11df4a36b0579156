"""Files are written so that an interruption or a full disk leaves the old file as it was."""

from __future__ import annotations

import contextlib
import json
import os
import tempfile
from pathlib import Path

from swatchread.errors import OutputError


def write_bytes(path: Path, data: bytes) -> None:
    """Write data to a temporary file beside `path`, then rename it to `path`.

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
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        # A link is followed: the file that it points to is replaced, and the link is kept.
        target = path.resolve()
        handle, temporary = tempfile.mkstemp(dir=target.parent, prefix=f".{target.name[:100]}.", suffix=".part")
        try:
            with os.fdopen(handle, "wb") as file:
                file.write(data)
                file.flush()
                os.fsync(file.fileno())
            os.chmod(temporary, _mode(target))  # noqa: PTH101 - mkstemp gives 0600
            os.replace(temporary, target)  # noqa: PTH105
        except BaseException:
            with contextlib.suppress(OSError):
                os.unlink(temporary)  # noqa: PTH108
            raise
    except OSError as error:
        raise OutputError(f"{path.name} could not be written", error.strerror or str(error)) from error


def write_text(path: Path, text: str) -> None:
    """Write UTF-8 text as `write_bytes` does."""
    try:
        data = text.encode("utf-8")
    except UnicodeEncodeError as error:
        raise OutputError(f"{path.name} could not be written", "a text cannot be encoded as UTF-8") from error
    write_bytes(path, data)


def why_no_json(text: str | bytes, error: Exception) -> str:
    """Return for the painter why a file is not JSON.

    Parameters
    ----------
    text : str or bytes
        What the file holds.
    error : Exception
        The parser's error.
    """
    if not text.strip():
        return "it is empty"
    if isinstance(error, UnicodeDecodeError):
        return "it holds no text, as a picture does"
    place = f", line {error.lineno}, column {error.colno}" if isinstance(error, json.JSONDecodeError) else ""
    return f"its text is not JSON{place}"


def _mode(target: Path) -> int:
    """Return a file's permissions, or those of a new file if it does not exist."""
    try:
        return target.stat().st_mode & 0o777
    except OSError:
        return 0o666 & ~_umask()


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask


def whole_stem(path: Path) -> str:
    """Return a file's name with its suffix as a stem: "a-jpg" for "a.jpg"."""
    return path.name.replace(".", "-")
