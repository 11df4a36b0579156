"""Swatches found by themselves: quiet patches of one size in rows and columns, where their ground is hardly seen.

On a card whose swatches nearly touch, or reach its edges, little is left of a quiet ground with holes. But each swatch
is a quiet patch, and what runs between them has one colour.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from swatchread.colour.cielab import Floats
from swatchread.grid.swatch_grid import arrange
from swatchread.ground.background import LAB_SCALE, alike_in_light, lab_of
from swatchread.ground.ground_regions import Region
from swatchread.ground.segmentation import Blob
from swatchread.photo import masks
from swatchread.photo import opencv as cv2
from swatchread.photo.masks import Box, Mask, Picture, Places
from swatchread.photo.order_statistics import median
from swatchread.plane.finder_settings import settings
from swatchread.plane.lab_image import EdgeLevel, LabImage


@dataclass(frozen=True, eq=False)
class _Patch:
    """A quiet piece: its label at one of the edge levels, its box, and its area in pixels."""

    level: EdgeLevel
    index: int
    box: Box
    area: float

    @property
    def middle(self) -> Floats:
        """Centre of its box."""
        x, y, w, h = self.box
        return np.array([x + (w - 1) / 2.0, y + (h - 1) / 2.0])

    @property
    def side(self) -> float:
        """Side of the square of its area, with the rim that the edge took."""
        return float(np.sqrt(self.area)) + settings().patches.rim


def grounds_between_patches(levels: list[EdgeLevel], image: LabImage) -> list[tuple[Region, list[Blob]]]:
    """Return the places where quiet patches of one size stand together on one ground.

    Parameters
    ----------
    levels : list of EdgeLevel
        The image's quiet pieces at several edge strengths, the weakest first.
    image : LabImage

    Returns
    -------
    list of (Region, list of Blob)
        The ground between the patches, and the patches that stand in rows and columns.
    """
    return [found for group in _groups(_patches(levels)) if (found := _ground_between(group, image)) is not None]


def _patches(levels: list[EdgeLevel]) -> list[_Patch]:
    """Return the compact pieces of all levels, the largest of those that show the same patch."""
    patches, known = [], settings().patches
    for level in levels:
        w, h, area = (level.stats[:, k] for k in (2, 3, 4))
        long = np.maximum(w, h) > known.long * np.minimum(w, h)
        fits = (area > (2.0 * settings().ground.least_radius) ** 2) & (area > known.full * w * h) & ~long
        fits[0] = False
        patches += [
            _Patch(level, k, tuple(level.stats[k, :4].tolist()), float(area[k])) for k in np.flatnonzero(fits).tolist()
        ]
    if not patches:
        return []
    patches.sort(key=lambda p: -p.area)
    middles = np.array([p.middle for p in patches])
    sides = np.array([p.side for p in patches])
    kept: list[int] = []
    taken = np.zeros(len(patches), dtype=bool)
    along = np.argsort(middles[:, 0], kind="stable")  # a cloth has ten thousand: only those in a strip are looked at
    ends = np.searchsorted(middles[along, 0], middles[:, 0] + np.outer([-1, 1], known.same[0] * sides))
    for k in range(len(patches)):
        if taken[k]:
            continue
        kept.append(k)
        strip = along[ends[0, k] : ends[1, k]]
        near = (np.abs(middles[strip] - middles[k]) < known.same[0] * sides[k]).all(axis=1)
        taken[strip[near & (sides[strip] > known.same[1] * sides[k])]] = True
    return [patches[k] for k in kept]


def _groups(patches: list[_Patch]) -> list[list[_Patch]]:
    """Return patches of about one size that lie close together."""
    from scipy.sparse.csgraph import connected_components

    known, few, most = settings().patches, settings().few, settings().most_cells
    if len(patches) < few:
        return []
    sides = np.array([p.side for p in patches])
    middles = np.array([p.middle for p in patches])
    groups: list[list[_Patch]] = []
    taken: set[frozenset[int]] = set()
    size = float(sides.min())
    while size < sides.max():
        chosen = np.flatnonzero((sides >= size) & (sides < 2.0 * size))
        size *= np.sqrt(2.0)
        if not few <= len(chosen) <= 3 * most:
            continue
        apart = np.hypot(*np.moveaxis(middles[chosen][:, None] - middles[chosen], -1, 0))
        near = apart < known.apart * (sides[chosen][:, None] + sides[chosen]) / 2.0
        block = connected_components(near, directed=False)[1]
        for label in np.unique(block):
            members = frozenset(chosen[block == label].tolist())
            if few <= len(members) <= most and members not in taken:
                taken.add(members)
                groups.append([patches[k] for k in members])
    return groups


def _ground_between(group: list[_Patch], image: LabImage) -> tuple[Region, list[Blob]] | None:
    """Return the ground between patches, and those that are a card's swatches; None where no one ground is there."""
    seen, known = [_blob(patch, image) for patch in group], settings().patches
    rings = [_surroundings(blob, image) for blob in seen]
    # Much of what surrounds a patch that nearly touches others is their paint.
    between = _between(group, image) & ~_painted(seen, image)
    inner = [image.lab[ring][between[ring]] for ring in rings]
    if not sum(len(colours) for colours in inner):
        return None
    ground = _commonest(np.concatenate(inner))
    off = [float(np.linalg.norm(blob.lab - lab_of(ground))) for blob in seen]
    grounded = [_share_of_ground(image.lab[ring], ground) > known.least_share for ring in rings]
    good = [k for k in range(len(seen)) if grounded[k] and off[k] > settings().ground.least_off]
    if len(good) < settings().few:
        return None
    # In narrow gaps the paints blur into the ground. Many swatches in clear order may show less of it.
    share = _share_of_ground(np.concatenate([inner[k] for k in good]), ground)
    if share < known.share[len(good) >= known.many]:
        return None
    colours = np.array([seen[k].lab for k in good])
    if median(np.linalg.norm(colours - median(colours, axis=0), axis=1)) < known.alike:
        return None
    marks = [cell.blob for cell in arrange([replace(seen[k], off=off[k]) for k in good]).cells]
    if len(marks) < settings().few:
        return None
    region = _region(marks, ground, image)
    return None if region is None else (region, marks)


