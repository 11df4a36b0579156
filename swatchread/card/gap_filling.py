"""Looking where rows and columns ask for a swatch: paint so near its ground that only its place gives it away."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from swatchread.card.background import Mask, in_its_light
from swatchread.card.cell_neighbourhood import REACH, RING, CellNeighbourhood, described
from swatchread.card.grid import Grid
from swatchread.card.grid_gaps import SKIPPED, missing_cells
from swatchread.card.ground_regions import Surface
from swatchread.card.lab_image import LabImage
from swatchread.card.segmentation import Blob
from swatchread.card.texture import with_texture
from swatchread.colour.cielab import Floats
from swatchread.colour.order import distinct, median, medians
from swatchread.photo import opencv as cv2

_MOST_SECTORS = 0.76
"""Share of a place's surroundings whose colours must agree, within a grid: writing may fill the rest."""

_LEAST_IN_LINE = 2
_MOST_OF_LINE = 0.5
_MOST_ALONE = 3
"""Swatches that a line where none stands must show: their number, and their share of its places; in lines of so few
places one will do that is a swatch without doubt."""

_ALONE = (0.7, 1.4)
_ALONE_OFF_PLACE = 0.35
_ALONE_ROUGH = 0.35
_ALONE_WITHIN = 1.25
_SURROUNDED = 0.9
"""What paint must be to make a line beyond the ends alone: its half-width, how far off its place it lies, and how far
within the card, in half-widths of a swatch, or how much of the ring round it shows the card's ground; and how rough,
for writing is rougher."""

_FINE = 14.0
_CALM = 0.2
_NEAREST = 4
_TINT = 5.0
_LIGHT, _OTHER_LIGHT = (0.72, 1.4), (0.45, 2.2)
"""How much lightness the ground may have by a place, over that beside the nearest swatches."""

_ROUGH = 2.0
_LEAST_OFF = 2.0


def fill_missing_cells(surface: Surface, sheet: LabImage, grid: Grid) -> list[Blob]:
    """Look for paint in the empty places of a grid, where a step between its lines is twice the others, and beyond.

    Parameters
    ----------
    surface : Surface
    sheet : LabImage
        The whole plane's colours.
    grid : Grid

    Returns
    -------
    list of Blob
    """
    if len(grid.cells) < 2:
        return []
    radius = median([c.blob.radius for c in grid.cells])
    places = missing_cells(grid)
    if not len(places.centres):
        return []
    view = _View.of(surface, sheet, grid, places.centres, radius)
    asked = [view.paint(place, int(beyond)) for place, beyond in zip(places.centres, places.beyond, strict=True)]
    found: list[Blob] = []
    for side in distinct(places.beyond):
        line = np.flatnonzero(places.beyond == side)
        seen = [blob for k in line if (blob := asked[k]) is not None]
        least = min(_LEAST_IN_LINE, len(line)) if side >= SKIPPED else _LEAST_IN_LINE
        if side == 0 or len(seen) >= max(least, _MOST_OF_LINE * len(line)):
            found += seen
        elif len(line) <= _MOST_ALONE:
            near = [blob for k in line if (blob := asked[k]) is not None and _in_place(blob, places.centres[k], radius)]
            even = (blob for blob in with_texture(near, surface, sheet) if blob.rough <= _ALONE_ROUGH)
            found += [blob for blob in even if _within_card(blob, surface, radius) or view.surrounded(blob.centre)]
    return found


