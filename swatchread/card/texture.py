"""How rough painted areas are inside: several lines of small writing can pass for a swatch, but for their strokes."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import numpy.typing as npt

from swatchread.card.background import Mask
from swatchread.card.ground_regions import Surface
from swatchread.card.lab_image import LabImage
from swatchread.card.segmentation import Blob
from swatchread.colour.cielab import Floats
from swatchread.colour.order import median
from swatchread.photo import opencv as cv2

_SPREAD = 0.3
"""Detail is what a blur of this share of the half-width takes away."""

_CORE = 0.35
_GLINT, _EVEN = 4.0, 1.5
"""Lightness above an area's own from which it is a glint: in its usual spread, and L* besides."""

_GREY = 1 / 2.55
_ENOUGH = 400


def with_texture(blobs: list[Blob], surface: Surface, sheet: LabImage) -> list[Blob]:
    """Return painted areas with their roughness: the detail of lightness in each over its difference from the ground.

    Parameters
    ----------
    blobs : list of Blob
    surface : Surface
        On which they lie; its own grain does not count.
    sheet : LabImage

    Returns
    -------
    list of Blob
    """
    if not blobs:
        return []
    radius = median([b.radius for b in blobs])
    grain = _grain(surface, sheet, radius)
    return [replace(b, rough=_rough(b, sheet, radius, grain)) for b in blobs]


def _rough(blob: Blob, sheet: LabImage, radius: float, grain: float) -> float:
    x, y = blob.corner
    h, w = blob.mask.shape
    padded = cv2.copyMakeBorder(blob.mask.astype(np.uint8), 1, 1, 1, 1, cv2.BORDER_CONSTANT, value=0)
    depth = cv2.distanceTransform(padded, cv2.DIST_L2, 3)[1:-1, 1:-1]
    core = depth > _CORE * depth.max()
    detail = _detail(_less_glints(_grey(sheet, (x, y, w, h)), core), radius)[core]
    own = float(np.mean(detail**2)) - grain**2 if detail.size else 0.0
    return float(np.sqrt(max(own, 0.0))) / max(blob.off, 1.0)


def _grain(surface: Surface, sheet: LabImage, radius: float) -> float:
    """Return the usual detail of the bare ground: of its middle, where it is large."""
    x, y, w, h = surface.box
    wide, high = min(w, _ENOUGH), min(h, _ENOUGH)
    left, top = (w - wide) // 2, (h - high) // 2
    bare = surface.bare[top : top + high, left : left + wide]
    detail = _detail(_grey(sheet, (x + left, y + top, wide, high)), radius)[_inner(bare)]
    return median(np.abs(detail)) / 0.67 if detail.size else 0.0


def _inner(mask: Mask) -> Mask:
    return np.asarray(cv2.erode(mask.astype(np.uint8), np.ones((3, 3), np.uint8), borderValue=0) > 0)


def _grey(sheet: LabImage, box: tuple[int, int, int, int]) -> npt.NDArray[np.float32]:
    """Return L* of a part of a sheet."""
    x, y, w, h = box
    return np.asarray(sheet.grey[y : y + h, x : x + w].astype(np.float32) * np.float32(_GREY))


def _less_glints(grey: npt.NDArray[np.float32], core: Mask) -> npt.NDArray[np.float32]:
    """Return L* without the glints: a brush's ridges shine, a pen's strokes are darker than what lies between them."""
    inside = grey[core]
    if not len(inside):
        return grey
    usual = median(inside)
    spread = 1.4826 * median(np.abs(inside - np.float32(usual)))
    return np.minimum(grey, np.float32(usual + _GLINT * spread + _EVEN))


def _detail(grey: npt.NDArray[np.float32], radius: float) -> Floats:
    return np.asarray(grey - cv2.GaussianBlur(grey, (0, 0), max(1.0, _SPREAD * radius)), dtype=np.float64)
