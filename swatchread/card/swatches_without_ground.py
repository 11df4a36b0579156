"""Swatches by themselves: quiet patches of one size in rows and columns, where the ground between them is hardly seen.

On a card whose swatches nearly touch, or reach its edges, little is left of a quiet ground with holes; but each swatch
is a quiet patch, and what runs between them has one colour.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from swatchread.card.background import LAB_SCALE, Mask, Picture, in_its_light
from swatchread.card.card_candidates import Candidate, judged
from swatchread.card.grid import arrange
from swatchread.card.grid_outliers import connected
from swatchread.card.ground_regions import Region
from swatchread.card.lab_image import EdgeLevel, LabImage
from swatchread.card.segmentation import Blob, whole_blob
from swatchread.colour.cielab import Floats
from swatchread.colour.order import distinct, median, medians
from swatchread.photo import opencv as cv2

_LEAST_AREA = 40
_FULL = 0.55
_RIM = 2.0
_LONG = 2.6
_LEAST_CELLS = 4
_MOST_CELLS = 140
_OCTAVE = 2.0
_APART = 3.2
_INSIDE = 2
_OUTSIDE = 5
_TINT = 6.0
_LIGHT = 1.5
_LEAST_OFF = 2.5
_LEAST_SHARE = 0.25
_SHARE, _SHARE_OF_MANY = 0.7, 0.55
_MANY = 9
_ALIKE = 6.0
_LEAST_WORTH, _LEAST_WORTH_OF_BLURRED = 0.75, 0.8
_MARGIN = 3
_AMONG = 0.6
"""Breadth of a single row's inner part, in sides of a patch."""


@dataclass(frozen=True, eq=False)
class _Patch:
    """A quiet piece: its label in one of the cuts, its box, its area, and its middle."""

    cut: EdgeLevel
    index: int
    box: tuple[int, int, int, int]
    area: float

    @property
    def middle(self) -> Floats:
        """Centre of its box."""
        x, y, w, h = self.box
        return np.array([x + (w - 1) / 2.0, y + (h - 1) / 2.0])

    @property
    def side(self) -> float:
        """Of the square of its area, with the rim that the cut took."""
        return float(np.sqrt(self.area)) + _RIM


def patched(cuts: list[EdgeLevel], sheet: LabImage) -> list[Candidate]:
    """Return the places where quiet patches of one size stand together on one ground.

    Parameters
    ----------
    cuts : list of EdgeLevel
        The sheet's quiet pieces at several edge strengths, the weakest first.
    sheet : LabImage

    Returns
    -------
    list of Candidate
    """
    patches = _patches(cuts)
    found = []
    for group in _groups(patches):
        candidate = _candidate(group, sheet)
        if candidate is not None:
            found.append(candidate)
    return found


def _patches(cuts: list[EdgeLevel]) -> list[_Patch]:
    """Return the compact pieces of all cuts, each once, as large as it is seen."""
    patches = []
    for cut in cuts:
        x, y, w, h, area = (cut.stats[:, k] for k in range(5))
        long = np.maximum(w, h) > _LONG * np.minimum(w, h)
        fits = (area > _LEAST_AREA) & (area > _FULL * w * h) & ~long
        fits[0] = False
        patches += [
            _Patch(cut, int(k), (int(x[k]), int(y[k]), int(w[k]), int(h[k])), float(area[k]))
            for k in np.flatnonzero(fits)
        ]
    if not patches:
        return []
    patches.sort(key=lambda p: -p.area)
    x, y = np.array([p.middle for p in patches]).T
    sides = np.array([p.side for p in patches])
    kept: list[int] = []
    taken = np.zeros(len(patches), dtype=bool)
    for k in range(len(patches)):
        if taken[k]:
            continue
        kept.append(k)
        near = 0.3 * sides[k]
        taken |= (np.abs(x - x[k]) < near) & (np.abs(y - y[k]) < near) & (sides > 0.5 * sides[k])
    return [patches[k] for k in kept]