def _blob(patch: _Patch, image: LabImage) -> Blob:
    """Return a patch as a painted area, with its holes and with the pixel that the edge round it took."""
    x, y, w, h = patch.box
    left, top = max(0, x - 1), max(0, y - 1)
    part = slice(top, y + h + 1), slice(left, x + w + 1)
    own = (patch.level.labels[part] == patch.index).astype(np.uint8)
    cv2.drawContours(own, masks.outlines_of(own > 0), -1, 1, cv2.FILLED)
    colour = median(image.lab[part][own > 0], axis=0)
    return Blob.of(masks.dilated(own > 0, 3), (left, top), lab_of(colour), 0.0)


def _surroundings(blob: Blob, image: LabImage) -> tuple[Places, Places]:
    """Return the rows and columns of the pixels round a patch that the photo shows."""
    rows, columns = masks.ring_round(blob.mask, blob.corner, (3, 2 * settings().ground.rim + 1))
    inside = masks.lie_inside(rows, columns, image.shape)
    rows, columns = rows[inside], columns[inside]
    shown = ~image.outside[rows, columns]
    return rows[shown], columns[shown]


def _painted(patches: list[Blob], image: LabImage) -> Mask:
    """Return what patches cover, as a mask of the image."""
    area = np.zeros(image.shape, dtype=bool)
    for one in patches:
        masks.put(area, one.mask, one.corner)
    return area


def _between(group: list[_Patch], image: LabImage) -> Mask:
    """Return the area among patches: beyond the outer ones a card may end."""
    middles = np.rint([p.middle for p in group]).astype(np.int32)
    broad = max(1, round(settings().patches.among * float(median([p.side for p in group]))))
    hull = cv2.convexHull(middles)
    area = cv2.fillConvexPoly(np.zeros(image.outside.shape, np.uint8), hull, 1)
    return cv2.polylines(area, [hull], True, 1, broad) > 0


def _commonest(around: Picture) -> Floats:
    """Return the commonest colour round the patches."""
    sample = around[:: max(1, len(around) // 400)].astype(np.float64)
    scaled = sample * LAB_SCALE
    square = (scaled**2).sum(axis=1)
    apart = np.add.outer(square, square)
    apart -= 2.0 * scaled @ scaled.T
    close = apart < (1.5 * settings().ground.tint) ** 2
    best = close[int(np.argmax(close.sum(axis=1)))]
    middle: Floats = median(sample[best], axis=0)
    return middle


def _share_of_ground(colours: Picture, ground: Floats) -> float:
    """Return the share of some pixels whose colours could be the ground's."""
    return float(alike_in_light(colours, ground).mean()) if len(colours) else 0.0


def _region(cells: list[Blob], ground: Floats, image: LabImage) -> Region | None:
    """Return the ground between swatches as a region that holds them all."""
    painted = _painted(cells, image)
    hull = masks.hull_of(masks.dilated(painted, 2 * settings().patches.margin + 1))
    box = Region.of(hull).box
    part = masks.part_of(box)
    like = alike_in_light(image.lab[part], ground)
    bare = like & (hull & ~masks.dilated(painted, 3) & ~image.outside)[part]
    return Region(bare, box, painted[part]) if bare.any() else None
