"""Islands: the holes that swatches leave in a quiet region, and the bays that they cut into its edge.

They show paint by its edges, where its colour hardly differs from the ground's. A drawn frame or writing is no island.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import numpy.typing as npt

from swatchread.ground.background import LAB_SCALE, lab_of
from swatchread.ground.ground_regions import Region
from swatchread.ground.segmentation import Blob
from swatchread.ground.watershed_split import split
from swatchread.photo import masks
from swatchread.photo import opencv as cv2
from swatchread.photo.masks import Mask, Picture
from swatchread.photo.order_statistics import median, quantile
from swatchread.plane.lab_image import LabImage

# Measured on development scenes.

_LEAST_AREA, _FULL = 30.0, 0.3
"""Least area of an island, pixels, and the least share of its box that it fills."""

_LEAST_RADIUS = 3.2
"""Half-width, pixels, below which a hole is writing."""

_INSET = 7
"""Side of the square, pixels, by which the region's outline is moved inward before its holes are sought."""

_RIM = 4
"""Pixels round an island that tell the ground's colour there."""

_CORE = 0.4
"""An island's colour is taken where it is deeper than this share of its greatest depth."""

_LEAST_OFF = 2.5
"""Least difference from the ground, CIELAB units."""

_FILLED, _WHOLLY = 0.4, 0.9
"""By the first share of its strongest difference from the ground, the second share of an island must differ."""

_ENOUGH = 250
"""Pixels that are enough for a median."""

_MOST_ISLANDS = 300
"""A region with more islands is a texture."""


def islands(region: Region, image: LabImage) -> list[Blob]:
    """Return the holes of a region that could be swatches, and the bays that swatches near its edge cut into it.

    Parameters
    ----------
    region : Region
    image : LabImage

    Returns
    -------
    list of Blob
        Empty where there are so many that the region is a texture.
    """
    box = masks.part_of(region.box)
    colours, edge = image.lab[box], image.seams[box]
    inner = masks.eroded(masks.hull_of(region.bare), _INSET)
    shore = cv2.morphologyEx(inner.astype(np.uint8), cv2.MORPH_GRADIENT, np.ones((3, 3), np.uint8)) > 0
    labels, stats = masks.pieces_of(inner & ~region.bare & ~image.outside[box])
    boxes = stats[:, 2] * stats[:, 3]
    wide = (stats[:, 2:4] > 2 * _LEAST_RADIUS).all(axis=1)
    chosen = np.flatnonzero(wide & (stats[:, cv2.CC_STAT_AREA] > np.maximum(_LEAST_AREA, _FULL * boxes)))
    chosen = chosen[chosen > 0] if len(chosen) <= _MOST_ISLANDS else chosen[:0]
    found: list[Blob] = []
    for index, (left, top, across, high, _) in zip(chosen.tolist(), stats[chosen].tolist(), strict=True):
        inside = masks.part_of((left, top, across, high))
        hole = labels[inside] == index
        depth = masks.depth_of(hole)
        if depth.max() < _LEAST_RADIUS:
            continue  # writing, mostly
        for part, (px, py) in split(hole, edge[inside]):
            place = left + px, top + py
            island = _island(part, depth if part is hole else masks.depth_of(part), place, region, colours, shore)
            found += [] if island is None else [island]
    return found


def _island(
    mask: Mask, depth: npt.NDArray[np.float32], corner: tuple[int, int], region: Region, colours: Picture, shore: Mask
) -> Blob | None:
    """Return an island as a painted area; None where its colour is that of the ground round it, as in a drawn frame."""
    if depth.max() < _LEAST_RADIUS:
        return None
    (x, y), (h, w) = corner, mask.shape
    inside = colours[y : y + h, x : x + w]
    rows, columns = masks.ring_round(mask, corner, (1, 2 * _RIM + 1))
    seen = masks.lie_inside(rows, columns, region.bare.shape)
    rows, columns = rows[seen], columns[seen]
    bare = region.bare[rows, columns]
    core, around = _some(inside[depth > _CORE * depth.max()]), _some(colours[rows[bare], columns[bare]])
    if not len(core) or not len(around):
        return None
    ground = median(around, axis=0)
    apart = np.linalg.norm((core - ground) * LAB_SCALE, axis=1)
    off = float(median(apart))
    # Between the strokes of writing lies the ground.
    whole = float((apart > _FILLED * quantile(apart, 0.9)).mean()) >= _WHOLLY
    if off < _LEAST_OFF or not whole:
        return None
    length = sum(len(outline) for outline in masks.outlines_of(masks.with_margin(mask, 1) > 0, cv2.CHAIN_APPROX_NONE))
    ashore = float(np.count_nonzero(shore[y : y + h, x : x + w] & mask))
    blob = Blob.of(mask, corner, lab_of(median(core, axis=0)), off, depth)
    return replace(blob.moved(*region.box[:2]), border=min(1.0, ashore / length))


def _some(pixels: npt.NDArray[np.uint8]) -> npt.NDArray[np.uint8]:
    return pixels[:: max(1, len(pixels) // _ENOUGH)]
