"""Filling the gaps of a grid: paint that is so near its ground that only its place gives it away."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from swatchread.colour.cielab import Floats
from swatchread.grid.cell_neighbourhood import REACH, RING, CellNeighbourhood, blob_of_paint
from swatchread.grid.grid_gaps import SKIPPED, missing_cells
from swatchread.grid.rejected_marks import with_texture
from swatchread.grid.swatch_grid import Grid
from swatchread.ground.background import alike_in_light
from swatchread.ground.finder_settings import settings
from swatchread.ground.ground_regions import Surface
from swatchread.ground.segmentation import Blob
from swatchread.photo import opencv as cv2
from swatchread.photo.masks import Mask, put
from swatchread.plane.lab_image import LabImage

# Measured on development scenes. Lengths are in half-widths of a swatch.

_LEAST_IN_LINE, _MOST_OF_LINE = 2, 0.5
"""Swatches that a new line must show: their number, and their share of its cells."""

_MOST_ALONE = 3
"""In a line of up to so many cells a single swatch will do, if it is one without doubt."""

_ALONE, _ALONE_OFF_PLACE, _ALONE_ROUGH = (0.7, 1.4), 0.35, 0.35
"""Such a swatch's half-width, how far off its cell's middle it may lie, and how rough it may be: writing is rougher."""

_ALONE_WITHIN, _SURROUNDED = 1.25, 0.9
"""How far the card must go on round it, or the share of the ring round it that must show the card's ground."""

_FINE = 14.0
"""Half-width of a swatch, pixels, at which the surroundings are looked at."""

_BLUR, _LEAST_BLUR = 0.2, 0.8
"""Blur that smooths their colours; in pixels at least."""

_NEAREST = 4
"""Swatches beside which the ground's colour is taken."""

_LEAST_BARE = 20
"""Pixels of ground beside a swatch that tell its colour."""

_TINT = 5.0
"""How far the ground's a* and b* may go astray, CIELAB units."""

_LIGHT = (0.72, 1.4)
"""L* + 16 of the ground by a cell over that beside the nearest swatches, at least and at most."""

_ROUGH, _LEAST_OFF = 2.0, 2.0
"""Known ground differs from the card's field by less than so many times its noise, or CIELAB units."""


def fill_missing_cells(surface: Surface, image: LabImage, grid: Grid) -> list[Blob]:
    """Look for paint in the empty cells of a grid, in lines that it skips, and one step beyond its ends.

    Parameters
    ----------
    surface : Surface
    image : LabImage
        The whole plane's colours.
    grid : Grid

    Returns
    -------
    list of Blob
    """
    if len(grid.cells) < 2:
        return []
    radius = grid.radius
    gaps = missing_cells(grid)
    if not len(gaps.centres):
        return []
    around = _Surroundings.of(surface, image, grid, gaps.centres, radius)
    paint = [around.paint(place, int(beyond)) for place, beyond in zip(gaps.centres, gaps.beyond, strict=True)]
    found: list[Blob] = []
    for side in np.unique(gaps.beyond):
        line = np.flatnonzero(gaps.beyond == side)
        seen = [blob for k in line if (blob := paint[k]) is not None]
        if seen and not (settings().gaps_within if side == 0 else settings().gaps_beyond):
            continue
        least = min(_LEAST_IN_LINE, len(line)) if side >= SKIPPED else _LEAST_IN_LINE
        if side == 0 or len(seen) >= max(least, _MOST_OF_LINE * len(line)):
            found += seen
        elif seen and len(line) <= _MOST_ALONE:
            near = [blob for k in line if (blob := paint[k]) is not None and _in_place(blob, gaps.centres[k], radius)]
            even = (blob for blob in with_texture(near, surface, image) if blob.rough <= _ALONE_ROUGH)
            found += [blob for blob in even if _within_card(blob, surface, radius) or around.surrounded(blob.centre)]
    return found


