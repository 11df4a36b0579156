"""Smaller copies of photos, fast: averaging a whole number of pixels is twenty times faster than a broken number."""

from __future__ import annotations

from typing import Any

import numpy.typing as npt

from swatchread.photo import opencv as cv2

_NEARLY_THERE = 1.5
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
    step = 2**times
    pixels = pixels[: pixels.shape[0] // step * step, : pixels.shape[1] // step * step]
    for _ in range(times):
        pixels = cv2.resize(pixels, (pixels.shape[1] // 2, pixels.shape[0] // 2), interpolation=cv2.INTER_AREA)
    return pixels


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
    width, height = size
    averaged = False
    while min(pixels.shape[1] / width, pixels.shape[0] / height) >= 2.0 and not any(n % 2 for n in pixels.shape[:2]):
        pixels, averaged = halved(pixels), True
    near = averaged and max(pixels.shape[1] / width, pixels.shape[0] / height) < _NEARLY_THERE
    return cv2.resize(pixels, size, interpolation=cv2.INTER_LINEAR if near else cv2.INTER_AREA)
