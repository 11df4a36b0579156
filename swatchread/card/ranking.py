"""Which quiet region is a card's ground: each is judged by what a card's ground looks like, and the best comes first.

What lies on a card is a hole of the card, not of the table: for the table the whole card is one hole. So a region's
holes, which may be swatches, tell the card from what is under it; its outline tells it from pieces of cloth or wood.
One weighted sum of a few such features is the log odds that a region is the ground of a card.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from swatchread.card.swatches_without_ground import grounds_between_patches
from swatchread.colour.cielab import Floats
from swatchread.grid.swatch_grid import Grid, arrange
from swatchread.ground.background import alike_in_light
from swatchread.ground.ground_regions import Region, find_regions
from swatchread.ground.region_holes import islands
from swatchread.ground.segmentation import Blob, hull_of_blobs
from swatchread.photo import masks
from swatchread.photo import opencv as cv2
from swatchread.photo.masks import Mask, Picture
from swatchread.photo.order_statistics import median
from swatchread.plane.finder_settings import settings
from swatchread.plane.lab_image import EdgeLevel, LabImage

RECTANGLE, CUT_OFF, ROUND_CHART, ORDER = 0, 1, 2, 5
"""Places among a candidate's features of how near it is to a rectangle, of the share that is cut off, of how far it
goes round the chart, and of the swatches' order: from there on they tell of the swatches."""


@dataclass(frozen=True, eq=False)
class Candidate:
    """A region as a card's ground.

    Attributes
    ----------
    region : Region
    islands : tuple of Blob
        Its holes that could be swatches.
    grid : Grid
        Of those that stand in rows and columns.
    ground : ndarray, shape (3,)
        Its colour, 8-bit CIELAB levels.
    features : ndarray, shape (8,)
        What `score` is weighed from.
    outlined : bool
        Whether the region's outline could be the card's; else it was drawn round swatches.
    """

    region: Region
    islands: tuple[Blob, ...]
    grid: Grid
    ground: Floats
    features: Floats
    outlined: bool = True

    @property
    def score(self) -> float:
        """Log odds that it is the ground of a card."""
        return _log_odds(self.features)

    def score_with(self, grid: Grid, pitch: float) -> float:
        """Return the same with the swatches that a closer look has found; `pitch` is that of the chart there, pixels.

        A cloth's tiles may pass for a card's swatches while they are few.
        """
        return _log_odds(np.array([*self.features[:ORDER], *_grid_features(grid, pitch)]))

    @property
    def is_rectangle(self) -> bool:
        """Whether its outline is clearly that of a card."""
        return bool(1.02 - np.exp(-self.features[RECTANGLE]) > settings().clear_rectangle)

    @property
    def radius(self) -> float:
        """Usual half-width of the swatches, pixels."""
        return self.grid.radius


def _log_odds(features: Floats) -> float:
    return settings().card_bias + float(features @ settings().card_weights)


def rank_card_regions(image: LabImage, levels: list[EdgeLevel], pitch: float) -> list[Candidate]:
    """Judge the quiet regions as a card's ground.

    Parameters
    ----------
    image : LabImage
    levels : list of EdgeLevel
        The image's.
    pitch : float
        Of the chart, pixels.

    Returns
    -------
    list of Candidate
        Those with holes in rows and columns, the likeliest first.
    """
    known = judged_regions(image, levels, pitch)
    much, few = settings().region.much_cut, settings().few
    cut = [one for one in known if one.features[CUT_OFF] > much and len(one.grid.cells) >= few]
    known += [cropped(one, image, pitch) for one in cut] if cut and settings().cropped else []
    known += _from_two_pieces(known, image, pitch) if settings().two_pieces else []
    known.sort(key=lambda one: -one.score)
    return known


def judged_regions(image: LabImage, levels: list[EdgeLevel], pitch: float) -> list[Candidate]:
    """Judge the quiet regions, and the grounds between patches, that show holes in rows and columns; see above."""
    judged = [judge(region, image, pitch) for region in find_regions(image, levels)]
    between = grounds_between_patches(levels, image) if settings().between_patches else []
    judged += [judge(region, image, pitch, marks) for region, marks in between]
    return [candidate for candidate in judged if 0 < len(candidate.grid.cells) <= settings().most_cells]


