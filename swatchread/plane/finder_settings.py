"""The settings of the card finder: what chooses a card, and its rules, each of which a bench can switch off."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass, field

from swatchread.plane.stage_settings import (
    GapSettings,
    GridSettings,
    GroundSettings,
    LookSettings,
    MarkSettings,
    PaintSettings,
    PatchSettings,
    WritingSettings,
)


@dataclass(frozen=True)
class RegionSettings:
    """How a region is described as the ground of a card."""

    much_cut: float = 0.3
    """Share of its outline that is cut off from which a region is tried as cropped to its swatches."""
    margin: float = 1.6
    """Breadth of the margin round them, in half-widths of a swatch."""
    size: tuple[float, float] = (0.05, 0.5)
    """Half-width of swatches in pitches of the chart: at least, and as a patch of the chart has it."""
    no_order: float = 0.05
    """Stands for the order of swatches in no order where its logarithm is taken."""
    round_chart: float = 0.03
    """Share of a region that the chart takes if the region goes round it."""
    bare: tuple[float, float] = (0.3, 0.65)
    """Share of its rim that is bare ground: up to the first a region has no rim, from the second on it has one."""
    rim: tuple[int, int] = (2, 6)
    """Depths between which a region's rim is looked at, and distances at which the table round it is, pixels."""
    seen: float = 0.01
    """Share of what is seen round two pieces from which a colour is one of the table's."""


@dataclass(frozen=True)
class ExtentSettings:
    """How far a card reaches, and what lies beside it. Lengths are in half-widths of a swatch."""

    around: float = 4.0
    """How far its margin may reach beyond its swatches."""
    rim: float = 0.2
    """A card reaches at least so far beyond a swatch."""
    black: tuple[float, float, float] = (38.0, 5.0, 8.0)
    """L* up to which a chart's frame is black plastic (in three real photos it was 16 to 33), how much lighter a panel
    of the chart may be, and chroma up to which it is black."""
    panel: float = 1.2
    """Area of a panel over that of the chart with its frame. A larger black card is taken for a card."""
    sure: float = 0.9
    """Marks beside a card are another card from this order of each."""
    near: float = 1.6
    """Distance of two marks of one group, over that of the nearest neighbour of one of them."""
    open: float = 0.12
    """Share of the lines of sight that reach the photo's end over ground alone, at least: a card's edge leaves none."""
    room: float = 0.8
    """Distance from a swatch's middle to the next one's, in half-extents less, at which the photo would show that."""
    no_room: float = 0.35
    """Steps from the outer swatches to the photo's end below which there is no room for a card's edge and a table."""


@dataclass(frozen=True)
class SightSettings:
    """What is seen along lines between swatches and beyond them. Lengths are in half-widths of a swatch."""

    light: float = 0.07
    """Share of L* + 16 by which ground may be darker or lighter than beside the swatches."""
    outliers: float = 0.1
    """Share of lines, or of the ground, that may be other than the rest: writing ends some lines of sight early."""
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
    """A candidate that shows more swatches than were found may have a score so much lower, and one that only the full
    size shows needs one so much higher."""
    apart: float = 2.0
    """Log odds by which a candidate comes later for each pitch of the chart between it and the chart: a card to be read
    is laid beside the chart (common practice), pans and palettes stand anywhere."""
    most_apart: float = 4.0
    """Pitches from which a candidate comes no later for being further from the chart."""
    clear_rectangle: float = 0.97
    """Share of the smallest rectangle round it that a card fills: tubes with the fields of their labels filled 0.92 to
    0.96 in four simulated photos, small cards 0.98 and more."""
    few: int = 4
    """Fewer swatches tell little of a grid, and tubes and pans may show as many: some rules do not trust them, and
    every candidate that could be the same card is looked at."""
    least_order: float = 0.8
    """Order of a grid at least: less is not even one swatch in its place."""
    most_cells: int = 100
    """Swatches of a card at most. Marks in more places are a pattern."""
    rounds: int = 4
    """Rounds of looking for paint in the empty places of the grid."""
    # Where candidates come from
    cropped: bool = True
    """Regions that the photo or the chart cuts off are tried as cut to the surroundings of their swatches, too."""
    two_pieces: bool = True
    """Two pieces of one ground that fill a rectangle are tried as one: a swatch as broad as its card, or the edge of a
    shadow, parts them."""
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
    look: LookSettings = field(default_factory=LookSettings)
    ground: GroundSettings = field(default_factory=GroundSettings)
    paint: PaintSettings = field(default_factory=PaintSettings)
    marks: MarkSettings = field(default_factory=MarkSettings)
    patches: PatchSettings = field(default_factory=PatchSettings)
    region: RegionSettings = field(default_factory=RegionSettings)
    extent: ExtentSettings = field(default_factory=ExtentSettings)
    grid: GridSettings = field(default_factory=GridSettings)
    writing: WritingSettings = field(default_factory=WritingSettings)
    gaps: GapSettings = field(default_factory=GapSettings)
    sight: SightSettings = field(default_factory=SightSettings)


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