def _groups(patches: list[_Patch]) -> list[list[_Patch]]:
    """Return patches of about one size that lie close together."""
    if len(patches) < _LEAST_CELLS:
        return []
    sides = np.array([p.side for p in patches])
    middles = np.array([p.middle for p in patches])
    groups: list[list[_Patch]] = []
    known: set[frozenset[int]] = set()
    size = float(sides.min())
    while size < sides.max():
        chosen = np.flatnonzero((sides >= size) & (sides < _OCTAVE * size))
        size *= np.sqrt(_OCTAVE)
        if not _LEAST_CELLS <= len(chosen) <= 3 * _MOST_CELLS:
            continue
        apart = np.hypot(*np.moveaxis(middles[chosen][:, None] - middles[chosen], -1, 0))
        near = apart < _APART * (sides[chosen][:, None] + sides[chosen]) / 2.0
        block = connected(near)
        for label in distinct(block):
            members = frozenset(chosen[block == label].tolist())
            if _LEAST_CELLS <= len(members) <= _MOST_CELLS and members not in known:
                known.add(members)
                groups.append([patches[k] for k in members])
    return groups


def _candidate(group: list[_Patch], sheet: LabImage) -> Candidate | None:
    """Judge patches as a card's swatches; None where no one ground runs between them."""
    seen = [_Seen.of(patch, sheet) for patch in group]
    between = _between(group, sheet) & ~_painted(seen, sheet)
    inner = [s.ring[between[s.rows, s.columns]] for s in seen]
    around = np.concatenate(inner)
    if len(around) < 50:
        return None
    ground = _ground(around)
    share = np.array([_like(s.ring, ground).mean() if len(s.ring) else 0.0 for s in seen])
    off = np.array([float(np.linalg.norm((s.colour - ground) * LAB_SCALE)) for s in seen])
    good = [k for k in range(len(seen)) if share[k] > _LEAST_SHARE and off[k] > _LEAST_OFF]
    # In narrow gaps the paints blur into the ground; many that stand in order without doubt may show less of it.
    alike = float(_like(np.concatenate([inner[k] for k in good]), ground).mean()) if len(good) >= _LEAST_CELLS else 0.0
    if alike < (_SHARE if len(good) < _MANY else _SHARE_OF_MANY):
        return None
    colours = np.array([seen[k].colour for k in good]) * LAB_SCALE
    if median(np.linalg.norm(colours - medians(colours), axis=1)) < _ALIKE:
        return None  # tiles, or the keys of something: a card's swatches differ
    blobs = [whole_blob(seen[k].mask, seen[k].corner, seen[k].colour, float(off[k])) for k in good]
    cells = arrange(blobs).cells
    if len(cells) < _LEAST_CELLS:
        return None
    region = _region([c.blob for c in cells], ground, sheet)
    if region is None:
        return None
    # Judged with what had no place, too, which may lie outside the region.
    candidate = replace(judged(region, sheet, blobs), islands=tuple(cell.blob for cell in cells))
    least = _LEAST_WORTH if alike >= _SHARE else _LEAST_WORTH_OF_BLURRED
    return candidate if candidate.worth > least * candidate.cells else None


