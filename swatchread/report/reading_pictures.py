"""The pictures that an archive keeps of a reading: the card cut out, the marked photo, the photo, the handwriting."""

from __future__ import annotations

import io
from pathlib import Path

import numpy as np
from PIL import Image

from swatchread.archive.card_pictures import CARD, HEADING, MARKED, PHOTO, WRITING, Picture
from swatchread.card.handwriting_regions import cut_out, find_writing, picture_of
from swatchread.colour.cielab import Floats
from swatchread.note.model import Corners, Note
from swatchread.photo import load_photo
from swatchread.photo.geometry import UNIT_SQUARE, fit_homography, project
from swatchread.reading import Reading
from swatchread.report.marked_photo import LeftOut, mark
from swatchread.report.marked_photo import Picture as Pixels
from swatchread.report.reading_files import viewable

_QUALITY = 82
"""JPEG quality of what is looked at and not measured: a card's pictures take about a megabyte (choice)."""

_RIM, _LEAST_HEADING = 0.3, 0.04
"""Heights of a swatch left above it, and the share of a card's height that a line of writing needs (choice)."""

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
    if (top := _above_the_swatches(note)) is not None:
        pictures[HEADING] = _jpeg(picture_of(card, top), icc)
    for (row, column), corners in find_writing(card).items():
        pictures[f"{WRITING}r{row}c{column}"] = _jpeg(picture_of(card, corners), icc)
    return pictures


def _above_the_swatches(note: Note) -> Floats | None:
    """Return the corners of the card's top, photo pixels, as far as its first swatches; None if that is no room."""
    to_photo = fit_homography(UNIT_SQUARE, np.array(note.card.corners, dtype=np.float64))
    heights = [project(np.linalg.inv(to_photo), np.array(swatch.outline))[:, 1] for swatch in note.swatches]
    # What was sampled stops short of the paint's rim, and a brush stroke may begin higher up.
    end = min(float(v.min() - _RIM * np.ptp(v)) for v in heights)
    if end < _LEAST_HEADING:
        return None
    return project(to_photo, [[0.0, 0.0], [1.0, 0.0], [1.0, end], [0.0, end]])


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
