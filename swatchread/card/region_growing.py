"""Growing a region: pieces of one ground that swatches have cut apart are joined."""

from __future__ import annotations

import numpy as np

from swatchread.card.background import distance, fit_background
from swatchread.card.ground_regions import Region, usual_off
from swatchread.card.lab_image import LabImage
from swatchread.card.masks import Mask, dilated_by_disc, eroded_by_disc
from swatchread.photo import opencv as cv2

_REACH, _LEAST_REACH = 0.6, 4
"""How far beyond a region more of it is looked for: in lengths of its box, and pixels more."""

_GAP, _LEAST_GAP = 0.05, 2
"""Breadth of the gaps that are bridged: in lengths of the region's box, and pixels at least."""

_NOISES, _LEAST_OFF = 3.0, 4.0
"""How far the same ground may differ: so many times its noise and 1 more, CIELAB units at least."""

_GROWN = 1.1
"""Area over the region's own that is worth a new region."""

_HELD = 0.95
"""Share of a region that another must hold to be the same or more."""


def grow_regions(regions: list[Region], image: LabImage) -> list[Region]:
    """Return what regions grow to when pieces of the same ground are joined.

    Parameters
    ----------
    regions : list of Region
    image : LabImage

    Returns
    -------
    list of Region
        One for a region at most, in their order. What an earlier one holds is not grown again.
    """
    found: list[Region] = []
    for region in regions:
        if any(_holds(one, region) for one in found):
            continue
        grown = _grown(region, image)
        found += [grown] if grown is not None and not any(_alike(grown, other) for other in found) else []
    return found


def _grown(region: Region, image: LabImage) -> Region | None:
    """Join pieces of one ground; None where there is little to join."""
    x, y, w, h = region.box
    beyond = int(_REACH * max(w, h)) + _LEAST_REACH
    x0, y0 = max(0, x - beyond), max(0, y - beyond)
    x1, y1 = min(image.shape[1], x + w + beyond), min(image.shape[0], y + h + beyond)
    colours = image.lab[y0:y1, x0:x1]
    bare = region.within((x0, y0, x1 - x0, y1 - y0))
    field, _ = fit_background(bare, colours)
    off = distance(colours, field)
    like = (off < max(_NOISES * usual_off(off, bare) + 1.0, _LEAST_OFF)) & ~image.outside[y0:y1, x0:x1]
    opened = cv2.morphologyEx(like.astype(np.uint8), cv2.MORPH_OPEN, np.ones((3, 3), np.uint8))
    closed = _closed(opened > 0, max(_LEAST_GAP, int(_GAP * max(w, h))))
    _, labels = cv2.connectedComponents(closed.astype(np.uint8), connectivity=4)
    votes = np.bincount(labels[bare])
    votes[0] = 0
    joined = (labels == int(np.argmax(votes))) & like
    if np.count_nonzero(joined) < _GROWN * np.count_nonzero(region.bare):
        return None
    return Region.of(joined, (x0, y0))


def _closed(mask: Mask, reach: int) -> Mask:
    """Dilate by a disc, then erode; the end of the picture takes nothing away."""
    wide = np.pad(mask, reach + 1)
    return eroded_by_disc(dilated_by_disc(wide, reach), reach)[reach + 1 : -reach - 1, reach + 1 : -reach - 1]


def _holds(one: Region, other: Region) -> bool:
    """Tell whether a region has nearly all of another."""
    shared = one.within(other.box) & other.bare
    return float(np.count_nonzero(shared)) > _HELD * float(np.count_nonzero(other.bare))


def _alike(one: Region, other: Region) -> bool:
    """Tell whether two regions are one but for a few pixels, whichever is the larger."""
    return _holds(one, other) and _holds(other, one)
