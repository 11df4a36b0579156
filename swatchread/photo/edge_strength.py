"""Edges of pictures: where any channel changes."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from swatchread.photo import opencv as cv2


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
