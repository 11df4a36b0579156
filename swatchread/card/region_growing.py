"""What a ground is more than a quiet region: pieces that swatches, or a shadow, have cut apart are joined."""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

from swatchread.card.background import Picture, distance, fit_background, shrunk, spread, tint_distance
from swatchread.card.ground_regions import Region, card_score, find_regions, surface_of, usual_off
from swatchread.card.lab_image import LabImage
from swatchread.photo import opencv as cv2

_REACH = 0.6
_HELD = 0.95


def grow_regions(regions: list[Region], sheet: LabImage) -> list[Region]:
    """Return what regions grow to when like pieces are joined: those that swatches, or a shadow, have cut apart.

    Parameters
    ----------
    regions : list of Region
    sheet : LabImage

    Returns
    -------
    list of Region
        Each once: none, one or two for each, in their order. What an earlier one has taken in grows to the same.
    """
    wider: list[Region] = []
    for region in regions:
        if any(_holds(one, region) for one in wider):
            continue
        grown = (_grown(region, sheet, shaded=shaded) for shaded in (False, True))
        wider += [one for one in grown if one is not None and not any(_alike(one, other) for other in wider)]
    return wider


def likely_regions(sheet: LabImage, most: int) -> list[Region]:
    """Return the quiet regions that could be grounds, the likeliest first, each followed by wider ones."""
    sketches = [(region, s) for region in find_regions(sheet) if (s := surface_of(region, sheet)) is not None]
    likeliest = sorted(sketches, key=lambda pair: -card_score(pair[1]))[:most]
    return [one for region, _ in likeliest for one in (region, *grow_regions([region], sheet))]


def _grown(region: Region, sheet: LabImage, *, shaded: bool) -> Region | None:
    """Join pieces of one ground that swatches, or a shadow, have cut apart; None where there is nothing to join."""
    x, y, w, h = region.box
    half, outside = sheet.lab, sheet.outside
    beyond = int(_REACH * max(w, h)) + 4
    x0, y0 = max(0, x - beyond), max(0, y - beyond)
    x1, y1 = min(half.shape[1], x + w + beyond), min(half.shape[0], y + h + beyond)
    patch = half[y0:y1, x0:x1]
    bare = np.zeros(patch.shape[:2], dtype=bool)
    bare[y - y0 : y - y0 + h, x - x0 : x - x0 + w] = region.bare
    field, _ = fit_background(bare, patch, 0 if shaded else 1)
    off = tint_distance(patch, field) if shaded else distance(patch, field)
    noise = usual_off(off, bare)
    like = ((off < max(3.0 * noise + 1.0, 4.0)) & ~outside[y0:y1, x0:x1]).astype(np.uint8)
    reach = max(2, int(0.05 * max(w, h)))
    closed = _closed(cv2.morphologyEx(like, cv2.MORPH_OPEN, np.ones((3, 3), np.uint8)), reach)
    _, labels = cv2.connectedComponents(closed, connectivity=4)
    votes = np.bincount(labels[bare])
    votes[0] = 0
    joined = (labels == int(np.argmax(votes))) & (like > 0)
    if np.count_nonzero(joined) < 1.1 * np.count_nonzero(region.bare):
        return None
    rows, cols = np.nonzero(joined)
    top, left, bottom, right = rows.min(), cols.min(), rows.max() + 1, cols.max() + 1
    box = (x0 + int(left), y0 + int(top), int(right - left), int(bottom - top))
    return Region(joined[top:bottom, left:right], box)


def _closed(mask: npt.NDArray[Any], reach: int) -> Picture:
    """Dilate by a disc, then erode; the end of the picture takes nothing away."""
    wide = np.pad(mask, reach + 1)
    return shrunk(spread(wide, reach), reach)[reach + 1 : -reach - 1, reach + 1 : -reach - 1]


def _holds(one: Region, other: Region) -> bool:
    """Tell whether a region has nearly all of another."""
    shared = one.within(other.box) & other.bare
    return float(np.count_nonzero(shared)) > _HELD * float(np.count_nonzero(other.bare))


def _alike(one: Region, other: Region) -> bool:
    """Tell whether two regions are one but for a few pixels, whichever is the larger."""
    return _holds(one, other) and _holds(other, one)
