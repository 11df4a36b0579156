"""A card that the painter has pointed at: its corners are given, and only what lies within them is looked at."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from swatchread.card.background import Mask
from swatchread.card.card_detection import Arranged, CardFind, arranged
from swatchread.card.ground_regions import Region, find_regions, surface_of
from swatchread.card.lab_image import LabImage, edge_levels, lab_image_of
from swatchread.card.rectification import Plane
from swatchread.card.region_holes import doubled, islands
from swatchread.card.segmentation import Blob
from swatchread.card.swatches_without_ground import patched
from swatchread.colour.cielab import Floats
from swatchread.colour.order import medians
from swatchread.errors import NoSwatchesError
from swatchread.photo import opencv as cv2
from swatchread.photo.geometry import project

_TRIED = 7
_LEAST_FREE = 0.5
_BIN = np.array([10, 5, 5])
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
    h, w = plane.outside.shape
    quad = project(np.linalg.inv(plane.to_photo), corners)
    inside = cv2.fillConvexPoly(np.zeros((h, w), np.uint8), np.rint(quad).astype(np.int32), 1).astype(bool)
    free = inside & ~plane.outside
    if np.count_nonzero(free) < max(150.0, _LEAST_FREE * np.count_nonzero(inside)):
        raise NoSwatchesError(
            f"The corners given for the card in {name} hold no card",
            "most of the place is the chart, or too far from it to be measured",
            "Give the card's own corners, beside the chart",
        )
    sheet = replace(lab_image_of(plane), outside=~free)
    half = sheet.halved()
    cuts = edge_levels(half)
    quiet = find_regions(half, cuts)[:_TRIED]
    marks = [island for region in quiet for island in islands(region, half)]
    marks += [island for candidate in patched(cuts, half) for island in candidate.islands]
    marks = [doubled(mark) for mark in marks]
    grounds = _grounds([region.doubled(sheet) for region in quiet], sheet, free)
    found = [a for region in grounds if (a := _arranged_within(region, sheet, free, marks)) is not None]
    if not found:
        raise NoSwatchesError(
            f"Nothing is painted between the corners given for the card in {name}",
            "no marks broad enough to be swatches stand out from an even ground there",
        )
    return CardFind(plane, *max(found, key=lambda pair: pair[1].order))


def _arranged_within(region: Region, sheet: LabImage, free: Mask, marks: list[Blob]) -> Arranged | None:
    """Look for swatches on a ground, all over the card: it is known how far the card reaches."""
    surface = surface_of(region, sheet)
    x, y, w, h = region.box
    return None if surface is None else arranged(replace(surface, card=free[y : y + h, x : x + w]), sheet, marks)


def _grounds(regions: list[Region], sheet: LabImage, free: Mask) -> list[Region]:
    """Return what may be the card's bare ground: its quiet regions, and its commonest colour."""
    rows, cols = np.nonzero(free)
    top, left, bottom, right = rows.min(), cols.min(), rows.max() + 1, cols.max() + 1
    box = (int(left), int(top), int(right - left), int(bottom - top))
    masks = [_commonest(sheet, free)]
    for region in regions:
        x, y, w, h = region.box
        whole = np.zeros(free.shape, dtype=bool)
        whole[y : y + h, x : x + w] = region.bare
        masks.append(whole & free)
    return [Region(mask[top:bottom, left:right], box) for mask in masks if mask.any()]


def _commonest(sheet: LabImage, free: Mask) -> Mask:
    """Return the pixels near the commonest colour."""
    bins = (sheet.lab // _BIN).astype(np.int64)
    code = (bins[..., 0] * 64 + bins[..., 1]) * 64 + bins[..., 2]
    counts = np.bincount(code[free])
    middle = medians(sheet.lab[free & (code == int(np.argmax(counts)))])
    off = np.linalg.norm(sheet.lab.astype(np.float32) - middle.astype(np.float32), axis=2)
    return np.asarray(free & (off < _LIKE), dtype=bool)
