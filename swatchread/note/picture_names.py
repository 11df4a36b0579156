"""The names of the pictures that a reading writes beside its note.

The handwriting of a card lies in a folder of its own, so that a painter who looks for the card's page finds it among
few files.
"""

from __future__ import annotations

from pathlib import Path, PurePosixPath
from typing import Final

WRITING_FOLDER: Final = ".writing"
"""Ending of the folder that holds a card's handwriting."""

MARKED: Final = ".marked.jpg"
"""Ending of the marked photo's name."""

_TITLE: Final = "title"
_FLAT: Final = ".writing.jpg"
"""Ending of a crop's name in notes of before there were folders: ``card.r1c1.writing.jpg``."""


def crop_name(stem: str, swatch_id: str) -> str:
    """Return the name of a swatch's handwriting, from the note's folder: ``card.writing/r1c1.jpg``."""
    return f"{stem}{WRITING_FOLDER}/{swatch_id}.jpg"


def title_name(stem: str) -> str:
    """Return the name of the picture of what is written above the swatches."""
    return crop_name(stem, _TITLE)


def marked_name(stem: str) -> str:
    """Return the name of the marked photo."""
    return f"{stem}{MARKED}"


def stem_of_crop(name: str, swatch_id: str) -> str:
    """Return what the names of a reading's files begin with, from the name of a swatch's handwriting."""
    if name.endswith(_FLAT):
        return name.removesuffix(f".{swatch_id}{_FLAT}")
    return PurePosixPath(name).parent.name.removesuffix(WRITING_FOLDER)


def is_own_picture(path: Path) -> bool:
    """Tell whether a file is a picture that a reading wrote, and no photo."""
    in_folder = path.parent.name.lower().endswith(WRITING_FOLDER)
    return in_folder or path.name.lower().endswith((MARKED, _FLAT))
