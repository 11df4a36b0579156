"""Islands: the holes that swatches leave in a quiet region, and the bays that they cut into its edge.

They show paint by its edges, where its colour hardly differs from the ground's. A drawn frame or writing is no island.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from swatchread.card import masks
from swatchread.card.background import LAB_SCALE, lab_of
from swatchread.card.ground_regions import Region
from swatchread.card.lab_image import LabImage
from swatchread.card.masks import Box, Mask, Picture
from swatchread.card.segmentation import Blob
from swatchread.card.watershed_split import split
from swatchread.photo import opencv as cv2

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


@dataclass(frozen=True, eq=False)
class Holes:
    """Where a region shows no ground: its holes, and the bays cut into its edge.

    Attributes
    ----------
    labels : ndarray, shape (h, w), int32
        The number of each, within the region's box.
    shore : ndarray, shape (h, w), bool
        The region's outline, moved a little inward.
    broad : list of (int, Box, int)
        Number, box within the region's and area in pixels of those broad enough to hold a swatch.
    """

    labels: npt.NDArray[np.int32]
    shore: Mask
    broad: list[tuple[int, Box, int]]


def holes_of(region: Region, image: LabImage) -> Holes:
    """Return where a region shows no ground; none is broad where there are so many that the region is a texture.

    Parameters
    ----------
    region : Region
    image : LabImage
    """
    inner = masks.eroded(masks.hull_of(region.bare), _INSET)
    shore = cv2.morphologyEx(inner.astype(np.uint8), cv2.MORPH_GRADIENT, np.ones((3, 3), np.uint8)) > 0
    labels, stats = masks.pieces_of(inner & ~region.bare & ~image.outside[masks.part_of(region.box)])
    boxes = stats[:, 2] * stats[:, 3]
    wide = (stats[:, 2:4] > 2 * _LEAST_RADIUS).all(axis=1)
    chosen = np.flatnonzero(wide & (stats[:, cv2.CC_STAT_AREA] > np.maximum(_LEAST_AREA, _FULL * boxes)))
    chosen = chosen[chosen > 0] if len(chosen) <= _MOST_ISLANDS else chosen[:0]
    broad = []
    for index, (left, top, wd, hg, area) in zip(chosen.tolist(), stats[chosen].tolist(), strict=True):
        hole = labels[top : top + hg, left : left + wd] == index
        if masks.depth_of(hole).max() >= _LEAST_RADIUS:  # else writing, mostly
            broad.append((index, (left, top, wd, hg), area))
    return Holes(labels, shore, broad)


def islands(region: Region, image: LabImage, holes: Holes | None = None) -> list[Blob]:
    """Return the holes of a region that could be swatches, and the bays that swatches near its edge cut into it.

    Parameters
    ----------
    region : Region
    image : LabImage
    holes : Holes, optional
        The region's, where they are known.

    Returns
    -------
    list of Blob
        Empty where there are so many that the region is a texture.
    """
    holes = holes_of(region, image) if holes is None else holes
    box = masks.part_of(region.box)
    colours, edge = image.lab[box], image.seams[box]
    found: list[Blob] = []
    for index, (left, top, wide, high), _ in holes.broad:
        inside = masks.part_of((left, top, wide, high))
        for part, (px, py) in split(holes.labels[inside] == index, edge[inside]):
            island = _island(part, (left + px, top + py), region, colours, holes.shore)
            if island is not None:
                found.append(island)
    return found


def _island(mask: Mask, corner: tuple[int, int], region: Region, colours: Picture, shore: Mask) -> Blob | None:
    """Return an island as a painted area; None where its colour is that of the ground round it, as in a drawn frame."""
    (x, y), (h, w) = corner, mask.shape
    depth = masks.depth_of(mask)
    inside = colours[y : y + h, x : x + w]
    rows, columns = masks.ring_round(mask, corner, (1, 2 * _RIM + 1))
    seen = masks.lie_inside(rows, columns, region.bare.shape)
    rows, columns = rows[seen], columns[seen]
    bare = region.bare[rows, columns]
    core, around = _some(inside[depth > _CORE * depth.max()]), _some(colours[rows[bare], columns[bare]])
    if depth.max() < _LEAST_RADIUS or not len(core) or not len(around):
        return None
    ground = np.median(around, axis=0)
    apart = np.linalg.norm((core - ground) * LAB_SCALE, axis=1)
    off = float(np.median(apart))
    # Between the strokes of writing lies the ground.
    whole = float((apart > _FILLED * np.quantile(apart, 0.9)).mean()) >= _WHOLLY
    if off < _LEAST_OFF or not whole:
        return None
    length = sum(len(outline) for outline in masks.outlines_of(np.pad(mask, 1), cv2.CHAIN_APPROX_NONE))
    ashore = float(np.count_nonzero(shore[y : y + h, x : x + w] & mask))
    blob = Blob.of(mask, corner, lab_of(np.median(core, axis=0)), off)
    return replace(blob.moved(*region.box[:2]), border=min(1.0, ashore / length))


def _some(pixels: npt.NDArray[np.uint8]) -> npt.NDArray[np.uint8]:
    return pixels[:: max(1, len(pixels) // _ENOUGH)]
