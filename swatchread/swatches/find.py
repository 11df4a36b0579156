"""The card and its swatches: of all quiet surfaces on the table, the one whose marks stand best in rows and columns."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

from swatchread.colour import Floats
from swatchread.errors import NoSwatchesError
from swatchread.swatches.blobs import find_blobs, find_faint, usual_radius
from swatchread.swatches.grid import Grid, arrange
from swatchread.swatches.ground import Region, Sheet, Surface, find_regions, sharpened, sheet_of, surface_of
from swatchread.swatches.plane import Plane

_TRIED = 7
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
    half = full.halved()
    # A table carries the card's swatches as well as the card does: the larger must show clearly more.
    best: tuple[float, Region] | None = None
    for region in sorted(find_regions(half, _TRIED), key=lambda r: r.box[2] * r.box[3]):
        order = _worth(region, half)
        if order > (best[0] * _CLEARLY if best else 0.0):
            best = order, region
    found = _arranged(best[1].doubled(full), full) if best and best[0] > _LEAST_ORDER / 2 else None
    if found is None or found[1].order < _LEAST_ORDER:
        name = plane.sample.find.photo.path.name
        raise NoSwatchesError(
            f"{name} shows the chart, but no card with swatches", "no even ground with painted areas stands out"
        )
    return CardFind(plane, *found)


def _worth(region: Region, sheet: Sheet) -> float:
    """Return how well a region does as a card: the order of its marks, less if it is rather the table."""
    arranged = _arranged(region, sheet)
    if arranged is None:
        return 0.0
    surface, grid = arranged
    x, y, w, h = surface.box
    outside = sheet.outside[y : y + h, x : x + w]
    hull = cv2.convexHull(np.concatenate(cv2.findContours(surface.bare.astype(np.uint8), 0, 2)[0]))
    whole = cv2.fillConvexPoly(np.zeros((h, w), np.uint8), hull, 1) > 0
    # What the chart, or the end of the photo, takes of it: a card lies beside the chart and within the photo.
    taken = float((outside & whole).sum() / whole.sum())
    rim = cv2.morphologyEx(whole.astype(np.uint8), cv2.MORPH_GRADIENT, np.ones((3, 3), np.uint8)) > 0
    near = cv2.dilate(np.pad(outside, 1, constant_values=True).astype(np.uint8), np.ones((7, 7), np.uint8))[1:-1, 1:-1]
    frame = np.zeros_like(rim)
    frame[3:-3, 3:-3] = True
    edge = near.astype(bool) & (outside.any() | frame)
    cut = float((rim & edge & frame).sum() / max(1, rim.sum()))
    return grid.order * (1.0 - 0.35 * min(1.0, cut)) * (0.9 if taken > 0.03 else 1.0)


def _arranged(region: Region, sheet: Sheet) -> tuple[Surface, Grid] | None:
    """Look for a grid of swatches on one region."""
    surface = surface_of(region, sheet)
    return arranged(surface, sheet) if surface is not None else None


def arranged(surface: Surface, sheet: Sheet) -> tuple[Surface, Grid] | None:
    """Look for a grid of swatches on a surface; return it with the surface described anew, or None."""
    radius = usual_radius(surface)
    if radius is None:
        return None
    precise = sharpened(surface, sheet.lab, radius)
    blobs = find_blobs(precise, sheet.lab)
    grid = arrange(blobs)
    if not grid.cells:
        return None
    usual = float(np.median([c.blob.radius for c in grid.cells]))
    return precise, arrange(blobs, find_faint(precise, sheet.lab, usual, blobs))
