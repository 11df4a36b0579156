"""The card and its swatches: of all quiet surfaces on the table, the one whose marks stand best in rows and columns."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

from swatchread.colour import Floats
from swatchread.errors import NoSwatchesError
from swatchread.swatches.blobs import find_blobs, find_faint, usual_radius
from swatchread.swatches.grid import Grid, arrange
from swatchread.swatches.ground import (
    Region, Sheet, Surface, find_regions, sharpened, sheet_of, surface_of, wider_regions
)
from swatchread.swatches.islands import island_worth
from swatchread.swatches.plane import Plane

_WIDENED = 3
_TRIED = 3
_CLEARLY = 1.05
_LEAST_ORDER = 0.8


@dataclass(frozen=True, eq=False)
class CardFind:
    """A card with swatches.

    Attributes
    ----------
    plane : Plane
    surface : Surface
    grid : Grid
    """

    plane: Plane
    surface: Surface
    grid: Grid

    @property
    def corners(self) -> Floats:
        """The card's corners in photo pixels, from its top left clockwise as the chart reads, shape (4, 2)."""
        x, y = self.surface.box[:2]
        contours, _ = cv2.findContours(self.surface.card.astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
        box = cv2.boxPoints(cv2.minAreaRect(np.concatenate(contours))).astype(np.float64) + [x, y]
        cos, sin = np.cos(self.grid.angle), np.sin(self.grid.angle)
        turned = (box - box.mean(axis=0)) @ np.array([[cos, -sin], [sin, cos]])
        order = np.argsort(np.arctan2(turned[:, 1], turned[:, 0]))
        return self.plane.photo_points(box[order])


def find_card(plane: Plane) -> CardFind:
    """Find the card with swatches.

    Parameters
    ----------
    plane : Plane

    Returns
    -------
    CardFind

    Raises
    ------
    NoSwatchesError
        If no surface carries painted areas.
    """
    full = sheet_of(plane)
    for region in _likeliest(full.halved()):
        found = _arranged(region.doubled(full), full)
        if found is not None and found[1].order >= _LEAST_ORDER:
            return CardFind(plane, *found)
    name = plane.sample.find.photo.path.name
    raise NoSwatchesError(
        f"{name} shows the chart, but no card with swatches", "no even ground with painted areas stands out"
    )


def _likeliest(sheet: Sheet) -> list[Region]:
    """Return the regions most likely to be the card's ground, the likeliest first."""
    scored = [(island_worth(region, sheet), region) for region in find_regions(sheet)]
    scored = [pair for pair in scored if pair[0] > 0.0]
    scored.sort(key=lambda pair: -pair[0])
    for _, region in scored[:_WIDENED]:
        scored += [(island_worth(wider, sheet), wider) for wider in wider_regions(region, sheet)]
    chosen: list[Region] = []
    while scored and len(chosen) < _TRIED:
        # A table may carry the swatches as well as the card does: the larger must show clearly more.
        scored.sort(key=lambda pair: pair[1].box[2] * pair[1].box[3])
        best = 0
        for k, (worth, _) in enumerate(scored):
            if worth > scored[best][0] * (_CLEARLY if k != best else 1.0):
                best = k
        chosen.append(scored.pop(best)[1])
    return chosen


def _arranged(region: Region, sheet: Sheet) -> tuple[Surface, Grid] | None:
    """Look for a grid of swatches on one region."""
    surface = surface_of(region, sheet)
    radius = usual_radius(surface) if surface is not None else None
    if surface is None or radius is None:
        return None
    precise = sharpened(surface, sheet.lab, radius)
    blobs = find_blobs(precise, sheet.lab)
    grid = arrange(blobs)
    if not grid.cells:
        return None
    usual = float(np.median([c.blob.radius for c in grid.cells]))
    return precise, arrange(blobs, find_faint(precise, sheet.lab, usual, blobs))
