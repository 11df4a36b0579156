"""Finding the card: of all quiet surfaces on the table, the one whose marks stand best in rows and columns."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from swatchread.card.card_candidates import Candidate, without_doubt
from swatchread.card.card_view import CardView, grown, is_printed, spanning
from swatchread.card.gap_filling import fill_missing_cells
from swatchread.card.grid import Grid, arrange
from swatchread.card.ground_regions import Surface, refine_background, surface_of
from swatchread.card.lab_image import EdgeLevel, LabImage, edge_levels, lab_image_of
from swatchread.card.masks import holds, outline_points, turned_rectangle
from swatchread.card.off_card_marks import off_card_marks
from swatchread.card.other_cards import another_beside, largest_card
from swatchread.card.ranking import rank_card_regions
from swatchread.card.rectification import Plane
from swatchread.card.rejected_marks import with_texture
from swatchread.card.segmentation import Blob, find_blobs, find_faint, usual_radius
from swatchread.card.settings import rules
from swatchread.colour.cielab import Floats
from swatchread.errors import NoSwatchesError
from swatchread.photo import opencv as cv2
from swatchread.photo.geometry import rotation

# Measured on development scenes.

_BROAD, _BROAD_IF_CLEAR = 20.0, 16.0
"""Half-width of swatches, pixels of the halved image, from which that shows them well enough; and where all its marks
stand in rows and columns at first sight."""

_RECTANGLE = 0.95
"""Share of its smallest rectangle that a card must fill if only the full size shows its swatches."""

_LEAST_ORDER = 0.8
"""Order of a grid at least: less is not even one swatch in its place."""

_NARROW = 0.6
"""A mark seen by its edges is at least as broad as this share of a swatch, and no broader than one over it."""

_BY_COLOUR = 0.05
"""Bonus to the likelihood of an area that was found by its colour and not only by its edges."""

_SOLID, _OFF, _OVERLAP = 0.85, 1.2, 0.2
"""A mark seen by its edges must fill this share of its hull, differ from the ground by so many CIELAB units, and
overlap no likelier area by more than this share."""

_ROUNDS = 4
"""Rounds of looking for paint in the empty places of the grid."""

FoundGrid = tuple[Surface, Grid, tuple[Blob, ...]]
"""A card's ground, its grid, and all that looks painted on it."""


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
    """

    plane: Plane
    surface: Surface
    grid: Grid
    seen: tuple[Blob, ...] = ()
    alone: bool = True
    turn_sure: bool = True

    @property
    def corners(self) -> Floats:
        """The card's corners in photo pixels, from its top left clockwise as the chart reads, shape (4, 2)."""
        x, y = self.surface.box[:2]
        box = turned_rectangle(self.surface.card).astype(np.float64) + [x, y]
        turned = (box - box.mean(axis=0)) @ rotation(self.grid.angle)
        order = np.argsort(np.arctan2(turned[:, 1], turned[:, 0]))
        return self.plane.photo_points(box[order])

    @property
    def outline(self) -> Floats:
        """The card's convex outline in photo pixels, shape (n, 2)."""
        points = cv2.convexHull(outline_points(self.surface.card))[:, 0].astype(np.float64)
        return self.plane.photo_points(points + self.surface.box[:2])


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
    full = lab_image_of(plane)
    half = full.halved()
    levels = edge_levels(half)
    for candidate, others in rank_card_regions(half, levels, plane.resolution / 2.0):
        if is_printed(candidate, half, plane) and rules().printed:
            continue
        view, coarse = CardView.of(candidate, others, half), _seen_well(candidate)
        view, scale = (view, 1) if coarse else (view.doubled(full), 2)
        if found := _found_in(view, levels, scale):
            return _one_card(plane.halved() if coarse else plane, found, view.image, others, scale)
    # Swatches of a few pixels, seen at a slant or blurred, show at full size only. So does much that is no card.
    levels = edge_levels(full)
    for candidate, others in rank_card_regions(full, levels, plane.resolution) if rules().full_size else ():
        clear = (
            without_doubt(candidate) and candidate.squareness > _RECTANGLE and not is_printed(candidate, full, plane)
        )
        if clear and (found := _found_in(CardView.of(candidate, others, full), levels, 1)):
            return _one_card(plane, found, full, others, 1)
    name = plane.sample.find.photo.path.name
    raise NoSwatchesError(
        f"{name} shows the chart, but no card with swatches", "no even ground with painted areas stands out"
    )


