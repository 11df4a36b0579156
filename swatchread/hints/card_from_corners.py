"""Finding the swatches on a card whose corners the painter has given: only what lies within them is looked at."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from swatchread.card.card_detection import FoundGrid, find_grid
from swatchread.card.card_find import CardFind
from swatchread.card.swatches_without_ground import grounds_between_patches
from swatchread.colour.cielab import Floats
from swatchread.errors import NoSwatchesError
from swatchread.ground.ground_regions import Region, find_regions, surface_of
from swatchread.ground.region_holes import islands
from swatchread.ground.segmentation import Blob
from swatchread.photo.masks import Mask, Picture, part_of, polygon_mask
from swatchread.plane.lab_image import LabImage, edge_levels, lab_image_of
from swatchread.plane.rectification import Plane

_TRIED = 7
"""Quiet regions that may be the card's ground."""

_LEAST_FREE, _LEAST_AREA = 0.5, 150.0
"""Share of the card, and pixels, that the chart must leave free."""

_LEAST_BARE = 0.04
"""Share of the card that a quiet region must take to be its ground; a swatch takes less (choice)."""

_BIN = np.array([10, 5, 5])
"""Levels of 8-bit CIELAB that are one colour when the commonest is counted."""

_SEEN = 0.9
"""Share of a quiet region within an earlier ground from which on it is a piece of that, and not looked at again. On 51
simulated cards that finds as many swatches in half the time."""

_LIKE = 14.0
"""Distance (8-bit CIELAB) from the commonest colour within which a pixel may be ground, light falling off."""


def card_from_corners(plane: Plane, corners: Floats) -> CardFind:
    """Find the swatches on a card whose corners are given.

    Parameters
    ----------
    plane : Plane
    corners : ndarray, shape (4, 2)
        Photo pixels, in turn.

    Returns
    -------
    CardFind

    Raises
    ------
    NoSwatchesError
        If the chart covers the place, or nothing is painted there.
    """
    name = plane.sample.find.photo.path.name
    inside = polygon_mask(plane.points_of(corners), plane.outside.shape)
    free = inside & ~plane.outside
    if np.count_nonzero(free) < max(_LEAST_AREA, _LEAST_FREE * np.count_nonzero(inside)):
        raise NoSwatchesError(
            f"The corners given for the card in {name} hold no card",
            "most of the place is the chart, or too far from it to be measured",
            "Give the card's own corners, beside the chart",
        )
    image = replace(lab_image_of(plane), outside=~free)
    half = image.halved()
    levels = edge_levels(half)
    quiet = find_regions(half, levels)[:_TRIED]
    marks = [island for region in quiet for island in islands(region, half)]
    marks += [mark for _, between in grounds_between_patches(levels, half) for mark in between]
    marks = [mark.doubled() for mark in marks]
    grounds = _grounds([region.doubled(image) for region in quiet], image, free)
    found = [a for region in grounds if (a := _grid_within(region, image, free, marks)) is not None]
    if not found:
        raise NoSwatchesError(
            f"Nothing is painted between the corners given for the card in {name}",
            "no marks broad enough to be swatches stand out from an even ground there",
        )
    return CardFind(plane, *max(found, key=lambda pair: pair[1].order))


def _grid_within(region: Region, image: LabImage, free: Mask, marks: list[Blob]) -> FoundGrid | None:
    """Look for swatches on a ground all over the card, whose extent is known."""
    surface = surface_of(region, image)
    return None if surface is None else find_grid(replace(surface, card=free[part_of(region.box)]), image, marks)


def _grounds(regions: list[Region], image: LabImage, free: Mask) -> list[Region]:
    """Return what may be the card's bare ground: the pixels of its commonest colour, and its quiet regions."""
    box = Region.of(free).box
    part = part_of(box)
    masks = [_commonest(image.lab[part], free[part])]
    least = _LEAST_BARE * np.count_nonzero(free)
    for region in regions:
        mask = region.within(box) & free[part]
        size = np.count_nonzero(mask)
        if size > least and all(np.count_nonzero(mask & other) < _SEEN * size for other in masks):
            masks.append(mask)
    return [Region(mask, box) for mask in masks if mask.any()]


def _commonest(lab: Picture, free: Mask) -> Mask:
    """Return the pixels near the commonest colour."""
    bins = (lab // _BIN).astype(np.int64)
    code = (bins[..., 0] * 64 + bins[..., 1]) * 64 + bins[..., 2]
    counts = np.bincount(code[free])
    middle = np.median(lab[free & (code == int(np.argmax(counts)))], axis=0)
    off: Floats = np.linalg.norm(lab.astype(np.float32) - middle.astype(np.float32), axis=2)
    return free & (off < _LIKE)
