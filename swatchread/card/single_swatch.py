"""A lone swatch: no rows and columns vouch for it, so it must be the one thing painted on its ground."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from swatchread.card.background import LAB_SCALE, Picture
from swatchread.card.card_detection import CardFind, find_card
from swatchread.card.grid import arrange
from swatchread.card.ground_regions import Region, card_score, refine_background, surface_of
from swatchread.card.lab_image import LabImage, lab_image_of
from swatchread.card.rectification import Plane
from swatchread.card.region_growing import likely_regions
from swatchread.card.segmentation import Blob, find_blobs, usual_radius
from swatchread.errors import NoSwatchesError
from swatchread.photo import opencv as cv2

_TRIED = 20
_RIVAL = 0.3
"""Share of the largest area's size from which another one makes it doubtful which is meant."""

_SEVERAL, _IN_ORDER = 4, 0.9
"""So many swatches, and how well each stands in rows and columns, make a card without doubt."""

_LARGEST = 0.6
_OTHER = 12.0
_MOST_OTHER = 0.04
"""Share of an area that may be of another colour: more, and it is a card with something on it, not paint."""


@dataclass(frozen=True, eq=False)
class _Candidate:
    region: Region
    find: CardFind
    blob: Blob
    card_score: float


def find_single_swatch(plane: Plane) -> CardFind:
    """Find a lone swatch beside the chart.

    Parameters
    ----------
    plane : Plane

    Returns
    -------
    CardFind
        With one swatch.

    Raises
    ------
    NoSwatchesError
        If no ground carries just one painted area.
    """
    name = plane.sample.find.photo.path.name
    if (count := _on_a_card(plane)) >= _SEVERAL:
        raise NoSwatchesError(
            f"{name} does not show one lone swatch",
            f"a card of {count} swatches lies in it",
            "Name a swatch of the card, as in PHOTO:r1c1, or photograph one alone",
        )
    full = lab_image_of(plane)
    half = full.halved()
    found = [c for region in likely_regions(half, _TRIED) if (c := _candidate(plane, region, half)) is not None]
    # A card on a table is one thing on a ground as well, and the swatch lies within it.
    inner = [c for c in found if not any(_within(other.blob, c.blob) for other in found if other is not c)]
    # What lies on a card that itself lies on the table is likelier than a thing on the table, a tube for instance.
    on_card = [c for c in inner if any(_within(c.blob, other.blob) for other in found if other is not c)]
    for likely in sorted(on_card or inner, key=lambda c: -c.card_score):
        precise = _candidate(plane, likely.region.doubled(full), full)
        if precise is not None:
            return precise.find
    raise NoSwatchesError(
        f"{name} does not show one lone swatch",
        "no even ground carries a single painted area",
        "Paint it on a card of its own, or name a swatch of the card: PHOTO:r1c1",
    )


def _on_a_card(plane: Plane) -> int:
    """Return how many swatches stand in rows and columns without doubt; 0 where none do."""
    try:
        grid = find_card(plane).grid
    except NoSwatchesError:
        return 0
    return len(grid.cells) if grid.order >= _IN_ORDER * len(grid.cells) else 0


def _candidate(plane: Plane, region: Region, sheet: LabImage) -> _Candidate | None:
    lab = sheet.lab
    surface = surface_of(region, sheet)
    radius = usual_radius(surface) if surface is not None else None
    if surface is None or radius is None:
        return None
    precise = refine_background(surface, lab, radius)
    blobs = sorted(find_blobs(precise, lab), key=lambda b: -b.area)
    if not blobs or (len(blobs) > 1 and blobs[1].area > _RIVAL * blobs[0].area):
        return None
    largest = blobs[0]
    grid = arrange([largest])
    if not grid.cells or largest.area > _LARGEST * np.count_nonzero(precise.card) or not _plain(largest, lab):
        return None
    return _Candidate(region, CardFind(plane, precise, grid), largest, card_score(precise))


def _plain(blob: Blob, lab: Picture) -> bool:
    """Tell whether an area is of one colour."""
    x, y = blob.corner
    h, w = blob.mask.shape
    reach = max(1, int(0.15 * blob.radius))
    inside = cv2.erode(np.pad(blob.mask.astype(np.uint8), 1), np.ones((2 * reach + 1, 2 * reach + 1), np.uint8))
    colours = lab[y : y + h, x : x + w][inside[1:-1, 1:-1] > 0] * LAB_SCALE
    off = np.linalg.norm(colours - blob.lab - [0.0, 128.0, 128.0], axis=1)
    return bool(len(off) and (off > _OTHER).mean() < _MOST_OTHER)


def _within(inner: Blob, outer: Blob) -> bool:
    """Tell whether one area lies in another's box, and is clearly smaller."""
    apart = abs(inner.centre - outer.centre)
    return bool((apart + inner.size / 2.0 <= outer.size / 2.0 + 2.0).all() and inner.area < 0.7 * outer.area)
