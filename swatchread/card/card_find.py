"""A card that was found: where it lies, its ground and its swatches."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from swatchread.colour.cielab import Floats
from swatchread.grid.swatch_grid import Grid
from swatchread.ground.ground_regions import Surface
from swatchread.ground.segmentation import Blob
from swatchread.photo import opencv as cv2
from swatchread.photo.geometry import gap_between, rotation
from swatchread.photo.masks import Mask, outline_points, turned_rectangle
from swatchread.plane.rectification import Plane


@dataclass(frozen=True, eq=False)
class CardFind:
    """A card with swatches.

    Attributes
    ----------
    plane : Plane
    surface : Surface
    grid : Grid
    seen : tuple of Blob
        All that looks painted, with or without a place in the grid.
    alone : bool
        Whether no other card was seen beside it.
    turn_sure : bool
        Whether its writing, or the painter, says surely which way up it stands. One that lies alone stands as the
        chart does.
    score : float
        Log odds that its surface is the ground of a card.
    """

    plane: Plane
    surface: Surface
    grid: Grid
    seen: tuple[Blob, ...] = ()
    alone: bool = True
    turn_sure: bool = True
    score: float = 0.0

    @property
    def corners(self) -> Floats:
        """The card's corners in photo pixels, from its top left clockwise as the chart reads, shape (4, 2)."""
        x, y = self.surface.box[:2]
        box = turned_rectangle(self.surface.card).astype(np.float64) + [x, y]
        turned = (box - box.mean(axis=0)) @ rotation(self.grid.angle)
        order = np.argsort(np.arctan2(turned[:, 1], turned[:, 0]))
        return self.plane.photo_points(box[order])

    def covers(self, plane: Plane) -> Mask:
        """Return what the card covers in the picture of a plane, shape (h, w), bool."""
        x, y = self.surface.box[:2]
        to_plane = np.linalg.inv(plane.to_photo) @ self.plane.to_photo @ np.array([[1, 0, x], [0, 1, y], [0, 0, 1.0]])
        size = plane.outside.shape[::-1]
        return cv2.warpPerspective(self.surface.card.astype(np.uint8), to_plane, size, flags=cv2.INTER_NEAREST) > 0

    @property
    def outline(self) -> Floats:
        """The card's convex outline in photo pixels, shape (n, 2)."""
        points = cv2.convexHull(outline_points(self.surface.card))[:, 0].astype(np.float64)
        return self.plane.photo_points(points + self.surface.box[:2])

    @property
    def gap_to_chart(self) -> float:
        """Distance between card and chart, pitches of the chart."""
        places = self.plane.points_of(self.outline)
        return gap_between(places, self.plane.chart_corners) / self.plane.resolution