@dataclass(frozen=True, eq=False)
class _Seen:
    """A patch with the colours in it and round it, 8-bit CIELAB levels, and the places of those round it."""

    mask: Mask
    corner: tuple[int, int]
    colour: Floats
    ring: npt.NDArray[np.uint8]
    rows: npt.NDArray[np.intp]
    columns: npt.NDArray[np.intp]

    @classmethod
    def of(cls, patch: _Patch, sheet: LabImage) -> _Seen:
        """Look at a patch. The cut along its edge took a pixel of it."""
        x, y, w, h = patch.box
        x0, y0 = max(0, x - _OUTSIDE), max(0, y - _OUTSIDE)
        part = slice(y0, y + h + _OUTSIDE), slice(x0, x + w + _OUTSIDE)
        own = (patch.cut.labels[part] == patch.index).astype(np.uint8)
        contours, _ = cv2.findContours(own, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
        cv2.drawContours(own, contours, -1, 1, cv2.FILLED)
        mask = cv2.dilate(own, np.ones((3, 3), np.uint8))
        near = cv2.dilate(own, np.ones((2 * _INSIDE + 1, 2 * _INSIDE + 1), np.uint8))
        wide = cv2.dilate(own, np.ones((2 * _OUTSIDE + 1, 2 * _OUTSIDE + 1), np.uint8))
        seen = sheet.lab[part]
        rows, columns = np.nonzero((wide > 0) & (near == 0) & ~sheet.outside[part])
        colour = medians(seen[own > 0])
        left, top, wide_, high = cv2.boundingRect(mask)
        return cls(
            mask[top : top + high, left : left + wide_] > 0,
            (x0 + left, y0 + top),
            colour,
            seen[rows, columns],
            rows + y0,
            columns + x0,
        )


def _painted(seen: list[_Seen], sheet: LabImage) -> Mask:
    """Return what patches cover: beside one that nearly touches its neighbours lies mostly their paint."""
    area = np.zeros(sheet.shape, dtype=bool)
    for one in seen:
        (x, y), (h, w) = one.corner, one.mask.shape
        area[y : y + h, x : x + w] |= one.mask
    return area


def _between(group: list[_Patch], sheet: LabImage) -> Mask:
    """Return the area that patches have among them: beyond the outer ones a card may end."""
    middles = np.rint([p.middle for p in group]).astype(np.int32)
    broad = max(1, round(_AMONG * median([p.side for p in group])))
    hull = cv2.convexHull(middles)
    area = cv2.fillConvexPoly(np.zeros(sheet.outside.shape, np.uint8), hull, 1)
    return np.asarray(cv2.polylines(area, [hull], True, 1, broad) > 0)


def _ground(around: Picture) -> Floats:
    """Return the commonest colour round the patches."""
    sample = around[:: max(1, len(around) // 400)].astype(np.float64)
    scaled = sample * LAB_SCALE
    square = (scaled**2).sum(axis=1)
    close = square[:, None] + square - 2.0 * scaled @ scaled.T < (1.5 * _TINT) ** 2
    best = close[int(np.argmax(close.sum(axis=1)))]
    return medians(sample[best])


def _like(colours: Picture, ground: Floats) -> Mask:
    """Tell which colours can be the ground's under more or less light."""
    off, share = in_its_light(colours.astype(np.float64), ground)
    return np.asarray((off < _TINT) & (share > 1 / _LIGHT) & (share < _LIGHT))


def _region(cells: list[Blob], ground: Floats, sheet: LabImage) -> Region | None:
    """Return the ground between swatches as a region that holds them all."""
    corners = np.array([b.corner for b in cells])
    ends = corners + np.array([b.mask.shape[::-1] for b in cells])
    low = np.maximum(corners.min(axis=0) - _MARGIN, 0)
    high = np.minimum(ends.max(axis=0) + _MARGIN, sheet.outside.shape[::-1])
    w, h = (int(v) for v in high - low)
    painted = np.zeros((h, w), np.uint8)
    for blob in cells:
        x, y = blob.corner[0] - int(low[0]), blob.corner[1] - int(low[1])
        painted[y : y + blob.mask.shape[0], x : x + blob.mask.shape[1]] |= blob.mask.astype(np.uint8)
    near = cv2.dilate(painted, np.ones((2 * _MARGIN + 1, 2 * _MARGIN + 1), np.uint8))
    contours, _ = cv2.findContours(near, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_SIMPLE)
    hull = cv2.fillConvexPoly(np.zeros((h, w), np.uint8), cv2.convexHull(np.concatenate(contours)), 1)
    part = slice(int(low[1]), int(high[1])), slice(int(low[0]), int(high[0]))
    off = cv2.dilate(painted, np.ones((3, 3), np.uint8)) == 0
    bare = (hull > 0) & off & _like(sheet.lab[part], ground) & ~sheet.outside[part]
    if np.count_nonzero(bare) < 100:
        return None
    return Region(bare, (int(low[0]), int(low[1]), w, h), painted > 0)
