"""Files beside a note: written so that an interruption or a full disk leaves the old file as it was, and read safely.

The crops of handwriting are found by the names that a note gives them, and a note may come from anywhere.
"""

from __future__ import annotations

import contextlib
import os
import tempfile
from pathlib import Path

from swatchread.errors import OutputError

_MAX_WRITING_BYTES = 2 * 1024 * 1024
"""A larger crop of handwriting is not shown."""

_SIGNATURES = ((b"\x89PNG\r\n\x1a\n", "image/png"), (b"\xff\xd8\xff", "image/jpeg"))


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


def writing_file(folder: Path, name: str | None) -> Path | None:
    """Return the path of a crop that a note names, or None if there is none.

    A note may come from anywhere, so a name that leads out of the note's folder counts as none.

    Parameters
    ----------
    folder : pathlib.Path
        Where the note lies.
    name : str or None
        `Swatch.writing`.
    """
    # "\\" and ":" would leave the folder on other systems; a zero byte is no name at all.
    if not name or name != Path(name).name or any(sign in name for sign in "\\:\0"):
        return None
    path = folder / name
    return path if path.is_file() and not path.is_symlink() else None


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
