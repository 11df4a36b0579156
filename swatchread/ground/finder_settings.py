"""The settings of the card finder: what chooses a card, and its rules, each of which a bench can switch off."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass


@dataclass(frozen=True)
class PaintSettings:
    """What is painted on a ground, and how areas that touch are parted. Set on drawn scenes, as all that follows."""

    least_off: float = 2.0
    """Difference from the ground from which a pixel counts as painted, CIELAB units."""
    over_noise: float = 3.7
    """The same in the ground's own noise."""
    thin: float = 0.42
    """Share of the usual half-width below which a mark is writing and not paint."""
    least_radius: float = 2.5
    """Half-width, pixels, below which a mark does not tell the usual one."""
    core: float = 0.4
    """An area's colour, and its detail, are taken where it is deeper than this share of its greatest depth."""
    most: float = 0.75
    """Share of an area that must lie in a box to stand for the whole."""
    ring: tuple[int, int] = (7, 13)
    """Sides of the squares, pixels, between which the surroundings of an area are looked at."""
    seam: int = 14
    """Edge strength, 8-bit levels, that separates two paints."""
    least_part: float = 0.3
    """Share of the usual part's area below which a part is a rim or a brush mark."""
    compact: float = 1.35
    """Length over breadth above which two or three swatches may touch in a row."""
    seed: float = 0.45
    """Share of the usual half-width that the core of a swatch has."""
    least_seed: float = 2.0
    """Half-width, pixels, below which a flat piece is no core."""


@dataclass(frozen=True)
class GridSettings:
    """Which painted areas may be swatches, and how they are put into rows and columns."""

    least_radius: float = 0.5
    """Half-width of a swatch over the usual one, at least."""
    sharp: float = 0.5
    """How sharp a swatch's outline is."""
    solid: float = 0.72
    """The share of its hull that a swatch fills."""
    border: float = 0.3
    """Share of a swatch's outline that may lie on the card's edge: on one of 100 drawn cards a cloth has 86 that do."""
    off_line: float = 0.35
    """Distance from its lines at which a swatch counts little, in extents of a swatch."""
    apart: float = 0.5
    """Share of a swatch's usual extent by which lines must lie apart."""
    most_steps: int = 4
    """A gap between lines may hold skipped lines if it is up to so many steps wide."""
    off_step: float = 0.3
    """It must be so near a whole number of steps."""


@dataclass(frozen=True)
class WritingSettings:
    """Which marks are writing. Roughness is that of `Blob.rough`, usual the median over all marks."""

    nearly_all: float = 0.25
    """Quantile of a line's marks that is looked at: writing takes nearly all of a line."""
    rough: float = 0.18
    """Roughness of a line of writing over that of the smoother marks: of 14,400 swatches two stood in such lines."""
    narrow: float = 0.67
    """Half-width of a line of writing over the usual one: pale paint is seen smaller than it is."""
    sparse: float = 0.15
    """Power with which a line's share of the usual number of marks multiplies that: sparse lines are writing sooner."""
    spread: float = 0.3
    """Width of the blur that takes detail away, in half-widths of a swatch."""
    glint: float = 4.0
    """A glint is lighter than its area by so many of that area's usual deviations."""
    enough: int = 400
    """Pixels along a side of the bare ground that tell its grain."""


@dataclass(frozen=True)
class GapSettings:
    """What lies in the empty places of a grid. Lengths are in half-widths of a swatch, differences in CIELAB units."""

    weights: tuple[float, ...] = (2.1, -2.9, -5.5, -1.6, -2.3)
    """Weights of what differs from the ground there, in the order of `gap_filling`: fitted on 200 drawn scenes, as by
    `python -m tests.bench.gap_choice`, where a cut counted up to 3, and rounded."""
    bias: float = -0.1
    """Log odds of a swatch where all these are 0: less than fitted, for a false swatch costs more than a lost one."""
    empty: float = -2.0
    """Log odds that a place without a trace, at least, adds to those of its line beyond the grid's ends."""
    most_off: float = 4.0
    """Difference from the ground from which it counts no more."""
    fine: float = 14.0
    """Half-width of a swatch, pixels, at which the surroundings are looked at."""
    blur: float = 0.2
    """Blur that smooths their colours."""
    around: float = 3.0
    """Half the side of the square round a place in which the ground tells its colour there."""
    quiet: float = 2.0
    """Known ground differs from the card's field by less than so many times its noise, and CIELAB units at least."""
    tint: float = 5.0
    """How far the ground's a* and b* may go astray."""
    core: float = 0.55
    """Radius of the middle of a place, which tells the paint's colour."""
    ring: tuple[float, float] = (1.3, 1.75)
    """Radii between which the ground is seen."""
    reach: float = 1.9
    """Radius up to which paint is looked for."""
    held: float = 0.03
    """Weight of the expected colour of the ground, over that of a ring that shows nothing else."""
    near: float = 0.5
    """How far a pixel may differ from the paint, as a share of the paint's own difference."""
    grain: float = 2.0
    """How much further it may differ."""
    smooth: float = 0.25
    """Radius of the disc that smooths the paint's outline."""