def _one_card(plane: Plane, found: FoundGrid, image: LabImage, others: list[Candidate], scale: int) -> CardFind:
    """Return one card of those that were found together; `scale` pixels of the image go to one of the candidates'."""
    surface, grid, spanned = largest_card(found[0], found[1], image.lab)
    return CardFind(plane, surface, grid, found[2], alone=not (spanned or another_beside(surface, grid, others, scale)))


def _found_in(view: CardView, levels: list[EdgeLevel], scale: int) -> FoundGrid | None:
    """Return the card and its swatches in a view, of whose pixels `scale` go to one of the edge levels."""
    found = _grid_in(view)
    if found is None or found[1].order < _LEAST_ORDER:
        return None
    surface, grid, seen = found
    whole = surface if view.margin is None or not rules().margin else grown(surface, view.margin)
    off = off_card_marks(grid, levels, scale)
    return whole, grid.without(off) if off and rules().off_card else grid, seen


def _seen_well(candidate: Candidate) -> bool:
    """Tell whether the halved image is fine enough for a card's swatches."""
    clear = without_doubt(candidate) and len(candidate.islands) == candidate.cells
    return candidate.radius > (_BROAD_IF_CLEAR if clear else _BROAD) and rules().halved


def _grid_in(view: CardView) -> FoundGrid | None:
    """Return the swatches of one region in rows and columns."""
    surface = surface_of(view.region, view.image)
    if surface is None:
        return None
    return find_grid(surface, view.image, view.marks, view.radius)


def find_grid(surface: Surface, image: LabImage, marks: list[Blob], radius: float | None = None) -> FoundGrid | None:
    """Look for a grid of swatches on a surface.

    Parameters
    ----------
    surface : Surface
    image : LabImage
    marks : list of Blob
        Painted areas that edges show, in the image's pixels.
    radius : float, optional
        Usual half-width of the swatches, pixels; measured where it is not known.

    Returns
    -------
    (Surface, Grid, tuple of Blob) or None
        The surface, described anew, what stands on it in rows and columns, and all that looks painted; None where
        nothing does.
    """
    radius = radius or usual_radius(surface)
    if radius is None:
        return None
    precise = refine_background(surface, image.lab, radius)
    on_card = [mark for mark in marks if holds(precise.card, mark.centre - precise.box[:2])]
    clipped = [mark for whole in on_card if (mark := whole.clipped(precise.box))]
    seen = find_blobs(precise, image.lab)
    blobs = with_texture(_merged(seen, clipped, radius, precise), precise, image)
    grid = arrange(blobs)
    if not grid.cells:
        return None
    faint = with_texture(find_faint(precise, image.lab, grid.radius, blobs), precise, image) if rules().faint else []
    grid = arrange(blobs, faint)
    for _ in range(_ROUNDS):
        added = with_texture(fill_missing_cells(precise, image, grid), precise, image)
        others = [*blobs, *added]
        fuller = arrange(others, faint)
        if len(fuller.cells) <= len(grid.cells):
            break
        grid, blobs = fuller, others
    return spanning(precise, grid, image.shape), grid, tuple(blobs)


def _stands_off(mark: Blob, surface: Surface) -> bool:
    """Tell whether a mark is more than a piece of the ground itself."""
    return bool(np.median(surface.off[mark.part(surface.box)][mark.mask]) > _OFF)


def _merged(blobs: list[Blob], marks: list[Blob], usual: float, surface: Surface) -> list[Blob]:
    """Join the areas found by their colour and those found by their edges; of two that overlap the likelier is kept."""

    def likely(blob: Blob) -> float:
        return (1.0 - blob.border) * blob.solid * float(np.exp(-abs(np.log(blob.radius / usual))))

    seen = [(likely(blob) + _BY_COLOUR, blob) for blob in blobs]
    fit = [mark for mark in marks if mark.solid > _SOLID and _NARROW * usual < mark.radius < usual / _NARROW]
    fit = [mark for mark in fit if _stands_off(mark, surface) or not rules().edge_marks_off]
    seen += [(likely(mark), mark) for mark in fit] if fit and rules().edge_marks else []
    taken = np.zeros(surface.card.shape, dtype=bool)
    kept = []
    for _, blob in sorted(seen, key=lambda pair: -pair[0]):
        under = taken[blob.part(surface.box)]
        if float(np.count_nonzero(under & blob.mask)) < _OVERLAP * blob.area:
            under |= blob.mask
            kept.append(blob)
    return kept
