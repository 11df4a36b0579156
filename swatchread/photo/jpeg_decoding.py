"""Decoding JPEG files, and telling whether their data are damaged.

The decoder notices most damage and says so. One kind it cannot notice: a JPEG file stores the level of each block as
the difference from the block before (ISO/IEC 10918-1, F.1.2.1), so one wrong bit may shift all blocks that follow and
leave a file that decodes without a complaint. Such a shift shows as a seam: one row of blocks differs by a constant
from the row above it, over the whole width of the picture.
"""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import numpy.typing as npt

from swatchread.errors import PhotoError
from swatchread.photo import opencv as cv2
from swatchread.photo.encoded_photo import Floats32, Pixels
from swatchread.photo.order_statistics import median

_STRIPS = 24
"""Strips into which the width is divided; the step at a seam is measured in each."""

_DEVIATING = 4
"""Strips that need not show the step: burnt-out or black ones, and the one in which the damage begins."""

_CONSTANT = 0.4
"""Share of its middle value that the step has in every strip but those: it is one number, and noise. A sheet's edge
that runs level in a simulated photo stepped by 0.8 to 9 levels along its length."""

_SMALL, _EVEN = 2.0, 0.25
"""Steps below so many 8-bit levels must be even: they may differ from their middle value by this share of it, and by
0.3 levels of noise. Large ones are cut off where the picture is black or white."""

_NOISE = 0.3
"""Noise of the step in a strip, 8-bit levels."""

_SEAM = 0.8
"""Least step of a seam, 8-bit levels. Over 137 whole simulated photos the largest was 0.28. Of 37 photos with one wrong
bit that spoilt 1 to 97 % of the picture, and of which the decoder did not complain, 2 showed less than 0.8."""

_ENOUGH = 60
"""Columns of a strip that are enough; of broader ones the left half is compared. Of 279 photos with one wrong bit both
half and whole strips told the same 79."""

_AT_A_TIME = 16
"""Rows of blocks that are compared at a time, so that they stay in the processor's cache."""

_TO_YCC = np.array([[0.299, 0.587, 0.114], [-0.1687, -0.3313, 0.5], [0.5, -0.4187, -0.0813]], np.float32)
"""From RGB to the components in which JPEG files store colour (JFIF 1.02)."""

_TALL = frozenset({"420", "440"})
"""Subsamplings that halve the chroma vertically, so that a unit of blocks is 16 rows high instead of 8."""


def decode_jpeg(data: bytes, size: tuple[int, int], path: Path) -> tuple[Pixels, str]:
    """Decode a JPEG file, and tell what is wrong with its data.

    Parameters
    ----------
    data : bytes
        The whole file.
    size : tuple of int
        Width and height as its header gave them when they were checked.
    path : pathlib.Path

    Returns
    -------
    pixels : ndarray, shape (height, width, 3), uint8
        RGB, not turned.
    damage : str
        What is wrong with the data, in words; empty for whole data.

    Raises
    ------
    PhotoError
        If a part of the picture is missing, or it cannot be decoded.
    """
    import simplejpeg

    if not _reaches_its_end(data):
        raise PhotoError(f"{path.name} is cut short", "the end of the picture is missing", "Copy it again")
    complaint = ""
    try:
        height, width, _, subsampling = simplejpeg.decode_jpeg_header(data, strict=False)
        if (width, height) != size:
            raise PhotoError(f"{path.name} is damaged", "it states two different sizes")
        try:
            pixels: Pixels = simplejpeg.decode_jpeg(data)
        except ValueError as error:
            complaint = str(error)
            pixels = simplejpeg.decode_jpeg(data, strict=False)
    except ValueError as error:
        raise PhotoError(f"{path.name} is damaged", f"its pixels cannot be decoded ({error})") from error
    # Some cameras leave bytes behind a whole picture, so that complaint alone does not prove damage.
    if complaint and "extraneous" not in complaint:
        raise PhotoError(f"{path.name} is damaged", f"a part of its picture is missing ({complaint})", "Copy it again")
    return pixels, _in_words(complaint, pixels, 16 if subsampling in _TALL else 8)


