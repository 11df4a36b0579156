"""Smaller copies of photos, fast: averaging a whole number of pixels is twenty times faster than a broken number."""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

_NEARLY = 1.5
"""Factor below which a picture that was averaged already can be sampled without harm."""


def halved(pixels: npt.NDArray[Any], times: int = 1) -> npt.NDArray[Any]:
    """Return pixels averaged two by two, again and again.

    Parameters
    ----------
    pixels : ndarray, shape (h, w, 3), uint8 or uint16
        Last rows or columns that make no whole pixel are left out.
    times : int
        0 leaves them as they are.

    Returns
    -------
    ndarray, shape (h // 2**times, w // 2**times, 3)
        A pixel (x, y) lies at ((x + 0.5) * 2**times - 0.5, ...) of the larger picture.
    """
    import cv2

    if not times:
        return pixels
    step = 2**times
    whole = pixels[: pixels.shape[0] // step * step, : pixels.shape[1] // step * step]
    stored, flips, swapped = _as_stored(whole)
    for _ in range(times):
        size = (stored.shape[1] // 2, stored.shape[0] // 2)
        stored = cv2.resize(stored, size, interpolation=cv2.INTER_AREA)
    return _turned(stored, flips, swapped)


def contiguous(pixels: npt.NDArray[Any]) -> npt.NDArray[Any]:
    """Return pixels in the order they are read in, as OpenCV wants them; the same array if they are so already.

    Parameters
    ----------
    pixels : ndarray, shape (h, w, 3), uint8 or uint16
        Perhaps a view of stored pixels, turned as EXIF says: numpy takes long to copy such a one.
    """
    return np.ascontiguousarray(_turned(*_as_stored(pixels)))


def _as_stored(view: npt.NDArray[Any]) -> tuple[npt.NDArray[Any], tuple[bool, bool], bool]:
    """Return a turned view as it was before, which of its axes have to be flipped again, and whether then swapped."""
    swapped = abs(view.strides[0]) < abs(view.strides[1])
    stored = view.swapaxes(0, 1) if swapped else view
    down, across = (stride < 0 for stride in stored.strides[:2])
    return stored[:: -1 if down else 1, :: -1 if across else 1], (down, across), swapped


def _turned(stored: npt.NDArray[Any], flips: tuple[bool, bool], swapped: bool) -> npt.NDArray[Any]:
    import cv2

    if any(flips) and stored.size:
        stored = cv2.flip(stored, -1 if all(flips) else 0 if flips[0] else 1)
    return cv2.transpose(stored) if swapped and stored.size else stored


def shrunk(pixels: npt.NDArray[Any], size: tuple[int, int]) -> npt.NDArray[Any]:
    """Return a whole picture at a smaller size, each of its pixels the average of what it covers.

    Parameters
    ----------
    pixels : ndarray, shape (h, w, 3), uint8 or uint16
    size : tuple of int
        Width and height, no larger than the picture's.

    Returns
    -------
    ndarray, shape (size[1], size[0], 3)
    """
    import cv2

    stored, flips, swapped = _as_stored(pixels)
    size = size[::-1] if swapped else size
    whole = stored
    while min(stored.shape[1] / size[0], stored.shape[0] / size[1]) >= 2.0 and not (
        stored.shape[0] % 2 or stored.shape[1] % 2
    ):
        stored = halved(stored)
    averaged = stored is not whole
    near = averaged and max(stored.shape[1] / size[0], stored.shape[0] / size[1]) < _NEARLY
    way = cv2.INTER_LINEAR if near else cv2.INTER_AREA
    return np.asarray(_turned(cv2.resize(stored, size, interpolation=way), flips, swapped))
