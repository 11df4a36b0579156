"""Painted areas that do not belong to a grid: writing and stains.

Several lines of small writing can pass for a swatch, but for their strokes. So the roughness inside each area is
measured.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import numpy.typing as npt

from swatchread.colour.cielab import Floats
from swatchread.ground.finder_settings import settings
from swatchread.ground.ground_regions import Surface
from swatchread.ground.segmentation import Blob
from swatchread.photo import opencv as cv2
from swatchread.photo.masks import Mask, depth_of, eroded, part_of
from swatchread.plane.lab_image import LabImage

Lines = npt.NDArray[np.int64]
"""The number of the row, or of the column, of each of some marks."""

# Measured on development scenes. "Usual" is the median over all marks; roughness is that of `Blob.rough`.

_SMALL_LINE, _SMALL_LINE_OF_EVEN = 0.72, 0.62
"""A line is writing if its half-width over the usual one is less; the second is for marks as even as paint."""

_EVEN = 0.1
"""Roughness below which a mark is as even as paint."""

_NEARLY_ALL = 0.2
"""Quantile of its marks' roughness by which a line is judged."""

_ROUGH_LINE, _RATHER_ROUGH = 0.25, 0.2
"""Roughness of a line of writing, and of a line that must be narrower as well to be writing."""

_NARROWER, _NO_BROADER = 0.85, 1.1
"""Half-width of writing over that of the broader others: of a rather rough line, and of one as rough as strokes."""

_BROADER, _SMOOTHEST, _ROUGHER = 0.75, 0.1, 3.0
"""Quantiles for the broader and for the smoothest others, and how much rougher than the smoothest writing is."""

_STROKES, _STROKES_OF_ONE = 0.3, 0.4
"""Roughness that no dry brush reaches: of a line, and of a line of one mark."""

_SPREAD = 0.3
"""Width of the blur that takes detail away, in half-widths of a swatch. Measured on development scenes."""

_CORE = 0.35
"""Detail is measured where an area is deeper than this share of its greatest depth."""

_GLINT, _SHINE = 4.0, 1.5
"""A glint is lighter than its area by so many of that area's usual deviations, and by so many L* more."""

_GREY = np.float32(1 / 2.55)
"""L* per level of grey, about."""

_ENOUGH = 400
"""Pixels along a side of the bare ground that tell its grain."""


def without_rejected_marks(members: list[Blob], rows: Lines, columns: Lines) -> npt.NDArray[np.intp]:
    """Return the indices of the painted areas that belong to the grid.

    A mark alone in both its row and its column is a stain.

    Parameters
    ----------
    members : list of Blob
    rows, columns : ndarray of int, shape (n,)
        The lines in which they stand.

    Returns
    -------
    ndarray of int
    """
    if len(rows) < 4:
        return np.arange(len(rows))
    alone_r, alone_c = np.bincount(rows)[rows] == 1, np.bincount(columns)[columns] == 1
    radius = np.array([b.radius for b in members])
    usual = float(np.median(radius))
    rough = np.array([b.rough for b in members])
    strokes = _in_rough_line(rows, rough, radius) | _in_rough_line(columns, rough, radius)
    rest = ~strokes  # writing in rows of its own would make the columns of the swatches above it small
    small = np.zeros(len(members), dtype=bool)
    for lines in (rows, columns) if rest.any() else ():
        small[rest] |= _in_small_line(lines[rest], radius[rest], rough[rest], usual)
    stray = np.zeros(len(members), dtype=bool)
    for those, rule in ((small, "small_lines"), (strokes, "rough_lines"), (alone_r & alone_c, "alone")):
        if those.any() and getattr(settings(), rule):
            stray |= those
    return np.flatnonzero(~stray)


def _in_small_line(lines: Lines, radius: Floats, rough: Floats, usual: float) -> Mask:
    """Tell which marks stand in a line of small ones, sparser than the others: writing beside the swatches."""
    small = np.zeros(len(lines), dtype=bool)
    count = np.bincount(lines)
    full = np.median(count[count > 0])
    for line in np.unique(lines):
        index = lines == line
        middle = np.median(radius[index])
        even = count[line] >= full and bool((rough[index] < _EVEN).all())
        small_paint = even and middle >= _SMALL_LINE_OF_EVEN * usual
        if middle < _SMALL_LINE * usual and not small_paint:
            small |= index
    return small


def _in_rough_line(lines: Lines, rough: Floats, radius: Floats) -> Mask:
    """Tell which marks stand in a line of marks that are all rough and rather small: writing beside the swatches."""
    odd = np.zeros(len(lines), dtype=bool)
    single_file = len(np.unique(lines)) == len(lines)
    for line in np.unique(lines):
        own, rest = lines == line, lines != line
        least = np.sort(rough[own])[int(_NEARLY_ALL * own.sum())]
        if not rest.any() or (own.sum() == 1 and (least < _STROKES_OF_ONE or single_file)):
            continue
        broadest = np.quantile(radius[rest], _BROADER)
        if least > _STROKES:  # rougher than any dry brush
            broadest *= _NO_BROADER
        elif least < _ROUGH_LINE:
            broadest *= _NARROWER
        rougher = least > max(_RATHER_ROUGH, _ROUGHER * np.quantile(rough[rest], _SMOOTHEST))
        if rougher and np.median(radius[own]) < broadest:
            odd |= own
    return odd


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
    if not blobs or not settings().texture:
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
    return np.minimum(grey, np.float32(usual + _GLINT * deviation + _SHINE))


def _detail(grey: npt.NDArray[np.float32], radius: float) -> npt.NDArray[np.float32]:
    blurred: npt.NDArray[np.float32] = cv2.GaussianBlur(grey, (0, 0), max(1.0, _SPREAD * radius))
    return grey - blurred