def _in_place(blob: Blob, place: Floats, radius: float) -> bool:
    """Tell whether paint has a swatch's size and lies where one is asked for."""
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
class _View:
    """The surroundings of a grid, at a size at which swatches are some twenty pixels wide.

    Attributes
    ----------
    corner : ndarray, shape (2,)
        Of the arrays below in the plane.
    step : int
        Pixels of the plane to one of the arrays'.
    colours : ndarray, shape (h, w, 3)
        8-bit CIELAB levels, smoothed.
    free : ndarray, shape (h, w), bool
        In the photo, and neither chart nor swatch.
    painted : ndarray, shape (h, w), bool
        Swatches.
    quiet : ndarray, shape (h, w), bool
        Known as the card's ground.
    centres, grounds : ndarray, shape (n, 2), (n, 3)
        Swatches, in pixels of the arrays, and the colour of the ground beside each.
    radius : float
        Usual half-width of a swatch, pixels of the arrays.
    tint : float
        How far the ground's a* and b* go astray.
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
    def of(cls, surface: Surface, sheet: LabImage, grid: Grid, places: Floats, radius: float) -> _View:
        """Cut the surroundings of a grid out of the plane."""
        step = max(1, int(radius / _FINE))
        centres = np.array([c.blob.centre for c in grid.cells])
        every = np.concatenate([centres, places])
        size = np.array(sheet.outside.shape[::-1])
        low = np.clip(np.floor(every.min(axis=0) - 3 * radius), 0, size - 1).astype(np.int64)
        high = np.clip(np.ceil(every.max(axis=0) + 3 * radius), low + 1, size).astype(np.int64)
        high = low + np.maximum((high - low) // step, 1) * step
        part = slice(low[1], high[1]), slice(low[0], high[0])
        outside = sheet.outside[part]
        painted: Mask = np.zeros(outside.shape, dtype=bool)
        for cell in grid.cells:
            _put(painted, cell.blob.mask, np.array(cell.blob.corner) - low)
        ground: Mask = np.zeros(outside.shape, dtype=bool)
        still = surface.card & (surface.off < max(_ROUGH * surface.noise + 0.5, _LEAST_OFF))
        _put(ground, still, np.array(surface.box[:2]) - low)
        middle = slice(step // 2, None, step), slice(step // 2, None, step)
        painted, ground, outside = (np.asarray(mask[middle]) for mask in (painted, ground, outside))
        ground &= ~painted
        radius = radius / step
        centres = (centres - low - (step - 1) / 2.0) / step
        shape = np.array(painted.shape[::-1])
        small = cv2.resize(sheet.lab[part], (int(shape[0]), int(shape[1])), interpolation=cv2.INTER_AREA).astype(
            np.float32
        )
        colours = np.asarray(cv2.GaussianBlur(small, (0, 0), max(0.8, _CALM * radius)), dtype=np.float32)
        usual = medians(colours[ground] if ground.any() else colours[~painted])
        grounds = [_beside(colours, ground, centre, radius) for centre in centres]
        known = np.array([usual if one is None else one for one in grounds], dtype=np.float64)
        tint = max(_TINT, 1.5 * surface.noise)
        return cls(low, step, colours, ~outside & ~painted, painted, ground, centres, known, radius, tint)

    def paint(self, place: Floats, beyond: int) -> Blob | None:
        """Return the paint at a place, as it stands off the ground round it; more is asked of it beyond the grid.

        `beyond` tells where the place is, as in `Places`.
        """
        part, window = self._round(place, 1.0 if beyond else _MOST_SECTORS)
        if window is None:
            return None
        seen = window.paint(asked_for=beyond == 0 or beyond >= SKIPPED)
        if seen is None and beyond == 0:
            seen = window.covered() or self._elsewhere(window).paint()
        if seen is None:
            return None
        mask, colour, off = seen
        whole = np.repeat(np.repeat(mask, self.step, axis=0), self.step, axis=1)
        corner = np.array([part[1].start, part[0].start]) * self.step + self.corner
        return described(whole, corner, colour, off)

    def surrounded(self, place: Floats) -> bool:
        """Tell whether the card's ground goes on all round a place."""
        window = self._round(place, 1.0)[1]
        return window is not None and window.around > _SURROUNDED

    def _elsewhere(self, window: CellNeighbourhood) -> CellNeighbourhood:
        """Return a window whose ground lies in other light: a shadow's edge may have cut it off what is known."""
        like = _like(window.colours, window.expected, self.tint, _OTHER_LIGHT)
        return replace(window, ground=like & window.free & ~window.ground, agreeing=1.0)

    def _round(self, place: Floats, agreeing: float) -> tuple[tuple[slice, slice], CellNeighbourhood | None]:
        """Return the surroundings of a place, and which part of the view they are; none where that ends."""
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
        ground = _joined(_like(colours, expected, self.tint) & free, self.quiet[part])
        return part, CellNeighbourhood(x, y, colours, free, self.painted[part], ground, expected, agreeing)

    def _ground_at(self, place: Floats) -> Floats:
        apart = ((self.centres - place) ** 2).sum(axis=1)
        nearest = np.argsort(apart)[:_NEAREST]
        weight = 1.0 / (apart[nearest] + 1.0)
        return np.asarray((weight[:, None] * self.grounds[nearest]).sum(axis=0) / weight.sum())


def _put(into: Mask, mask: Mask, corner: npt.NDArray[np.int64]) -> None:
    """Add a mask to a larger one, less what lies beyond it."""
    x, y = (int(v) for v in corner)
    part = mask[max(0, -y) :, max(0, -x) :]
    x, y = max(0, x), max(0, y)
    view = into[y : y + part.shape[0], x : x + part.shape[1]]
    view |= part[: view.shape[0], : view.shape[1]]


def _beside(colours: npt.NDArray[np.float32], ground: Mask, centre: Floats, radius: float) -> Floats | None:
    """Return the colour of the ground beside a swatch; None where none is seen."""
    reach = (RING[1] + 0.5) * radius
    low = np.maximum(np.floor(centre - reach), 0).astype(int)
    high = np.ceil(centre + reach).astype(int) + 1
    part = slice(low[1], high[1]), slice(low[0], high[0])
    bare = colours[part][ground[part]]
    return medians(bare) if len(bare) > 20 else None


def _like(colours: npt.NDArray[np.float32], ground: Floats, tint: float, light: tuple[float, float] = _LIGHT) -> Mask:
    """Tell where the ground could lie, under so much less or more light."""
    off, share = in_its_light(colours, ground)
    return np.asarray((off < tint) & (share > light[0]) & (share < light[1]))


def _joined(like: Mask, known: Mask) -> Mask:
    """Return those pieces of what looks like ground that hang together with known ground."""
    _, labels = cv2.connectedComponents(like.astype(np.uint8), connectivity=4)
    chosen = np.zeros(int(labels.max()) + 1, dtype=bool)
    chosen[labels[known & like]] = True
    chosen[0] = False
    return np.asarray(chosen[labels])
