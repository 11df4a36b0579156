"""The files of cropped handwriting that lie beside a note."""

from __future__ import annotations

from pathlib import Path, PurePosixPath

SUFFIXES = {".png": "image/png", ".jpg": "image/jpeg", ".jpeg": "image/jpeg", ".webp": "image/webp"}
"""Suffix -> media type of a crop."""


def writing_file(folder: Path, name: str | None) -> Path | None:
    """Return the path of a crop that a note names, or None if there is none.

    A note may come from anywhere, so a name that leads out of the note's folder, or to anything that is not a
    picture, counts as none.

    Parameters
    ----------
    folder : pathlib.Path
        Where the note lies.
    name : str or None
        `Swatch.writing`.
    """
    if not name or "\0" in name or "\\" in name:
        return None
    relative = PurePosixPath(name)
    if relative.is_absolute() or ".." in relative.parts or relative.suffix.lower() not in SUFFIXES:
        return None
    path = (folder / relative).resolve()
    return path if path.is_relative_to(folder.resolve()) and path.is_file() else None
