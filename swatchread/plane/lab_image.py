"""The plane's colours at one size, as the card finder uses them, and the quiet pieces between their edges."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt

from swatchread.photo import opencv as cv2
from swatchread.photo.derived_pictures import edge_strength
from swatchread.photo.masks import Mask, Picture, pieces_of, square
from swatchread.plane.finder_settings import settings
from swatchread.plane.rectification import Plane


def seams(colours: Picture) -> Picture:
    """Return how strong the edges between paints are, the bristles' marks smoothed away.

    Parameters
    ----------
    colours : ndarray, shape (h, w, 3), uint8
        8-bit CIELAB.

    Returns
    -------
    ndarray, shape (h, w), uint8
    """
    return edge_strength(cv2.medianBlur(np.ascontiguousarray(colours), 5))


@dataclass(frozen=True, eq=False)
class LabImage:
    """The plane's colours at one size.

    Attributes
    ----------
    lab : ndarray, shape (h, w, 3), uint8
        8-bit CIELAB.
    outside : ndarray, shape (h, w), bool
        Beyond the photo, or on the chart.
    grey : ndarray, shape (h, w), uint8
        Not smoothed.
    """

    lab: Picture
    outside: Mask
    grey: Picture

    @property
    def shape(self) -> tuple[int, int]:
        """Height and width."""
        h, w = self.outside.shape
        return h, w

    @cached_property
    def seams(self) -> Picture:
        """Edges between paints: shape (h, w), uint8."""
        return seams(self.lab)

    def halved(self) -> LabImage:
        """Return the same at half the size."""
        lab = cv2.resize(self.lab, None, fx=0.5, fy=0.5, interpolation=cv2.INTER_AREA)
        size = (lab.shape[1], lab.shape[0])
        outside = cv2.resize(self.outside.view(np.uint8), size, interpolation=cv2.INTER_NEAREST) > 0
        grey = cv2.resize(self.grey, size, interpolation=cv2.INTER_AREA)
        return LabImage(lab, outside, grey)


def lab_image_of(plane: Plane) -> LabImage:
    """Return a plane's colours."""
    grey = cv2.cvtColor(plane.picture, cv2.COLOR_RGB2GRAY)
    return LabImage(plane.lab, plane.outside, grey)


@dataclass(frozen=True, eq=False)
class EdgeLevel:
    """The quiet pieces of an image at one edge strength, as `masks.pieces_of` returns them."""

    labels: npt.NDArray[np.int32]
    stats: npt.NDArray[np.int32]


def edge_levels(image: LabImage) -> list[EdgeLevel]:
    """Divide an image along its edges at several strengths, the weakest first.

    The last level lets much of an edge of lightness pass and little colour, as a soft shadow or a blurred gap has.
    """
    light, red, yellow = cv2.split(cv2.morphologyEx(image.lab, cv2.MORPH_GRADIENT, square(3)))
    strongest, known = cv2.max(light, cv2.max(red, yellow)), settings().ground
    quiet = [strongest < strength for strength in known.strengths]
    quiet.append((light < known.shade[0]) & (cv2.max(red, yellow) < known.shade[1]))
    return [EdgeLevel(*pieces_of(flat & ~image.outside)) for flat in quiet]