def _from_two_pieces(known: list[Candidate], image: LabImage, pitch: float) -> list[Candidate]:
    """Return pieces of one ground, two at a time, as one where a swatch or a shadow's edge parts them."""
    least = settings().least_score - settings().as_likely
    pieces = [one for one in known if one.outlined and one.score > least]
    pairs = ((one, other) for number, one in enumerate(pieces) for other in pieces[:number])
    return [both for one, other in pairs if (both := united(one, other, image, pitch)) is not None]


def united(one: Candidate, other: Candidate, image: LabImage, pitch: float) -> Candidate | None:
    """Return two pieces as one; None where they overlap, or do not fill a rectangle but for what parts a card."""
    if not same_ground(one, other):
        return None
    box = masks.box_round(one.region.box, other.region.box)
    bare, more = one.region.within(box), other.region.within(box)
    region = Region(bare | more, box)
    if (bare & more).any() or masks.share_of_rectangle(region.whole) < settings().clear_rectangle:
        return None
    between = Region(region.whole & ~masks.hull_of(bare) & ~masks.hull_of(more), box)
    return None if _is_table(between, region, image) else judge(region, image, pitch)


def _is_table(between: Region, region: Region, image: LabImage) -> bool:
    """Tell whether most of what lies between pieces of a ground has colours that are seen round them.

    Between two cards that lie in a row is the table. Between pieces of one are paint, or a shadow's edge.
    """
    limits = settings().region
    near, far = limits.rim
    box = masks.box_widened(region.box, far, image.shape)
    whole, shown = Region(region.whole, region.box).within(box), ~image.outside[masks.part_of(box)]
    around = masks.dilated(whole, 2 * far + 1) & ~masks.dilated(whole, 2 * near + 1) & shown
    colours = image.lab[masks.part_of(box)]
    table = np.bincount(_coarse(colours[around]), minlength=32**3)
    known = (table > limits.seen * table.sum())[_coarse(colours[between.within(box) & shown])]
    return bool(np.count_nonzero(known) >= 0.5 * len(known))


def _coarse(colours: Picture) -> npt.NDArray[np.int64]:
    """Return a number for each of some colours, the same for those that differ by less than about 8 levels."""
    numbers: npt.NDArray[np.int64] = (colours >> 3) @ np.array([1, 32, 1024])
    return numbers


def cropped(one: Candidate, image: LabImage, pitch: float) -> Candidate:
    """Return a region cut to the surroundings of its swatches: a table of the card's colour is one region with it."""
    region = one.region
    cells = hull_of_blobs([cell.blob for cell in one.grid.cells], region.box)
    around = Region.of(masks.dilated_by_disc(cells, settings().region.margin * one.radius), region.box[:2])
    part = Region(region.within(around.box) & around.bare, around.box)
    return replace(judge(part, image, pitch), outlined=False)


def judge(region: Region, image: LabImage, pitch: float, marks: list[Blob] | None = None) -> Candidate:
    """Describe a region as a card's ground.

    Parameters
    ----------
    region : Region
    image : LabImage
    pitch : float
        Of the chart, pixels.
    marks : list of Blob, optional
        Its holes, where they are known.

    Returns
    -------
    Candidate
    """
    found = islands(region, image) if marks is None else marks
    grid = arrange(found)
    features = _features(region, image, grid, pitch) if grid.cells else np.zeros(len(settings().card_weights))
    return Candidate(region, tuple(found), grid, _ground_of(region, image), features, region.painted is None)


def _features(region: Region, image: LabImage, grid: Grid, pitch: float) -> Floats:
    """Describe a region by its outline, and by its swatches.

    The features are how near it is to a rectangle, the share of its outline that is cut off, whether it goes round the
    chart, how bare its rim is, whether only patches showed it, logarithms of the swatches' order and of their size
    against the chart's patches, and how far they repeat their colours.
    """
    known = settings().region
    if region.painted is None:
        outline = _outline_features(region, image)
    else:  # a cloth goes on to the photo's end, but for the tiles that this cuts
        cut = _share_cut_off(region, region.whole, image, round(known.margin * grid.radius))
        outline = [0.0, cut, 0.0, 0.0, 1.0]
    return np.array([*outline, *_grid_features(grid, pitch)])


