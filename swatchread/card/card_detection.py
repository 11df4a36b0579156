"""Finding the card: the likeliest of all quiet surfaces on the table, once its swatches stand in rows and columns."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from swatchread.card.card_find import CardFind
from swatchread.card.card_view import CardView, grown, is_printed, spanning
from swatchread.card.other_cards import another_beside, largest_card
from swatchread.card.ranking import Candidate, rank_card_regions, same_ground, share_place, shows_swatches_of
from swatchread.errors import NoSwatchesError
from swatchread.grid.gap_filling import fill_missing_cells
from swatchread.grid.rejected_marks import with_texture
from swatchread.grid.swatch_grid import Grid, arrange
from swatchread.ground.ground_regions import Surface, surface_of
from swatchread.ground.segmentation import Blob, find_blobs, usual_radius
from swatchread.photo import opencv as cv2
from swatchread.photo.geometry import gap_between
from swatchread.photo.masks import holds, outline_points
from swatchread.photo.order_statistics import median
from swatchread.plane.finder_settings import settings
from swatchread.plane.lab_image import LabImage, edge_levels, lab_image_of
from swatchread.plane.rectification import Plane, look_nearer

FoundGrid = tuple[Surface, Grid, tuple[Blob, ...]]
"""A card's ground, its grid, and all that looks painted on it."""


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
    card = _found_in(plane)
    if card is None or (card.grid.radius * plane.resolution < settings().look.small * card.plane.resolution):
        card = _seen_nearer(plane, card) or card
    if card is None:
        name = plane.sample.find.photo.path.name
        raise NoSwatchesError(
            f"{name} shows the chart, but no card with swatches", "no even ground with painted areas stands out"
        )
    return card


def _seen_nearer(table: Plane, card: CardFind | None) -> CardFind | None:
    """Look nearer at a card, or beside the chart where there is none; return what shows more swatches, if anything."""
    known = settings().look
    nearer = look_nearer(table, None if card is None else card.outline) if settings().nearer else None
    again = None if nearer is None else _found_in(nearer)
    if again is None or card is None:
        return again
    one, other = (find.outline.astype(np.float32) for find in (card, again))
    same = cv2.pointPolygonTest(one, other.mean(axis=0).tolist(), False) >= 0
    same = same and cv2.contourArea(other) < known.larger * cv2.contourArea(one)
    more = again.grid.order > card.grid.order + known.more and again.score > card.score - known.less_likely
    return replace(again, alone=card.alone) if same and more else None


def _found_in(plane: Plane) -> CardFind | None:
    """Return the card that a plane shows, if it shows one."""
    full, known = lab_image_of(plane), settings()
    card = _likeliest_card(plane, full.halved(), full, known.least_score)
    # Swatches of a few pixels, seen at a slant or blurred, show at full size only. So does much that is no card.
    if card is None and known.full_size:
        card = _likeliest_card(plane, full, full, known.least_score + known.as_likely)
    return card


def _likeliest_card(plane: Plane, image: LabImage, full: LabImage, least: float) -> CardFind | None:
    """Return the likeliest card in an image of at least so many log odds; the full image shows its swatches better."""
    ranked = rank_card_regions(image, edge_levels(image), plane.resolution * image.shape[1] / full.shape[1])
    likely = [candidate for candidate in ranked if candidate.score > least]
    likely = _beside_chart_first(likely, plane, image)
    printed = [one for one in likely if is_printed(one, image, plane) and settings().printed]
    best: tuple[CardFind, Candidate] | None = None
    for candidate in likely:
        if any(candidate is panel or _shows_marks_of(candidate, panel) for panel in printed):
            continue
        if best is None or _shows_more(candidate, best[1], best[0].grid, likely):
            card = look_closely(candidate, ranked, plane, image, full)
            if card is not None and (best is None or card.grid.order > best[0].grid.order):
                best = card, candidate
    return None if best is None else best[0]


def _beside_chart_first(likely: list[Candidate], plane: Plane, image: LabImage) -> list[Candidate]:
    """Return candidates in the order of their scores, those later that lie apart from the chart.

    Pieces of one card are as near to it as the nearest of them.
    """
    scale, known = image.shape[1] / plane.outside.shape[1], settings()
    pitch = scale * plane.resolution
    gaps = []
    for one in likely:
        outline = cv2.convexHull(outline_points(one.region.whole))[:, 0] + one.region.box[:2]
        gaps.append(min(gap_between(outline, plane.chart_corners * scale) / pitch, known.most_apart))
    joined = [[same_ground(a, b) and share_place(a, b, pitch) for b in likely] for a in likely]
    for _ in likely:
        gaps = [min(gap for gap, near in zip(gaps, row, strict=True) if near) for row in joined]
    return [likely[k] for k in sorted(range(len(likely)), key=lambda k: gaps[k] * known.apart - likely[k].score)]


