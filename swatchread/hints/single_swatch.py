"""Finding a lone swatch: it is in no row or column, so it must be the only thing painted on its ground."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from swatchread.card.card_detection import find_card
from swatchread.card.card_find import CardFind
from swatchread.errors import NoSwatchesError
from swatchread.grid.swatch_grid import arrange
from swatchread.ground.background import lab_of
from swatchread.ground.ground_regions import Region, card_score, likely_regions, surface_of
from swatchread.ground.segmentation import Blob, find_blobs
from swatchread.photo.masks import Picture, eroded
from swatchread.plane.lab_image import LabImage, lab_image_of
from swatchread.plane.rectification import Plane

# Measured on development scenes.

_TRIED = 20
"""Quiet regions that may be the swatch's ground."""

_RIVAL = 0.3
"""If another area is larger than this share of the largest, it is doubtful which one is meant."""

_SEVERAL, _IN_ORDER = 4, 0.9
"""So many swatches, and how well each stands in rows and columns, make a card without doubt."""

_LARGEST = 0.6
"""Share of its ground that a swatch covers at most."""

_RIM = 0.15
"""Breadth of the rim at which an area's colour is not measured, in half-widths."""

_OTHER, _MOST_OTHER = 12.0, 0.04
"""CIELAB units from which a colour is another one, and the share of a swatch that may have other colours."""

_SMALLER, _SLACK = 0.7, 2.0
"""What lies on another area is smaller by this factor, and its box reaches no more pixels beyond the other's."""


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
    if (count := _swatches_on_a_card(plane)) >= _SEVERAL:
        raise NoSwatchesError(
            f"{name} does not show one lone swatch",
            f"a card of {count} swatches lies in it",
            "Name a swatch of the card, as in PHOTO:r1c1, or photograph one alone",
        )
    full = lab_image_of(plane)
    half = full.halved()
    found = [c for region in likely_regions(half, _TRIED) if (c := _candidate(plane, region, half)) is not None]
    # A card on a table is one thing on a ground as well; the swatch lies on the card.
    inner = [c for c in found if not any(_lies_on(other.blob, c.blob) for other in found if other is not c)]
    # A thing on a card on the table is likelier than a thing on the table, which may be a tube.
    on_card = [c for c in inner if any(_lies_on(c.blob, other.blob) for other in found if other is not c)]
    for likely in sorted(on_card or inner, key=lambda c: -c.card_score):
        precise = _candidate(plane, likely.region.doubled(full), full)
        if precise is not None:
            return precise.find
    raise NoSwatchesError(
        f"{name} does not show one lone swatch",
        "no even ground carries a single painted area",
        "Paint it on a card of its own, or name a swatch of the card: PHOTO:r1c1",
    )


def _swatches_on_a_card(plane: Plane) -> int:
    """Return how many swatches stand in rows and columns without doubt; 0 where none do."""
    try:
        grid = find_card(plane).grid
    except NoSwatchesError:
        return 0
    return len(grid.cells) if grid.order >= _IN_ORDER * len(grid.cells) else 0


def _candidate(plane: Plane, region: Region, image: LabImage) -> _Candidate | None:
    lab = image.lab
    surface = surface_of(region, image)
    if surface is None:
        return None
    blobs = sorted(find_blobs(surface, lab), key=lambda b: -b.area)
    if not blobs or (len(blobs) > 1 and blobs[1].area > _RIVAL * blobs[0].area):
        return None
    largest = blobs[0]
    grid = arrange([largest])
    if not grid.cells or largest.area > _LARGEST * np.count_nonzero(surface.card) or not _of_one_colour(largest, lab):
        return None
    return _Candidate(region, CardFind(plane, surface, grid), largest, card_score(surface))


def _of_one_colour(blob: Blob, lab: Picture) -> bool:
    """Tell whether an area is of one colour."""
    inside = eroded(blob.mask, 2 * max(1, int(_RIM * blob.radius)) + 1)
    off = np.linalg.norm(lab_of(lab[blob.part()][inside]) - blob.lab, axis=1)
    return bool(len(off) and (off > _OTHER).mean() < _MOST_OTHER)


def _lies_on(inner: Blob, outer: Blob) -> bool:
    """Tell whether one area lies in another's box, and is clearly smaller."""
    apart = abs(inner.centre - outer.centre)
    within = (apart + inner.size / 2.0 <= outer.size / 2.0 + _SLACK).all()
    return bool(within and inner.area < _SMALLER * outer.area)