@dataclass(frozen=True)
class SightSettings:
    """What is seen along lines between swatches and beyond them. Lengths are in half-widths of a swatch."""

    tint: float = 5.0
    """Difference in a* and b* that ground may show against ground, CIELAB units."""
    light: float = 0.07
    """Share of L* + 16 by which ground may be darker or lighter than beside the swatches."""
    lights: tuple[float, float] = (0.1, 0.9)
    """Quantiles that stand for the darkest and lightest ground beside the swatches."""
    enough: int = 5_000
    """Pixels of ground that are enough."""
    spacing: float = 0.2
    """Distance between lines."""
    margin: float = 1.5
    """How far beyond the middles of the outer swatches lines are drawn."""
    thin: float = 0.12
    """Breadth up to which something else does not end the view: a hair, a thin pencil line."""
    least_thin: float = 2.0
    """The same at least, pixels: noise, and the blur of the picture."""
    rim: float = 1.15
    """Where lines begin outside a swatch, in its half-extents: its rim may be ragged."""
    least_lines: int = 5
    """Fewest lines from which anything is told."""
    reach: float = 1.5
    """How far beyond its swatches a card is followed, in steps from one row or column to the next."""
    farthest: float = 0.9
    """Quantile of the lines at which a card ends, because writing ends some before."""
    ground: float = 0.5
    """Share of the space between two rows that shows the card's ground at least. Of 2,700 such spaces on simulated
    cards none showed less than 0.57 or was cut by something else from end to end; of 5 between two cards on another
    table 4 were cut, and one showed 0.1."""
    wide: float = 1.6
    """How many usual steps apart two cards may lie so that a faint edge parts them."""
    loose: float = 0.93
    """Order of each swatch below which a wide step parts two cards that lie at different turns: 0.92 and less on two
    scans."""
    far: float = 3.0
    """Usual steps from which it is such a step: 3.4 and more there. Of 110 single cards one had a step beyond 2.1, in
    an order of 0.97."""
    edge: float = 1.8
    """Step of colour that is a card's edge on a table of its colour, CIELAB units: 2.6 to 6.5 in four simulated photos,
    and up to 1.04 where the photo ended on the card."""
    windows: int = 8
    """Parts of the way to the photo's end over which the colours on both sides of a step are averaged."""
    bundles: int = 3
    """Bundles into which the lines are parted for that."""


@dataclass(frozen=True)
class FinderSettings:
    """What the finder chooses by. Scores are log odds that a region is the ground of a card.

    Weights come from `python -m tests.bench.card_choice`, thresholds from drawn scenes with and without cards. A rule
    is looked up only where it would change something, so that the finding bench can tell from the look-ups which rules
    a photo needs.
    """

    # The choice of a card
    card_weights: tuple[float, ...] = (1.7, -7.0, -2.7, 3.4, 4.2, 1.4, -2.5, -5.0)
    """Weights of a candidate's features, in the order of `ranking`: fitted on 340 drawn scenes, and rounded. On 210
    others they yield as many swatches, and fewer false ones, than weights that are fitted on these."""
    card_bias: float = -1.4
    """Score of a candidate whose features are all 0."""
    least_score: float = 4.0
    """Score from which a candidate is looked at closely: of 100 cards that are chosen, 98 have 6 and more."""
    as_likely: float = 3.0
    """A candidate that shows more swatches than were found may have a score so much lower."""
    apart: float = 2.0
    """Log odds by which a candidate comes later for each pitch of the chart between it and the chart: a card to be read
    is laid beside the chart (common practice), pans and palettes stand anywhere."""
    most_apart: float = 4.0
    """Pitches from which a candidate comes no later for being further from the chart."""
    full_size_score: float = 7.0
    """Score from which a candidate counts that only the full size shows."""
    clear_rectangle: float = 3.0
    """Feature of the rectangle from which a card is sure to end where its region does: 0.97 of the rectangle filled."""
    # Where candidates come from
    cropped: bool = True
    """Regions that the photo or the chart cuts off are tried as cut to the surroundings of their swatches, too."""
    across_swatches: bool = True
    """Two pieces of one ground that fill a rectangle are tried as one: a swatch as broad as its card parts them."""
    between_patches: bool = True
    """Patches of one size are tried as swatches where hardly any ground shows."""
    full_size: bool = True
    """Where half the size shows no card, the full size is searched."""
    nearer: bool = True
    """A card of small swatches is looked at more closely, and where none was found what lies beside the chart."""
    halved: bool = True
    """Large swatches are looked at closely at half the size, which takes less time."""
    twins: bool = True
    """Swatches that repeat their colours, as a cloth's tiles do, make a card less likely."""
    printed: bool = True
    """A black panel of the chart is no card, and neither is the table under it."""
    # What is painted
    edge_marks: bool = True
    """Marks that only edges show count as painted."""
    texture: bool = True
    """The detail within each area is measured, by which writing is told."""
    small_lines: bool = True
    """A row or column of small marks is writing."""
    rough_lines: bool = True
    """A row or column of rough marks is writing."""
    alone: bool = True
    """A mark alone in its row and in its column is a stain."""
    gaps_within: bool = True
    """Paint is looked for in the grid's empty cells, by the ground round each."""
    gaps_beyond: bool = True
    """It is looked for one step beyond the grid's ends, and in lines that it skips."""
    # Where a card ends
    margin: bool = True
    """The margin round swatches that were found without their card's outline is added."""
    one_card_of_grid: bool = True
    """A grid that spans two cards is cut down to one."""
    # Their limits
    paint: PaintSettings = PaintSettings()
    grid: GridSettings = GridSettings()
    writing: WritingSettings = WritingSettings()
    gaps: GapSettings = GapSettings()
    sight: SightSettings = SightSettings()


_SETTINGS: ContextVar[FinderSettings] = ContextVar("finder_settings", default=FinderSettings())  # noqa: B039 - it is frozen


def settings() -> FinderSettings:
    """Return the settings that hold here: the usual ones, but within `using`."""
    return _SETTINGS.get()


@contextmanager
def using(other: FinderSettings) -> Iterator[None]:
    """Let other settings hold within a block, in this thread alone.

    Parameters
    ----------
    other : FinderSettings
    """
    token = _SETTINGS.set(other)
    try:
        yield
    finally:
        _SETTINGS.reset(token)
