"""The pictures that an archive keeps of a reading: the card cut out, the marked photo, the photo, the handwriting."""

from __future__ import annotations

import io
from pathlib import Path

import numpy as np
from PIL import Image

from swatchread.archive.card_pictures import CARD, HEADING, MARKED, PHOTO, WRITING, Picture
from swatchread.ink.handwriting_regions import cut_out, find_writing, picture_of
from swatchread.note.model import Corners, Note
from swatchread.photo import load_photo
from swatchread.reading import Reading
from swatchread.report.marked_photo import LeftOut, mark
from swatchread.report.marked_photo import Picture as Pixels
from swatchread.report.reading_files import above_the_swatches, viewable

_QUALITY = 82
"""JPEG quality of what is looked at and not measured: a card's pictures take about a megabyte (choice)."""

_MOST_PROFILE = 64 * 1024
"""Bytes of a colour profile that goes along; those of cameras have a few hundred."""


def reading_pictures(reading: Reading, note: Note) -> dict[str, Picture]:
    """Draw the pictures of a reading.

    Parameters
    ----------
    reading : Reading
    note : Note
        Its note, perhaps with words.

    Returns
    -------
    dict of str to Picture
        By the roles of `swatchread.archive.card_pictures`.
    """
    photo, chart = reading.calibration.find.photo, reading.calibration.find.chart
    card, icc = reading.sample.card, photo.encoding.icc
    seen = viewable(photo)
    left_out = [LeftOut(*s.corner, s.left_out) for s in reading.sample.swatches]
    pictures = {
        CARD: _jpeg(picture_of(card, np.asarray(note.card.corners, dtype=np.float64)), icc),
        MARKED: _jpeg(mark(seen, note, left_out, (chart.columns, chart.rows), reading.others), icc),
        PHOTO: _jpeg(seen, icc),
    }
    if (top := above_the_swatches(note)) is not None:
        pictures[HEADING] = _jpeg(picture_of(card, top), icc)
    for (row, column), corners in find_writing(card).items():
        pictures[f"{WRITING}r{row}c{column}"] = _jpeg(picture_of(card, corners), icc)
    return pictures


def photo_pictures(path: Path, corners: Corners | None) -> tuple[dict[str, Picture], tuple[int, int]]:
    """Return a photo as a browser shows it, at a size that a page needs, and the card cut out of it.

    Parameters
    ----------
    path : pathlib.Path
    corners : four places, or None
        Of the card, clockwise from its top left, photo pixels; without them the photo alone is returned.

    Returns
    -------
    dict of str to Picture
        By their roles.
    tuple of int
        Width and height of the photo after the EXIF turn, pixels.

    Raises
    ------
    PhotoError
        If it cannot be decoded.
    """
    photo = load_photo(path)
    pictures = {PHOTO: _jpeg(viewable(photo), photo.encoding.icc)}
    if corners is not None:
        pictures[CARD] = _jpeg(cut_out(photo, np.array(corners, dtype=np.float64)), photo.encoding.icc)
    return pictures, (photo.width, photo.height)


def _jpeg(pixels: Pixels, icc: bytes | None) -> Picture:
    buffer = io.BytesIO()
    kept = icc if icc is not None and len(icc) <= _MOST_PROFILE else None
    Image.fromarray(pixels).save(buffer, "JPEG", quality=_QUALITY, icc_profile=kept)
    return Picture("image/jpeg", buffer.getvalue())
