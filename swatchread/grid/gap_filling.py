"""Filling the gaps of a grid: paint that is so near its ground that only its place gives it away.

What differs from the ground in an empty cell is weighed into the log odds that it is a swatch.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from swatchread.colour.cielab import Floats
from swatchread.grid.cell_neighbourhood import CellNeighbourhood, Trace
from swatchread.grid.grid_gaps import missing_cells
from swatchread.grid.rejected_marks import with_texture
from swatchread.grid.swatch_grid import Grid
from swatchread.ground.background import in_its_light, lab_of
from swatchread.ground.ground_regions import Region, Surface
from swatchread.ground.segmentation import Blob
from swatchread.photo import opencv as cv2
from swatchread.photo.masks import Mask, dilated, put
from swatchread.photo.order_statistics import median
from swatchread.plane.finder_settings import settings
from swatchread.plane.lab_image import LabImage


@dataclass(frozen=True, eq=False)
class Gap:
    """A place of a grid where a swatch could lie although none was found.

    Attributes
    ----------
    centre : ndarray, shape (2,)
        Plane pixels.
    beyond : int
        Where it lies, as in `GridGaps`.
    blob : Blob or None
        What differs from the ground there.
    features : ndarray, shape (5,)
        What `score` is weighed from.
    """

    centre: Floats
    beyond: int
    blob: Blob | None
    features: Floats

    @property
    def score(self) -> float:
        """Log odds that a swatch lies there."""
        known = settings()
        return known.gaps.empty if self.blob is None else known.gaps.bias + float(self.features @ known.gaps.weights)


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
    known, gaps = settings(), gaps_of(surface, image, grid)
    found: list[Blob] = []
    for side in sorted({gap.beyond for gap in gaps}):
        line = [gap for gap in gaps if gap.beyond == side]
        paint = [gap.blob for gap in line if gap.blob is not None and gap.score > 0.0]
        # A line is there if its places together speak for it, the empty ones against it.
        there = side == 0 or sum(max(gap.score, known.gaps.empty) for gap in line) > 0.0
        if paint and there and (known.gaps_within if side == 0 else known.gaps_beyond):
            found += paint
    return found


def gaps_of(surface: Surface, image: LabImage, grid: Grid) -> list[Gap]:
    """Describe what lies in the places of a grid where swatches could lie although none was found.

    Parameters
    ----------
    surface : Surface
    image : LabImage
    grid : Grid

    Returns
    -------
    list of Gap
    """
    places = missing_cells(grid) if len(grid.cells) > 1 else None
    if places is None or not len(places.centres):
        return []
    around = _Surroundings.of(surface, image, grid, places.centres, grid.radius)
    traces = [around.trace(place) for place in places.centres]
    seen = with_texture([around.blob(*trace) for trace in traces if trace is not None], surface, image, grid.radius)
    gaps, rest = [], iter(seen)
    for trace, centre, side in zip(traces, places.centres, places.beyond.tolist(), strict=True):
        blob = None if trace is None else next(rest)
        features = np.zeros(5) if trace is None or blob is None else _features(trace[0], blob)
        gaps.append(Gap(centre, side, blob, features))
    return gaps


def _features(trace: Trace, blob: Blob) -> Floats:
    """Describe what was seen in a gap.

    The features are the logarithm of its difference from the ground, its distance from the cell's middle, how far its
    breadth is from a swatch's, how much of it is cut off, and its roughness.
    """
    off, breadth = np.log(np.clip(trace.off, 0.1, settings().gaps.most_off)), abs(np.log(max(trace.breadth, 0.05)))
    return np.array([off, trace.off_place, breadth, trace.cut, blob.rough])


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
        8-bit CIELAB levels, smoothed where they are free.
    free, end, quiet : ndarray, shape (h, w), bool
        Neither swatch nor chart; beyond the photo, or on the chart; known to be the card's ground.
    usual : ndarray, shape (3,)
        Colour of the ground, 8-bit CIELAB levels.
    radius : float
        Usual half-width of a swatch, pixels of the arrays.
    """

    corner: npt.NDArray[np.int64]
    step: int
    colours: npt.NDArray[np.float32]
    free: Mask
    end: Mask
    quiet: Mask
    usual: Floats
    radius: float

    @classmethod
    def of(cls, surface: Surface, image: LabImage, grid: Grid, places: Floats, radius: float) -> _Surroundings:
        """Cut the surroundings of a grid out of the plane."""
        known = settings().gaps
        step = max(1, int(radius / known.fine))
        every = np.concatenate([grid.centres, places])
        size = np.array(image.outside.shape[::-1])
        low = np.clip(np.floor(every.min(axis=0) - 3 * radius), 0, size - 1).astype(np.int64)
        high = np.clip(np.ceil(every.max(axis=0) + 3 * radius), low + 1, size).astype(np.int64)
        high = low + np.maximum((high - low) // step, 1) * step
        part = slice(low[1], high[1]), slice(low[0], high[0])
        painted, ground = np.zeros((2, *image.outside[part].shape), dtype=bool)
        for cell in grid.cells:
            put(painted, cell.blob.mask, np.array(cell.blob.corner) - low)
        still = surface.card & (surface.off < known.quiet * max(surface.noise, 1.0))
        put(ground, still, np.array(surface.box[:2]) - low)
        middle = slice(step // 2, None, step), slice(step // 2, None, step)
        painted, ground, end = (mask[middle] for mask in (painted, ground, image.outside[part]))
        painted = dilated(painted, 3)  # at its rim it is mixed with ground
        free = ~end & ~painted
        ground &= free
        small = cv2.resize(image.lab[part], painted.shape[::-1], interpolation=cv2.INTER_AREA).astype(np.float32)
        colours = _smoothed(small, free, known.blur * radius / step)
        usual = median(colours[ground] if ground.any() else colours[~painted], axis=0)
        return cls(low, step, colours, free, end, ground, usual, radius / step)

    def trace(self, place: Floats) -> tuple[Trace, tuple[int, int]] | None:
        """Return what differs from the ground round a place, and the corner of the arrays' part in which it lies."""
        known = settings().gaps
        h, w = self.free.shape
        at = (place - self.corner - (self.step - 1) / 2.0) / self.step
        part = self._part(at, known.reach)
        (top, bottom), (left, right) = ((s.start, s.stop) for s in part)
        if min(bottom - top, right - left) < self.radius or not (0 <= at[0] < w and 0 <= at[1] < h):
            return None
        gy, gx = np.mgrid[part]
        wide = self._part(at, known.around)
        bare = self.colours[wide][self.quiet[wide]]
        expected = median(bare, axis=0).astype(np.float64) if len(bare) else self.usual
        colours, free = self.colours[part], self.free[part]
        ground = _joined((in_its_light(colours, expected)[0] < settings().ground.tint) & free, self.quiet[part])
        x, y = (gx - at[0]) / self.radius, (gy - at[1]) / self.radius
        trace = CellNeighbourhood(x, y, colours, free, self.end[part], ground, expected).trace()
        return None if trace is None else (trace, (left, top))

    def blob(self, trace: Trace, corner: tuple[int, int]) -> Blob:
        """Describe a trace as other painted areas are described."""
        whole = np.repeat(np.repeat(trace.mask, self.step, axis=0), self.step, axis=1)
        x, y = (np.array(corner) * self.step + self.corner).tolist()
        region = Region.of(whole, (x, y))
        return Blob.of(region.bare, region.box[:2], lab_of(trace.colour), trace.off)

    def _part(self, at: Floats, reach: float) -> tuple[slice, slice]:
        """Return the part of the arrays within reach of a place."""
        low = np.maximum(np.floor(at - reach * self.radius), 0).astype(np.int64)
        high = np.minimum(np.ceil(at + reach * self.radius) + 1, self.free.shape[::-1]).astype(np.int64)
        return slice(int(low[1]), int(high[1])), slice(int(low[0]), int(high[0]))


def _smoothed(colours: npt.NDArray[np.float32], free: Mask, blur: float) -> npt.NDArray[np.float32]:
    """Smooth the colours of free places by one another alone: paint beside them would look like a step of colour."""
    share = cv2.GaussianBlur(free.astype(np.float32), (0, 0), blur)
    spread = cv2.GaussianBlur(colours * free[..., None], (0, 0), blur)
    smooth: npt.NDArray[np.float32] = np.where(free[..., None], spread / np.maximum(share, 1e-6)[..., None], colours)
    return smooth


def _joined(like: Mask, known: Mask) -> Mask:
    """Return those pieces of what looks like ground that are connected with known ground."""
    _, labels = cv2.connectedComponents(like.astype(np.uint8), connectivity=4)
    chosen = np.zeros(int(labels.max()) + 1, dtype=bool)
    chosen[labels[known & like]] = True
    chosen[0] = False
    joined: Mask = chosen[labels]
    return joined
