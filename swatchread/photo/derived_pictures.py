"""Pictures made of a photo's pixels: smaller ones, 8-bit ones to look at, and pictures of edges.

Averaging a whole number of pixels is twenty times faster than a broken number.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

from swatchread.photo import opencv as cv2
from swatchread.photo.encoded_photo import Photo

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


def in_eight_bits(pixels: npt.NDArray[Any]) -> npt.NDArray[np.uint8]:
    """Return pixels as a photo's reduced copy has them; square roots keep the darks of 16-bit files apart.

    Parameters
    ----------
    pixels : ndarray, shape (h, w, 3), uint8 or uint16

    Returns
    -------
    ndarray, shape (h, w, 3), uint8
    """
    if pixels.dtype == np.uint16:
        pixels = np.sqrt(pixels.astype(np.float32) * (255.0**2 / 65535.0)).round()
    return pixels.astype(np.uint8, copy=False)


def edge_strength(picture: npt.NDArray[np.uint8]) -> npt.NDArray[np.uint8]:
    """Return the largest step of any channel within three pixels.

    Parameters
    ----------
    picture : ndarray, shape (h, w, 3), uint8

    Returns
    -------
    ndarray, shape (h, w), uint8
    """
    gradient = cv2.morphologyEx(np.ascontiguousarray(picture), cv2.MORPH_GRADIENT, np.ones((3, 3), np.uint8))
    first, second, third = cv2.split(gradient)
    return cv2.max(cv2.max(first, second), third)


def lab_picture(picture: npt.NDArray[np.uint8]) -> npt.NDArray[np.uint8]:
    """Return an sRGB-like picture as 8-bit CIELAB (L* × 2.55, a* + 128, b* + 128), lightly smoothed."""
    return cv2.cvtColor(cv2.medianBlur(picture, 5), cv2.COLOR_RGB2LAB)


def for_the_eye(photo: Photo, pixels: npt.NDArray[Any]) -> npt.NDArray[np.uint8]:
    """Return 8-bit values of some of a photo's pixels to look at: the encoding stays, linear photos are brightened.

    Parameters
    ----------
    photo : Photo
    pixels : ndarray, shape (..., 3)
        Stored values of this photo, perhaps resized.

    Returns
    -------
    ndarray, shape (..., 3), uint8
    """
    if photo.encoding.scene_linear:
        share = pixels.astype(np.float32) / photo.top
        return np.clip(255.0 * (share / _white(photo)) ** (1 / 2.2), 0, 255).astype(np.uint8)
    if pixels.dtype == np.uint16:
        return (pixels // 257).astype(np.uint8)
    return pixels


def _white(photo: Photo) -> float:
    """Return the share of the top value below which nearly all of a linear photo lies."""
    roots = photo.small[::4, ::4].astype(np.float32) / 255.0  # a linear photo's reduced copy holds square roots
    return max(float(np.quantile(roots, 0.995)) ** 2, 1e-4)
