"""How rough painted areas are inside: several lines of small writing can pass for a swatch, but for their strokes."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import numpy.typing as npt

from swatchread.card.ground_regions import Surface
from swatchread.card.lab_image import LabImage
from swatchread.card.masks import Mask, depth_of, eroded, part_of
from swatchread.card.segmentation import Blob
from swatchread.card.settings import rules
from swatchread.photo import opencv as cv2

_SPREAD = 0.3
"""Width of the blur that takes detail away, in half-widths of a swatch. Measured on development scenes."""

_CORE = 0.35
"""Detail is measured where an area is deeper than this share of its greatest depth."""

_GLINT, _EVEN = 4.0, 1.5
"""A glint is lighter than its area by so many of that area's usual deviations, and by so many L* more."""

_GREY = np.float32(1 / 2.55)
"""L* per level of grey, about."""

_ENOUGH = 400
"""Pixels along a side of the bare ground that tell its grain."""


def with_texture(blobs: list[Blob], surface: Surface, image: LabImage) -> list[Blob]:
    """Return painted areas with their roughness: the detail of lightness in each over its difference from the ground.

    Parameters
    ----------
    blobs : list of Blob
    surface : Surface
        On which they lie; its own grain does not count.
    image : LabImage

    Returns
    -------
    list of Blob
    """
    if not blobs:
        return []
    if not rules().texture:
        return blobs
    radius = float(np.median([b.radius for b in blobs]))
    grain = _grain(surface, image, radius)
    return [replace(b, rough=_rough(b, image, radius, grain)) for b in blobs]


def _rough(blob: Blob, image: LabImage, radius: float, grain: float) -> float:
    """Return the roughness of an area: root mean square of its detail, less the ground's grain, over `off`."""
    depth = depth_of(blob.mask)
    core = depth > _CORE * depth.max()
    detail = _detail(_without_glints(_grey(image, blob.part()), core), radius)[core]
    own = float(np.mean(detail.astype(np.float64) ** 2)) - grain**2 if detail.size else 0.0
    return float(np.sqrt(max(own, 0.0))) / max(blob.off, 1.0)


def _grain(surface: Surface, image: LabImage, radius: float) -> float:
    """Return the usual detail of the bare ground, L*: of its middle, where it is large."""
    x, y, w, h = surface.box
    wide, high = min(w, _ENOUGH), min(h, _ENOUGH)
    left, top = (w - wide) // 2, (h - high) // 2
    bare = surface.bare[top : top + high, left : left + wide]
    detail = _detail(_grey(image, part_of((x + left, y + top, wide, high))), radius)[eroded(bare, 3)]
    return float(np.median(np.abs(detail))) / 0.67 if detail.size else 0.0


def _grey(image: LabImage, part: tuple[slice, slice]) -> npt.NDArray[np.float32]:
    """Return L* of a part of an image."""
    return image.grey[part].astype(np.float32) * _GREY


def _without_glints(grey: npt.NDArray[np.float32], core: Mask) -> npt.NDArray[np.float32]:
    """Return L* without the glints: a brush's ridges shine, a pen's strokes are darker than what lies between them."""
    inside = grey[core]
    if not len(inside):
        return grey
    usual = np.median(inside)
    deviation = 1.4826 * np.median(np.abs(inside - usual))
    return np.minimum(grey, np.float32(usual + _GLINT * deviation + _EVEN))


def _detail(grey: npt.NDArray[np.float32], radius: float) -> npt.NDArray[np.float32]:
    blurred: npt.NDArray[np.float32] = cv2.GaussianBlur(grey, (0, 0), max(1.0, _SPREAD * radius))
    return grey - blurred
