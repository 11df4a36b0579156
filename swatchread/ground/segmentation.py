"""Painted areas on a ground: marks that are broad, whole and sharp-edged, as writing, tape and shadows are not."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
import numpy.typing as npt

from swatchread.colour.cielab import Floats
from swatchread.ground.background import lab_of
from swatchread.ground.ground_regions import Surface
from swatchread.ground.watershed_split import deepest_of, split, usual_of
from swatchread.photo import masks
from swatchread.photo import opencv as cv2
from swatchread.photo.masks import Box, Mask, Picture
from swatchread.photo.order_statistics import median
from swatchread.plane.finder_settings import settings
from swatchread.plane.lab_image import seams

_CORNERS = np.array([[0.0, 0.0], [1.0, 0.0], [0.0, 1.0], [1.0, 1.0]])


@dataclass(frozen=True, eq=False)
class Blob:
    """One painted area, in pixels of the plane.

    Attributes
    ----------
    mask : ndarray, shape (h, w), bool
        Cut to what it holds.
    corner : tuple of int
        x, y of the mask's corner.
    radius : float
        Of the largest disc inside.
    solid : float
        Area over that of its convex hull.
    lab : ndarray, shape (3,)
        Median colour, CIELAB.
    off : float
        Median difference from the ground, CIELAB units.
    sharp : float
        Share of the step at its outline that happens within a few pixels.
    border : float
        Share of its outline that lies on the card's own.
    rough : float
        Detail of lightness inside over `off`; 0 where it was not measured.
    """

    mask: Mask
    corner: tuple[int, int]
    radius: float
    solid: float
    lab: Floats
    off: float
    sharp: float = 1.0
    border: float = 0.0
    rough: float = 0.0

    @classmethod
    def of(
        cls, mask: Mask, corner: tuple[int, int], lab: Floats, off: float, depth: npt.NDArray[np.float32] | None = None
    ) -> Blob:
        """Describe a painted area with a sharp outline that is not part of the card's edge.

        Parameters
        ----------
        mask : ndarray, shape (h, w), bool
            Cut to what it holds.
        corner : tuple of int
            x, y of the mask's corner in the plane.
        lab : ndarray, shape (3,)
            CIELAB.
        off : float
            Difference from the ground, CIELAB units.
        depth : ndarray, shape (h, w), optional
            As `masks.depth_of` has it, where it is known.

        Returns
        -------
        Blob
        """
        hull = max(cv2.contourArea(cv2.convexHull(masks.outline_points(masks.with_margin(mask, 1) > 0))), 1.0)
        solid = min(1.0, float(np.count_nonzero(mask)) / hull)
        depth = masks.depth_of(mask) if depth is None else depth
        return cls(mask, corner, float(depth.max()), solid, lab, off)

    @property
    def area(self) -> int:
        """Number of pixels."""
        return int(np.count_nonzero(self.mask))

    @cached_property
    def size(self) -> Floats:
        """Width and height of its box, shape (2,)."""
        return np.array(self.mask.shape[::-1], dtype=np.float64)

    @cached_property
    def centre(self) -> Floats:
        """Centre of its box, shape (2,)."""
        return np.array(self.corner) + (self.size - 1.0) / 2.0

    def part(self, origin: Sequence[int] = (0, 0)) -> tuple[slice, slice]:
        """Return the rows and columns of the mask in an array whose corner lies at `origin` in the plane."""
        (x, y), (h, w) = self.corner, self.mask.shape
        return masks.part_of((x - origin[0], y - origin[1], w, h))

    def moved(self, x: int, y: int) -> Blob:
        """Return the same area, so many pixels further right and down."""
        return replace(self, corner=(self.corner[0] + x, self.corner[1] + y))

    def clipped(self, box: Box) -> Blob | None:
        """Return what a box of the plane holds of the area; None where that is not most of it."""
        x, y = self.corner[0] - box[0], self.corner[1] - box[1]
        mask = self.mask[max(0, -y) : max(0, box[3] - y), max(0, -x) : max(0, box[2] - x)]
        if mask.shape == self.mask.shape:
            return self
        if np.count_nonzero(mask) < settings().paint.most * self.area:
            return None
        return replace(self, mask=mask, corner=(max(0, x) + box[0], max(0, y) + box[1]))

    def doubled(self) -> Blob:
        """Return the area as it is in a picture of twice the size."""
        mask = np.repeat(np.repeat(self.mask, 2, axis=0), 2, axis=1)
        x, y = self.corner
        return replace(self, mask=mask, corner=(2 * x, 2 * y), radius=2.0 * self.radius)


def hull_of_blobs(blobs: list[Blob], box: Box) -> Mask:
    """Return the convex hull of the boxes round painted areas, as a mask of a box of the plane."""
    low = np.array([b.corner for b in blobs]) - box[:2]
    corners = low[:, None] + np.array([b.size for b in blobs])[:, None] * _CORNERS
    return masks.polygon_mask(cv2.convexHull(corners.reshape(-1, 2).astype(np.int32)), (box[3], box[2]))


def usual_radius(surface: Surface) -> float | None:
    """Return the usual half-width of the marks on a surface, weighted by their area; None where there are none."""
    return _usual(_depths(_paint(surface))) or None


def find_blobs(surface: Surface, lab: Picture) -> list[Blob]:
    """Find painted areas on a ground.

    Parameters
    ----------
    surface : Surface
    lab : ndarray, shape (h, w, 3), uint8
        8-bit CIELAB of the whole plane.

    Returns
    -------
    list of Blob
        Empty where no mark is broad enough.
    """
    known = settings().paint
    colours, paint = lab[masks.part_of(surface.box)], _paint(surface)
    usual = _usual(_depths(paint))
    if not usual:
        return []
    blobs, edge = [], seams(colours)
    for mask, (left, top) in _cut_out(masks.opened_by_disc(paint, known.thin * usual)):
        high, wide = mask.shape
        parts = split(mask, edge[top : top + high, left : left + wide])
        if len(parts) > 1 and max(mask.shape) < known.compact * min(mask.shape):
            parts.append((mask, (0, 0)))
        for part, (px, py) in parts:
            blobs.append(_described(part, (left + px, top + py), surface, colours))
    return [blob for blob in blobs if blob.radius >= known.least_radius]


def _paint(surface: Surface) -> Mask:
    """Return what differs clearly from the ground, for its noise."""
    known = settings()
    return surface.off > max(known.paint.over_noise * surface.noise, known.ground.least_off)


def _depths(paint: Mask) -> npt.NDArray[np.float32]:
    """Return the half-width of each mark, pixels."""
    count, labels = cv2.connectedComponents(paint.astype(np.uint8), connectivity=4)
    return deepest_of(labels[paint], masks.depth_of(paint)[paint], count)[1:]


def _usual(depths: npt.NDArray[np.float32]) -> float:
    """Return the usual half-width of marks that are broad enough to tell it; 0 where none is."""
    return usual_of(depths[depths >= settings().paint.least_radius])


def _cut_out(paint: Mask) -> list[tuple[Mask, tuple[int, int]]]:
    """Return each piece of a mask, cut to its box, with the place of that."""
    labels, stats = masks.pieces_of(paint)
    pieces = []
    for index, (x, y, w, h, _) in enumerate(stats.tolist()):
        if index:
            pieces.append((labels[y : y + h, x : x + w] == index, (x, y)))
    return pieces


def _described(mask: Mask, corner: tuple[int, int], surface: Surface, colours: Picture) -> Blob:
    """Describe a mark by its colour and its outline against the ground; places are within the surface's box."""
    depth, part = masks.depth_of(mask), masks.part_of((*corner, mask.shape[1], mask.shape[0]))
    core = depth > settings().paint.core * depth.max()
    off = float(median(surface.off[part][core]))
    blob = Blob.of(mask, corner, lab_of(median(colours[part][core], axis=0)), off, depth)
    rim, border = _surroundings(blob, surface)
    return replace(blob.moved(*surface.box[:2]), sharp=1.0 - rim / max(off, 1e-6), border=border)


def _surroundings(blob: Blob, surface: Surface) -> tuple[float, float]:
    """Return how far the ground a few pixels out is off, CIELAB units, and the share of it beyond the card."""
    rows, cols = masks.ring_round(blob.mask, blob.corner, settings().paint.ring)
    within = masks.lie_inside(rows, cols, surface.card.shape)
    on_card = np.zeros(len(rows), dtype=bool)
    on_card[within] = surface.card[rows[within], cols[within]]
    border = 1.0 - float(on_card.mean()) if len(rows) else 1.0
    rim = float(median(surface.off[rows[on_card], cols[on_card]])) if on_card.any() else 0.0
    return rim, border