def _grid_features(grid: Grid, pitch: float) -> list[float]:
    known = settings().region
    size = float(np.log(max(grid.radius / pitch, known.size[0]) / known.size[1])) ** 2
    return [float(np.log(max(grid.order, known.no_order))), size, _twins(grid) if settings().twins else 0.0]


def _twins(grid: Grid) -> float:
    """Return how far the swatches repeat their colours, as the tiles of a cloth do: 0 for a card's, which differ."""
    colours = np.array([cell.blob.lab for cell in grid.cells])
    apart = np.linalg.norm(colours[:, None] - colours, axis=-1)
    np.fill_diagonal(apart, np.inf)
    nearest = float(median(apart.min(axis=1)))
    return float(np.log(np.clip(settings().ground.least_off / max(nearest, 0.1), 1.0, 20.0)))


def _outline_features(region: Region, image: LabImage) -> list[float]:
    whole, known = region.whole, settings().region
    outside = image.outside[masks.part_of(region.box)]
    chart = float(np.count_nonzero(outside & whole)) / float(np.count_nonzero(whole))
    round_chart = min(1.0, chart / known.round_chart)
    rim = _bare_rim(region.bare, whole & ~outside)
    rectangle = -float(np.log(np.clip(1.02 - masks.share_of_rectangle(whole), 0.01, 1.0)))
    return [rectangle, _share_cut_off(region, whole, image, settings().ground.rim), round_chart, rim, 0.0]


def _share_cut_off(region: Region, whole: Mask, image: LabImage, near: int) -> float:
    """Return the share of a region's outline that lies so near the end of the photo, or the chart, pixels."""
    x, y, w, h = region.box
    beyond = np.ones((h + 2 * near, w + 2 * near), dtype=bool)
    left, top = max(0, x - near), max(0, y - near)
    shown = image.outside[top : y + h + near, left : x + w + near]
    down, across = top - y + near, left - x + near
    beyond[down : down + shown.shape[0], across : across + shown.shape[1]] = shown
    rim = cv2.morphologyEx(masks.with_margin(whole, near), cv2.MORPH_GRADIENT, masks.square(3)) > 0
    ends = masks.dilated(beyond, 2 * near - 1)
    return float(np.count_nonzero(rim & ends) / max(1, int(np.count_nonzero(rim))))


def _bare_rim(bare: Mask, area: Mask) -> float:
    """Return 1 if an area has a rim of bare ground as a card has, and less if its outline cuts through marks."""
    away = cv2.distanceTransform(masks.with_margin(area, 1), cv2.DIST_C, 3)[1:-1, 1:-1]
    known = settings().region
    rim = (away > known.rim[0]) & (away <= known.rim[1])
    share = float(np.count_nonzero(bare & rim) / max(1, int(np.count_nonzero(rim))))
    return float(np.clip((share - known.bare[0]) / (known.bare[1] - known.bare[0]), 0.05, 1.0))


def _ground_of(region: Region, image: LabImage) -> Floats:
    """Return the colour of a region, 8-bit CIELAB levels, shape (3,)."""
    x, y, w, _ = region.box
    rows, columns = np.divmod(np.flatnonzero(region.bare)[::7], w)  # a part of its pixels is enough
    middle: Floats = median(image.lab[rows + y, columns + x], axis=0)
    return middle


def same_ground(one: Candidate, other: Candidate) -> bool:
    """Tell whether two regions could be one ground under more or less light: L* + 16, a* and b* scale alike."""
    return bool(alike_in_light(other.ground, one.ground))


def share_place(one: Candidate, other: Candidate, apart: float = 0.0) -> bool:
    """Tell whether the boxes of two regions meet, or lie up to so many pixels apart."""
    (x, y, w, h), (left, top, wide, high) = one.region.box, other.region.box
    beside = x < left + wide + apart and left < x + w + apart
    return beside and y < top + high + apart and top < y + h + apart


def shows_swatches_of(one: Candidate, other: Candidate) -> bool:
    """Tell whether most swatches of another candidate are swatches of one, too."""
    apart = np.linalg.norm(other.grid.centres[:, None] - one.grid.centres, axis=-1).min(axis=1)
    return bool((apart < other.radius).mean() > 0.5)
