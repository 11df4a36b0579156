"""The files of cropped handwriting that lie beside a note."""

from __future__ import annotations

from pathlib import Path

MAX_BYTES = 2 * 1024 * 1024
_SIGNATURES = ((b"\x89PNG\r\n\x1a\n", "image/png"), (b"\xff\xd8\xff", "image/jpeg"))


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
    if path is None or path.stat().st_size > MAX_BYTES:
        return None
    data = path.read_bytes()
    kind = media_type(data)
    return (data, kind) if kind else None


def media_type(data: bytes) -> str | None:
    """Return the media type of a picture that a page can show, or None."""
    return next((kind for signature, kind in _SIGNATURES if data.startswith(signature)), None)