def _in_place(blob: Blob, place: Floats, radius: float) -> bool:
    """Tell whether paint has a swatch's size and lies in the middle of its cell."""
    off = float(np.linalg.norm(blob.centre - place))
    return _ALONE[0] < blob.radius / radius < _ALONE[1] and off < _ALONE_OFF_PLACE * radius


def _within_card(blob: Blob, surface: Surface, radius: float) -> bool:
    """Tell whether the card, as far as it is known, goes on all round some paint."""
    x, y = np.rint(blob.centre).astype(int) - surface.box[:2]
    reach = round(_ALONE_WITHIN * radius)
    h, w = surface.card.shape
    if x < reach or y < reach or x >= w - reach or y >= h - reach:
        return False
    around = surface.card[y - reach : y + reach + 1, x - reach : x + reach + 1]
    gy, gx = np.mgrid[-reach : reach + 1, -reach : reach + 1]
    return bool(around[gx**2 + gy**2 <= reach**2].all())


@dataclass(frozen=True, eq=False)
class _Surroundings:
    """A grid with its surroundings, at a size at which swatches are some thirty pixels wide.

    Attributes
    ----------
    corner : ndarray, shape (2,)
        Of the arrays below, in the plane.
    step : int
        Pixels of the plane to one of the arrays.
    colours : ndarray, shape (h, w, 3)
        8-bit CIELAB levels, smoothed.
    free : ndarray, shape (h, w), bool
        In the photo, and neither on the chart nor on a swatch.
    painted : ndarray, shape (h, w), bool
        Swatches.
    quiet : ndarray, shape (h, w), bool
        Known to be the card's ground.
    centres, grounds : ndarray, shape (n, 2), (n, 3)
        Swatches, in pixels of the arrays, and the colour of the ground beside each.
    radius : float
        Usual half-width of a swatch, pixels of the arrays.
    tint : float
        How far the ground's a* and b* may go astray, CIELAB units.
    """

    corner: npt.NDArray[np.int64]
    step: int
    colours: npt.NDArray[np.float32]
    free: Mask
    painted: Mask
    quiet: Mask
    centres: Floats
    grounds: Floats
    radius: float
    tint: float

    @classmethod
    def of(cls, surface: Surface, image: LabImage, grid: Grid, places: Floats, radius: float) -> _Surroundings:
        """Cut the surroundings of a grid out of the plane."""
        step = max(1, int(radius / _FINE))
        centres = np.array([c.blob.centre for c in grid.cells])
        every = np.concatenate([centres, places])
        size = np.array(image.outside.shape[::-1])
        low = np.clip(np.floor(every.min(axis=0) - 3 * radius), 0, size - 1).astype(np.int64)
        high = np.clip(np.ceil(every.max(axis=0) + 3 * radius), low + 1, size).astype(np.int64)
        high = low + np.maximum((high - low) // step, 1) * step
        part = slice(low[1], high[1]), slice(low[0], high[0])
        outside = image.outside[part]
        painted = np.zeros(outside.shape, dtype=bool)
        for cell in grid.cells:
            put(painted, cell.blob.mask, np.array(cell.blob.corner) - low)
        ground = np.zeros(outside.shape, dtype=bool)
        still = surface.card & (surface.off < max(_ROUGH * surface.noise + 0.5, _LEAST_OFF))
        put(ground, still, np.array(surface.box[:2]) - low)
        middle = slice(step // 2, None, step), slice(step // 2, None, step)
        painted, ground, outside = (mask[middle] for mask in (painted, ground, outside))
        ground &= ~painted
        radius = radius / step
        centres = (centres - low - (step - 1) / 2.0) / step
        small = cv2.resize(image.lab[part], painted.shape[::-1], interpolation=cv2.INTER_AREA).astype(np.float32)
        colours = cv2.GaussianBlur(small, (0, 0), max(_LEAST_BLUR, _BLUR * radius))
        usual = np.median(colours[ground] if ground.any() else colours[~painted], axis=0)
        grounds = [_ground_beside(colours, ground, centre, radius) for centre in centres]
        known = np.array([usual if one is None else one for one in grounds], dtype=np.float64)
        tint = max(_TINT, 1.5 * surface.noise)
        return cls(low, step, colours, ~outside & ~painted, painted, ground, centres, known, radius, tint)

    def paint(self, place: Floats, beyond: int) -> Blob | None:
        """Return the paint at a place by its difference from the ground round it; None where there is none.

        `beyond` tells where the place is, as in `GridGaps`: beyond the grid's ends paint must be clearer.
        """
        part, cell = self._neighbourhood(place)
        seen = None if cell is None else cell.paint(in_gap=beyond == 0 or beyond >= SKIPPED)
        if seen is None:
            return None
        mask, colour, off = seen
        whole = np.repeat(np.repeat(mask, self.step, axis=0), self.step, axis=1)
        x, y = (np.array([part[1].start, part[0].start]) * self.step + self.corner).tolist()
        return blob_of_paint(whole, (x, y), colour, off)

    def surrounded(self, place: Floats) -> bool:
        """Tell whether the card's ground goes on all round a place."""
        cell = self._neighbourhood(place)[1]
        return cell is not None and cell.around > _SURROUNDED

    def _neighbourhood(self, place: Floats) -> tuple[tuple[slice, slice], CellNeighbourhood | None]:
        """Return the neighbourhood of a place and the part of the arrays that it is; None at their end."""
        h, w = self.free.shape
        at = (place - self.corner - (self.step - 1) / 2.0) / self.step
        reach = REACH * self.radius
        low = np.maximum(np.floor(at - reach), 0).astype(np.int64)
        high = np.minimum(np.ceil(at + reach) + 1, [w, h]).astype(np.int64)
        part = slice(int(low[1]), int(high[1])), slice(int(low[0]), int(high[0]))
        if (high - low < self.radius).any() or not (0 <= at[0] < w and 0 <= at[1] < h):
            return part, None
        gy, gx = np.mgrid[part]
        x, y = (gx - at[0]) / self.radius, (gy - at[1]) / self.radius
        expected = self._ground_at(at)
        colours, free = self.colours[part], self.free[part]
        like = alike_in_light(colours, expected, self.tint, _LIGHT) & free
        ground = _joined(like, self.quiet[part])
        return part, CellNeighbourhood(x, y, colours, free, self.painted[part], ground, expected)

    def _ground_at(self, place: Floats) -> Floats:
        apart = ((self.centres - place) ** 2).sum(axis=1)
        nearest = np.argsort(apart)[:_NEAREST]
        weight = 1.0 / (apart[nearest] + 1.0)
        mean: Floats = (weight[:, None] * self.grounds[nearest]).sum(axis=0) / weight.sum()
        return mean


def _ground_beside(colours: npt.NDArray[np.float32], ground: Mask, centre: Floats, radius: float) -> Floats | None:
    """Return the colour of the ground beside a swatch; None where none is seen."""
    reach = (RING[1] + 0.5) * radius
    low = np.maximum(np.floor(centre - reach), 0).astype(int)
    high = np.ceil(centre + reach).astype(int) + 1
    part = slice(low[1], high[1]), slice(low[0], high[0])
    bare = colours[part][ground[part]]
    return np.median(bare, axis=0) if len(bare) > _LEAST_BARE else None


def _joined(like: Mask, known: Mask) -> Mask:
    """Return those pieces of what looks like ground that are connected with known ground."""
    _, labels = cv2.connectedComponents(like.astype(np.uint8), connectivity=4)
    chosen = np.zeros(int(labels.max()) + 1, dtype=bool)
    chosen[labels[known & like]] = True
    chosen[0] = False
    joined: Mask = chosen[labels]
    return joined
