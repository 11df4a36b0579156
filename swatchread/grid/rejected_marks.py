"""Painted areas that do not belong to a grid: writing and stains.

Several lines of small writing can pass for a swatch, but for their strokes. So the roughness inside each area is
measured.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import numpy.typing as npt

from swatchread.colour.cielab import Floats
from swatchread.ground.ground_regions import Surface
from swatchread.ground.segmentation import Blob
from swatchread.photo import opencv as cv2
from swatchread.photo.masks import Mask, depth_of, eroded, part_of
from swatchread.photo.order_statistics import median, quantile
from swatchread.plane.finder_settings import settings
from swatchread.plane.lab_image import LabImage

Lines = npt.NDArray[np.int64]
"""The number of the row, or of the column, of each of some marks."""

_GREY = np.float32(1 / 2.55)
"""L* per level of grey, about."""


def without_rejected_marks(members: list[Blob], rows: Lines, columns: Lines) -> npt.NDArray[np.intp]:
    """Return the indices of the painted areas that belong to the grid.

    A row or column is writing if even its smoothest marks are rough, or even its broadest narrow for the marks that it
    holds. A mark alone in both its row and its column is a stain.

    Parameters
    ----------
    members : list of Blob
    rows, columns : ndarray of int, shape (n,)
        The lines in which they stand.

    Returns
    -------
    ndarray of int
    """
    known = settings().writing
    if len(rows) < 4:
        return np.arange(len(rows))
    radius, rough = (np.array([getattr(b, name) for b in members]) for name in ("radius", "rough"))
    rough -= quantile(rough, known.nearly_all)
    radius /= median(radius)
    narrow, strokes = np.zeros((2, len(rows)), dtype=bool)
    for lines in (rows, columns):
        names, number = np.unique(lines, return_counts=True)
        full = quantile(number, 1.0 - known.nearly_all)
        for one in names if len(names) < len(lines) else ():  # marks in a line each tell nothing of lines
            own = lines == one
            strokes |= own & (_low(rough[own]) > known.rough)
            fullness = min(1.0, np.count_nonzero(own) / full)
            narrow |= own & (-_low(-radius[own]) * fullness**known.sparse < known.narrow)
    alone = (np.bincount(rows)[rows] == 1) & (np.bincount(columns)[columns] == 1)
    stray = np.zeros(len(rows), dtype=bool)
    for those, rule in ((narrow, "small_lines"), (strokes, "rough_lines"), (alone, "alone")):
        if those.any() and getattr(settings(), rule):
            stray |= those
    return np.flatnonzero(~stray)


def _low(values: Floats) -> float:
    """Return the value below which hardly any others lie."""
    return float(np.sort(values)[int(settings().writing.nearly_all * len(values))])


def with_texture(blobs: list[Blob], surface: Surface, image: LabImage, radius: float | None = None) -> list[Blob]:
    """Return painted areas with their roughness: the detail of lightness in each over its difference from the ground.

    Parameters
    ----------
    blobs : list of Blob
    surface : Surface
        On which they lie; its own grain does not count.
    image : LabImage
    radius : float, optional
        Usual half-width of a swatch, pixels; the areas' own where it is not known.

    Returns
    -------
    list of Blob
    """
    if not blobs or not settings().texture:
        return blobs
    radius = radius or float(median([b.radius for b in blobs]))
    grain = _grain(surface, image, radius)
    return [replace(b, rough=_rough(b, image, radius, grain)) for b in blobs]


def _rough(blob: Blob, image: LabImage, radius: float, grain: float) -> float:
    """Return the roughness of an area: root mean square of its detail, less the ground's grain, over `off`."""
    depth = depth_of(blob.mask)
    core = depth > settings().paint.core * depth.max()
    detail = _detail(_without_glints(_grey(image, blob.part()), core), radius)[core]
    own = float(np.mean(detail.astype(np.float64) ** 2)) - grain**2 if detail.size else 0.0
    return float(np.sqrt(max(own, 0.0))) / max(blob.off, 1.0)


def _grain(surface: Surface, image: LabImage, radius: float) -> float:
    """Return the usual detail of the bare ground, L*: of its middle, where it is large."""
    known = settings().writing
    x, y, w, h = surface.box
    wide, high = min(w, known.enough), min(h, known.enough)
    left, top = (w - wide) // 2, (h - high) // 2
    bare = surface.bare[top : top + high, left : left + wide]
    detail = _detail(_grey(image, part_of((x + left, y + top, wide, high))), radius)[eroded(bare, 3)]
    return float(median(np.abs(detail))) / 0.67 if detail.size else 0.0


def _grey(image: LabImage, part: tuple[slice, slice]) -> npt.NDArray[np.float32]:
    """Return L* of a part of an image."""
    return image.grey[part].astype(np.float32) * _GREY


def _without_glints(grey: npt.NDArray[np.float32], core: Mask) -> npt.NDArray[np.float32]:
    """Return L* without the glints: a brush's ridges shine, a pen's strokes are darker than what lies between them."""
    inside = grey[core]
    if not len(inside):
        return grey
    usual = median(inside)
    deviation = 1.4826 * median(np.abs(inside - usual))
    return np.minimum(grey, np.float32(usual + settings().writing.glint * deviation))


def _detail(grey: npt.NDArray[np.float32], radius: float) -> npt.NDArray[np.float32]:
    blurred: npt.NDArray[np.float32] = cv2.GaussianBlur(grey, (0, 0), max(1.0, settings().writing.spread * radius))
    return grey - blurred