def look_closely(
    candidate: Candidate, others: list[Candidate], plane: Plane, image: LabImage, full: LabImage
) -> CardFind | None:
    """Look for the swatches of one candidate.

    Parameters
    ----------
    candidate : Candidate
    others : list of Candidate
        All that were judged.
    plane : Plane
    image : LabImage
        Where it was found.
    full : LabImage
        The plane's, at full size.

    Returns
    -------
    CardFind or None
        None where no swatches stand in rows and columns, or where they are no card's.
    """
    view, half = CardView.of(candidate, others, image), image is not full
    finer = half and (candidate.radius <= settings().look.broad or not settings().halved)
    view, scale = (view.doubled(full), 2) if finer else (view, 1)
    surface = surface_of(view.region, view.image)
    found = None if surface is None else find_grid(surface, view.image, view.marks, view.radius)
    if found is None or found[1].order < settings().least_order or len(found[1].cells) > settings().most_cells:
        return None
    whole = found[0] if view.margin is None or not settings().margin else grown(found[0], view.margin)
    surface, grid, spanned = largest_card(whole, found[1], view.image.lab)
    alone = not (spanned or another_beside(surface, grid, others, scale))
    plane = plane.halved() if half and not finer else plane
    score = candidate.score_with(grid, plane.resolution)
    return CardFind(plane, surface, grid, found[2], alone, score=score) if score > settings().least_score else None


def _shows_marks_of(candidate: Candidate, panel: Candidate) -> bool:
    """Tell whether most swatches of a candidate lie on a printed panel: then it is the table under that."""
    if same_ground(candidate, panel):
        return False  # else a dark piece of a large dark card would pass for a panel on it
    x, y, w, h = panel.region.box
    centres = candidate.grid.centres - [x, y]
    return bool(((centres > 0) & (centres < [w, h])).all(axis=1).mean() > 0.5)


def _shows_more(candidate: Candidate, best: Candidate, grid: Grid, likely: list[Candidate]) -> bool:
    """Tell whether a candidate nearly as likely as the best shows more swatches than were found there, in its place.

    It is of the same ground, a piece of the card or the whole; or it shows the same swatches and more, where the best
    has no outline of its own. Those of a clear rectangle that lies apart from the best are another card's.
    """
    known = settings()
    more = len(grid.cells) < known.few or candidate.grid.order > len(grid.cells)
    likely_enough = candidate.score > best.score - known.as_likely
    if not (more and likely_enough):
        return False
    if not best.outlined and shows_swatches_of(candidate, best):
        return True
    if not same_ground(candidate, best) or not share_place(candidate, best):
        return False
    cards = [one for one in likely if one.is_rectangle]
    return not any(share_place(candidate, one) and not share_place(best, one) for one in cards)


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
    on_card = [mark for mark in marks if holds(surface.card, mark.centre - surface.box[:2])]
    clipped = [mark for whole in on_card if (mark := whole.clipped(surface.box))]
    seen = find_blobs(surface, image.lab)
    blobs = with_texture(_merged(seen, clipped, radius, surface), surface, image)
    grid = arrange(blobs)
    if not grid.cells:
        return None
    for _ in range(settings().rounds):
        added = fill_missing_cells(surface, image, grid)
        others = [*blobs, *added]
        fuller = arrange(others)
        if len(fuller.cells) <= len(grid.cells):
            break
        grid, blobs = fuller, others
    return spanning(surface, grid, image.shape), grid, tuple(blobs)


def _stands_off(mark: Blob, surface: Surface) -> bool:
    """Tell whether a mark is more than a piece of the ground itself."""
    return bool(median(surface.off[mark.part(surface.box)][mark.mask]) > settings().marks.off * max(1.0, surface.noise))


def _merged(blobs: list[Blob], marks: list[Blob], usual: float, surface: Surface) -> list[Blob]:
    """Join the areas found by their colour and those found by their edges; of two that overlap the likelier is kept."""

    def likely(blob: Blob) -> float:
        return (1.0 - blob.border) * blob.solid * float(np.exp(-abs(np.log(blob.radius / usual))))

    known = settings().marks
    seen = [(likely(blob) + known.by_colour, blob) for blob in blobs]
    broad = [mark for mark in marks if known.narrow * usual < mark.radius < usual / known.narrow]
    fit = [mark for mark in broad if mark.solid > settings().grid.solid]
    if fit and settings().edge_marks:
        seen += [(likely(mark), mark) for mark in fit if _stands_off(mark, surface)]
    taken = np.zeros(surface.card.shape, dtype=bool)
    kept = []
    for _, blob in sorted(seen, key=lambda pair: -pair[0]):
        under = taken[blob.part(surface.box)]
        if float(np.count_nonzero(under & blob.mask)) < known.overlap * blob.area:
            under |= blob.mask
            kept.append(blob)
    return kept
