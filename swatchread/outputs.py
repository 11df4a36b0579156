"""The files of one reading: the note, its table, the marked photo and the page."""

from __future__ import annotations

from pathlib import Path

import cv2
import numpy as np
import numpy.typing as npt

from swatchread.exports.cgats import note_to_cgats
from swatchread.exports.csv_text import note_to_csv
from swatchread.files import write_text
from swatchread.photo import Photo
from swatchread.pictures.marked import LONGEST_SIDE, LeftOut, mark, save_jpeg
from swatchread.pictures.page import save_page
from swatchread.reading import Reading


def write_outputs(reading: Reading, folder: Path, stem: str) -> list[Path]:
    """Write a reading's files, the note itself last: where it stands, the others do.

    Parameters
    ----------
    reading : Reading
    folder : pathlib.Path
    stem : str
        What their names begin with, usually the photo's.

    Returns
    -------
    list of pathlib.Path

    Raises
    ------
    OutputError
        If one cannot be written.
    """
    note = reading.note
    names = {kind: folder / f"{stem}.{kind}" for kind in ("marked.jpg", "note.csv", "note.cgats.txt", "note.html")}
    photo = reading.calibration.find.photo
    left_out = [LeftOut(*s.corner, s.left_out) for s in reading.sample.swatches]
    save_jpeg(mark(viewable(photo), note, left_out), names["marked.jpg"], photo.encoding.icc)
    write_text(names["note.csv"], note_to_csv(note))
    write_text(names["note.cgats.txt"], note_to_cgats(note))
    save_page(note, names["note.html"])
    target = folder / f"{stem}.note.json"
    note.save(target)
    return [target, *names.values()]


def viewable(photo: Photo) -> npt.NDArray[np.uint8]:
    """Return the photo as 8-bit RGB for the screen, at most `LONGEST_SIDE` long."""
    shrink = min(1.0, LONGEST_SIDE / max(photo.width, photo.height))
    size = (round(photo.width * shrink), round(photo.height * shrink))
    picture = cv2.resize(photo.pixels, size, interpolation=cv2.INTER_AREA)
    if photo.encoding.scene_linear:
        share = picture.astype(np.float32) / photo.top
        picture = np.clip(255.0 * (share / max(float(np.quantile(share, 0.995)), 1e-4)) ** (1 / 2.2), 0, 255)
    elif picture.dtype == np.uint16:
        picture = picture // 257
    return np.ascontiguousarray(picture, dtype=np.uint8)
