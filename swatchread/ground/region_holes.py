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
from swatchread.plane.finder_settings import settings
from swatchread.plane.lab_image import LabImage

_ENOUGH = 250
"""Pixels that are enough for a median."""


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
    known, box = settings().ground, masks.part_of(region.box)
    colours, edge = image.lab[box], image.seams[box]
    inner = masks.eroded(masks.hull_of(region.bare), 3)
    shore = cv2.morphologyEx(inner.astype(np.uint8), cv2.MORPH_GRADIENT, np.ones((3, 3), np.uint8)) > 0
    labels, stats = masks.pieces_of(inner & ~region.bare & ~image.outside[box])
    wide = (stats[:, 2:4] > 2 * known.least_radius).all(axis=1)
    chosen = np.flatnonzero(wide & (stats[:, cv2.CC_STAT_AREA] > known.full * stats[:, 2] * stats[:, 3]))
    chosen = chosen[chosen > 0] if len(chosen) <= known.most_holes else chosen[:0]
    found: list[Blob] = []
    for index, (left, top, across, high, _) in zip(chosen.tolist(), stats[chosen].tolist(), strict=True):
        inside = masks.part_of((left, top, across, high))
        hole = labels[inside] == index
        depth = masks.depth_of(hole)
        if depth.max() < known.least_radius:
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
    known = settings().ground
    if depth.max() < known.least_radius:
        return None
    (x, y), (h, w) = corner, mask.shape
    inside = colours[y : y + h, x : x + w]
    rows, columns = masks.ring_round(mask, corner, (1, 2 * known.rim + 1))
    seen = masks.lie_inside(rows, columns, region.bare.shape)
    rows, columns = rows[seen], columns[seen]
    bare = region.bare[rows, columns]
    core, around = _some(inside[depth > settings().paint.core * depth.max()]), _some(colours[rows[bare], columns[bare]])
    if not len(core) or not len(around):
        return None
    ground = median(around, axis=0)
    apart = np.linalg.norm((core - ground) * LAB_SCALE, axis=1)
    off = float(median(apart))
    # Between the strokes of writing lies the ground.
    if off < known.least_off or (apart > known.filled[0] * quantile(apart, 0.9)).mean() < known.filled[1]:
        return None
    length = sum(len(outline) for outline in masks.outlines_of(masks.with_margin(mask, 1) > 0, cv2.CHAIN_APPROX_NONE))
    ashore = float(np.count_nonzero(shore[y : y + h, x : x + w] & mask))
    blob = Blob.of(mask, corner, lab_of(median(core, axis=0)), off, depth)
    return replace(blob.moved(*region.box[:2]), border=min(1.0, ashore / length))


def _some(pixels: npt.NDArray[np.uint8]) -> npt.NDArray[np.uint8]:
    return pixels[:: max(1, len(pixels) // _ENOUGH)]
