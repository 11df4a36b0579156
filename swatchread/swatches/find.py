"""The card and its swatches: of all quiet surfaces on the table, the one whose marks stand best in rows and columns."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

from swatchread.colour import Floats
from swatchread.errors import NoSwatchesError
from swatchread.swatches.blobs import find_blobs, find_faint, usual_radius
from swatchread.swatches.grid import Grid, arrange
from swatchread.swatches.ground import Picture, Surface, find_surfaces, lab_picture, sharpened
from swatchread.swatches.plane import Plane

_TRIED = 6
_CLEARLY = 1.12
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
    lab = lab_picture(plane.picture)
    tries = [t for surface in find_surfaces(plane, lab, _TRIED) if (t := _tried(plane, surface, lab)) is not None]
    # A table carries the card's swatches as well as the card does: the larger must show clearly more.
    best: CardFind | None = None
    for one in sorted(tries, key=lambda t: int(t.surface.card.sum())):
        if best is None or one.grid.order > best.grid.order * _CLEARLY:
            best = one
    if best is None or best.grid.order < _LEAST_ORDER:
        name = plane.sample.find.photo.path.name
        raise NoSwatchesError(
            f"{name} shows the chart, but no card with swatches", "no even ground with painted areas stands out"
        )
    return best


def _tried(plane: Plane, surface: Surface, lab: Picture) -> CardFind | None:
    """Look for a grid of swatches on one surface."""
    radius = usual_radius(surface)
    if radius is None:
        return None
    precise = sharpened(surface, lab, radius)
    blobs = find_blobs(precise, lab)
    grid = arrange(blobs)
    if not grid.cells:
        return None
    usual = float(np.median([c.blob.radius for c in grid.cells]))
    return CardFind(plane, precise, arrange(blobs, find_faint(precise, lab, usual, blobs)))
