"""The sample photo, as it is shipped or stands in the project's folder."""

from __future__ import annotations

from importlib.resources import files
from pathlib import Path
from typing import IO

from swatchread.errors import PhotoError

_NAME = "white-card.jpg"


def sample_photo() -> IO[bytes]:
    """Return the sample photo, opened.

    Raises
    ------
    PhotoError
        If it is not installed.
    """
    shipped = files("swatchread") / "samples" / _NAME
    source = Path(__file__).parents[2] / "samples" / _NAME
    if shipped.is_file():
        return shipped.open("rb")
    if source.is_file():
        return source.open("rb")
    raise PhotoError("The sample photo is not here", "it was not installed", "Drop a photo of your own")
