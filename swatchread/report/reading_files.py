"""The files of one reading: the note, its table, the marked photo, the handwriting and the page."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import count
from pathlib import Path

import numpy as np
import numpy.typing as npt

from swatchread.colour.cielab import Floats
from swatchread.errors import NoteError
from swatchread.ink.handwriting_regions import find_writing, picture_of
from swatchread.note.entered_words import has_words, named_as, take_words
from swatchread.note.model import Note, load_note
from swatchread.note.phrases import plain
from swatchread.note.picture_names import crop_name, marked_name, title_name
from swatchread.note.safe_files import card_stem, only_writer, plain_stem, require_short_name, whole_stem, write_bytes
from swatchread.photo import Photo
from swatchread.photo.derived_pictures import for_the_eye, halved, shrunk
from swatchread.photo.geometry import UNIT_SQUARE, fit_homography, project
from swatchread.reading import Reading
from swatchread.report.marked_photo import LeftOut, mark, save_jpeg
from swatchread.report.note_files import TEXTS, save_with_texts, text_files
from swatchread.report.ruled_frame import framed

LONGEST_SIDE = 2400
"""Long side of the marked photo at most, in pixels."""

_LONG_ENOUGH = 1800
"""Long side, in pixels, of a marked photo that shows enough (choice); halving is much faster than any other size."""

_LONGEST_ENDING = ".earlier-1.note.json"
"""What is put behind a photo's name at most, as a rule."""

_RIM, _LEAST_TITLE = 0.3, 0.04
"""Heights of a swatch left above it, and the share of a card's height that a line of writing needs (choice)."""


@dataclass(frozen=True)
class Written:
    """What was written.

    Attributes
    ----------
    note : Note
        As it was written: it names the crops of handwriting, and has taken over the painter's words of an earlier note.
    paths : tuple of pathlib.Path
        The note first.
    aside : pathlib.Path or None
        Where an earlier note is kept, if the new one could not take over its words.
    """

    note: Note
    paths: tuple[Path, ...]
    aside: Path | None = None

    @property
    def remark(self) -> str:
        """Say in a line that an earlier note was kept aside; empty if it was not."""
        if self.aside is None:
            return ""
        return f"the note that stood there does not fit this reading and is kept as {self.aside.name}"


def note_path(folder: Path, stem: str) -> Path:
    """Return the path of a reading's note."""
    return folder / f"{stem}.note.json"


def stem_beside(folder: Path, photo: Path) -> str:
    """Return what the names of a photo's results begin with: its name without the suffix.

    The suffix stays where results of another photo have that name already: "a.heic" beside "a.jpg".

    Parameters
    ----------
    folder : pathlib.Path
        Of the results.
    photo : pathlib.Path
    """
    stem = plain_stem(photo)
    try:
        other = Path(plain(load_note(note_path(folder, stem)).photo.file))
    except NoteError:
        return stem
    differs = other.stem == stem and other.suffix.lower() != photo.suffix.lower()
    return whole_stem(photo) if differs else stem


def write_outputs(reading: Reading, folder: Path, stem: str) -> Written:
    """Write a reading's files: first the pictures, then the note, and at once after it the texts that repeat it.

    The new note takes over the recipes and the card information of an earlier note of the same photo. Where it cannot
    (another photo of that name, other swatches), the earlier note is kept beside it.

    Parameters
    ----------
    reading : Reading
    folder : pathlib.Path
    stem : str
        What their names begin with, usually the photo's; the letter of one of several cards is put behind it.

    Returns
    -------
    Written

    Raises
    ------
    OutputError
        If one cannot be written.
    """
    stem = card_stem(stem, reading.note.card.letter)
    target = note_path(folder, stem)
    require_short_name(folder / f"{stem}{_LONGEST_ENDING}")
    note, crops = _write_crops(reading, folder, stem)
    picture = folder / marked_name(stem)
    photo, chart = reading.calibration.find.photo, reading.calibration.find.chart
    left_out = [LeftOut(*s.corner, s.left_out) for s in reading.sample.swatches]
    marked = mark(viewable(photo), note, left_out, (chart.columns, chart.rows), reading.others)
    save_jpeg(framed(marked, note), picture, photo.encoding.icc)
    with only_writer(folder):  # what the painter writes meanwhile is taken over, too
        note, aside = _with_earlier_words(note, target)
        save_with_texts(target, note, TEXTS)
    return Written(note, (target, picture, *text_files(target).values(), *crops), aside)


def viewable(photo: Photo) -> npt.NDArray[np.uint8]:
    """Return the photo as 8-bit RGB for the screen, at most `LONGEST_SIDE` long; halved where that is large enough."""
    longest = max(photo.width, photo.height)
    times = max(0, math.ceil(math.log2(longest / LONGEST_SIDE)))
    if longest / 2**times >= _LONG_ENOUGH:
        return for_the_eye(photo, halved(photo.pixels, times))
    shrink = LONGEST_SIDE / longest
    return for_the_eye(photo, shrunk(photo.pixels, (round(photo.width * shrink), round(photo.height * shrink))))


def _write_crops(reading: Reading, folder: Path, stem: str) -> tuple[Note, list[Path]]:
    """Write a picture of each swatch's handwriting; return the note that names the pictures, and their files."""
    card = reading.sample.card
    icc = reading.calibration.find.photo.encoding.icc
    names: dict[tuple[int, int], str] = {}
    for (row, column), corners in find_writing(card).items():
        names[row, column] = crop_name(stem, f"r{row}c{column}")
        save_jpeg(picture_of(card, corners), folder / names[row, column], icc)
    note, files = reading.note, [folder / name for name in names.values()]
    if (top := above_the_swatches(note)) is not None:
        files.append(folder / title_name(stem))
        save_jpeg(picture_of(card, top), files[-1], icc)
    swatches = tuple(s.model_copy(update={"writing": names.get((s.row, s.column))}) for s in note.swatches)
    return note.model_copy(update={"swatches": swatches}), files


def above_the_swatches(note: Note) -> Floats | None:
    """Return the corners of the card's top, photo pixels, as far as its first swatches; None if that is no room."""
    to_photo = fit_homography(UNIT_SQUARE, np.array(note.card.corners, dtype=np.float64))
    heights = [project(np.linalg.inv(to_photo), np.array(swatch.outline))[:, 1] for swatch in note.swatches]
    # What was sampled stops short of the paint's rim, and a brush stroke may begin higher up.
    end = min(float(v.min() - _RIM * np.ptp(v)) for v in heights)
    if end < _LEAST_TITLE:
        return None
    return project(to_photo, [[0.0, 0.0], [1.0, 0.0], [1.0, end], [0.0, end]])


def _with_earlier_words(note: Note, target: Path) -> tuple[Note, Path | None]:
    """Take over the painter's words from the note that this one replaces, or else keep that note aside."""
    try:
        earlier = load_note(target)
    except NoteError:
        # Damaged, or of a later version: what it holds must not be lost.
        return note, _set_aside(target) if target.is_file() else None
    if not has_words(earlier):
        return note, None
    if (earlier.photo.sha256, earlier.identity) == (note.photo.sha256, note.identity):
        words = named_as(earlier, note)
        if words is not None:
            return take_words(note, words), None
    return note, _set_aside(target)


def _set_aside(target: Path) -> Path:
    """Keep a note under the first free name beside it."""
    stem = target.name.removesuffix(".note.json")
    data = target.read_bytes()
    for number in count(1):
        aside = target.with_name(f"{stem}.earlier-{number}.note.json")
        if not aside.exists():
            write_bytes(aside, data)
            break
        if aside.read_bytes() == data:
            break
    return aside