def _in_words(complaint: str, pixels: Pixels, unit: int) -> str:
    step, row = seam(pixels, unit)
    found = [f"the decoder reports {re.sub('^Corrupt JPEG data: ', '', complaint)}"] if complaint else []
    if step >= _SEAM:
        place = f"{100 * row / len(pixels):.0f} % of the way through the stored picture"
        found.append(f"{place} all that follows is shifted by {step:.0f} of 255 levels")
    return ", and ".join(found)


def seam(pixels: Pixels, unit: int) -> tuple[float, int]:
    """Return the largest step between two rows of blocks that runs over the whole width of a picture.

    The damage begins at some block of a row. From there to the end of the row the step is at the row's upper side, and
    before it at its lower side.

    Parameters
    ----------
    pixels : ndarray, shape (height, width, 3), uint8
    unit : int
        Height of a row of blocks, pixels.

    Returns
    -------
    step : float
        In 8-bit levels of the component that steps most; 0 where no row looks like a seam.
    row : int
        The pixel row below the step.
    """
    rows = np.arange(unit, len(pixels) - 3, unit)
    if not len(rows) or pixels.shape[1] < _STRIPS:
        return 0.0, 0
    parts = range(0, len(rows), _AT_A_TIME)
    steps = np.concatenate([_steps(pixels, rows[k : k + _AT_A_TIME], unit) for k in parts])
    below = np.concatenate([steps[1:], np.zeros_like(steps[:1])])
    # Few rows of a whole photo step far enough in enough strips to be worth sorting.
    up, down = np.maximum(steps, below) >= _SEAM, np.minimum(steps, below) <= -_SEAM
    likely = (np.maximum(up.sum(axis=1), down.sum(axis=1)) >= _STRIPS - _DEVIATING).any(axis=1)
    rows, steps, below = rows[likely], steps[likely], below[likely]
    strip = np.arange(_STRIPS)[None, :, None]
    largest, place = 0.0, 0
    for begin in range(_STRIPS + 1 if len(rows) else 0):
        ordered = np.sort(np.where(strip < begin, below, steps), axis=1)
        low, middle, high = ordered[:, _DEVIATING], ordered[:, _STRIPS // 2], ordered[:, -1 - _DEVIATING]
        shared = np.maximum(low, -high)
        even = np.maximum(high - middle, middle - low) <= _EVEN * np.abs(middle) + _NOISE
        constant = (shared >= _CONSTANT * np.abs(middle)) & (even | (shared >= _SMALL))
        shared = np.where(constant, shared, 0.0).max(axis=1)
        if (most := float(shared.max())) > largest:
            largest, place = most, int(rows[shared.argmax()])
    return largest, place


def _steps(pixels: Pixels, rows: npt.NDArray[np.intp], unit: int) -> Floats32:
    """Return the median step at the rows in each strip and component, less the slopes beside it, shape (r, s, 3)."""
    width = pixels.shape[1] // _STRIPS
    strips = pixels[:, : _STRIPS * width].reshape(-1, _STRIPS, width, 3)[:, :, : max(_ENOUGH, width // 2)]
    near = [strips[rows[0] + k :: unit][: len(rows)] for k in range(-4, 4)]
    apart = (np.subtract(near[4 + k], near[3 - k], dtype=np.int16) for k in range(4))
    first, second, third, fourth = (step.reshape(len(rows), -1, 3) for step in apart)
    sharp = 3 * first - second
    # Halved chroma is interpolated, which spreads the step over the two rows on either side.
    wide = 5 * second + 2 * third - 3 * fourth
    luma = cv2.transform(sharp.astype(np.float32), _TO_YCC[:1] / 2)
    chroma = cv2.transform(wide.astype(np.float32), _TO_YCC[1:] / 4)
    steps: Floats32 = np.stack(
        [median(one.reshape(len(rows), _STRIPS, -1)) for one in (luma, *cv2.split(chroma))], axis=-1
    )
    return steps


def _reaches_its_end(data: bytes) -> bool:
    """Tell whether the first picture in a JPEG file reaches its end-of-image marker (ISO/IEC 10918-1, B.1)."""
    place = 2
    while place + 4 <= len(data) and data[place] == 0xFF:
        marker = data[place + 1]
        length = int.from_bytes(data[place + 2 : place + 4], "big")
        if marker == 0xDA:
            # In entropy-coded data 0xFF is always followed by 0 or a restart marker.
            return data.find(b"\xff\xd9", place + 2 + length) >= 0
        place += 1 if marker == 0xFF else 2 + length
    return False
