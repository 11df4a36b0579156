"""A photo's stored values as 8-bit values to look at: the encoding stays, only linear photos are brightened."""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

from swatchread.photo.encoded_photo import Photo


def for_the_eye(photo: Photo, pixels: npt.NDArray[Any]) -> npt.NDArray[np.uint8]:
    """Return 8-bit values of some of a photo's pixels to look at.

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
