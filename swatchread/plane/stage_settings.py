"""The limits of the card finder's stages, each with its unit. They were set on drawn scenes unless said otherwise."""

from __future__ import annotations

from dataclasses import dataclass
from math import exp


@dataclass(frozen=True)
class LookSettings:
    """How the table is drawn, and when it is looked at more closely. A pitch is that of the chart's patches."""

    most_pixels: int = 2_400_000
    """Pixels of the table seen from above at most: more take time and show no more swatches."""
    reach: float = 56.0
    """Pitches from the chart beyond which nothing is looked at: the table is almost seen edge-on there."""
    least_scale: float = 0.3
    """Scale of the view, over that at the chart, below which the table is seen too small to be of use."""
    frame: float = 0.22
    """Breadth of the chart's frame beside its patches, pitches."""
    edge: int = 2
    """Pixels beyond the outline of a card at which its edge may still show."""
    nearby: float = 12.0
    """Pitches from the chart's middle within which a small card is looked for where none was found."""
    beside: tuple[float, float] = (3.0, 0.25)
    """How much of the table is looked at round a small card: pitches, and a share of its longer side more."""
    nearer: float = 1.3
    """Factor by which a nearer look must show more pixels than the whole table."""
    small: float = 25.0
    """Half-width of swatches, pixels, below which a nearer look may show more of them."""
    more: float = 0.3
    """Swatches in order by which it must show more."""
    less_likely: float = 0.5
    """Log odds by which it may be a card less likely."""
    larger: float = 2.0
    """Area over that of the card from which it has run over to another card: it was 1.8 and less on cards it mended."""
    broad: float = 18.0
    """Half-width of swatches, pixels of the halved image, from which that shows them well enough."""


@dataclass(frozen=True)
class GroundSettings:
    """What a quiet region is, and its holes. Levels are those of an 8-bit CIELAB picture."""

    strengths: tuple[int, ...] = (4, 7, 11, 16)
    """Edge strengths, levels of the smoothed picture, that end a surface: paper needs little, canvas more."""
    shade: tuple[int, int] = (45, 6)
    """Steps of lightness and of a* or b*, levels, up to which an edge may be that of a soft shadow."""
    least_share: float = 0.003
    """Share of the image that a ground takes at least."""
    most: int = 5
    """Quiet pieces at each edge strength that may be grounds: the largest."""
    same: tuple[int, float] = (3, 0.85)
    """Pixels by which the boxes of one region at two edge strengths may differ, and the share of it that stays."""
    tint: float = 6.0
    """Difference in a* and b* up to which two colours may be one ground in other light, CIELAB units."""
    light: float = 1.5
    """And the same in light: the one's L* + 16 over the other's."""
    least_radius: float = 3.2
    """Half-width, pixels, below which a hole is writing."""
    full: float = 0.3
    """Share of its box that a hole fills."""
    least_off: float = 2.0
    """Difference from which two colours are not one: paint and its ground, or two paints. CIELAB units."""
    rim: int = 4
    """Pixels round a hole, or a patch, that tell the ground's colour there, and within which the end of the photo cuts
    off an outline."""
    filled: tuple[float, float] = (0.4, 0.9)
    """By the first share of its strongest difference from the ground, the second share of a swatch must differ."""
    most_holes: int = 300
    """A region with more holes is a texture."""


@dataclass(frozen=True)
class PaintSettings:
    """What is painted on a ground, and how areas that touch are parted. Set on drawn scenes, as all that follows."""

    over_noise: float = 3.7
    """Difference from the ground from which a pixel counts as painted, in the ground's own noise."""
    thin: float = 0.42
    """Share of the usual half-width below which a mark is writing and not paint."""
    least_radius: float = 2.5
    """Half-width, pixels, below which a mark is noise."""
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
class MarkSettings:
    """Which marks that only edges show are paint."""

    narrow: float = 0.6
    """Half-width over the usual one: at least so much, and no more than one over it."""
    by_colour: float = 0.05
    """Bonus to the likelihood of an area that was found by its colour and not only by its edges."""
    off: float = 1.2
    """Difference from the ground, CIELAB units, or times the ground's noise if that is over one."""
    overlap: float = 0.2
    """Share of a mark that a likelier one may cover."""


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
    core: float = 0.55
    """Radius of the middle of a place, which tells the paint's colour."""
    ring: tuple[float, float] = (1.3, 1.75)
    """Radii between which the ground is seen."""
    reach: float = 1.9
    """Radius up to which paint is looked for."""
    held: float = 0.03
    """Weight of the expected colour of the ground, over that of a ring that shows nothing else."""
    smooth: float = 0.25
    """Radius of the disc that smooths the paint's outline."""

    @property
    def least_off(self) -> float:
        """Difference from the ground below which a trace tells no more than none."""
        return exp((self.empty - self.bias) / self.weights[0])


@dataclass(frozen=True)
class PatchSettings:
    """Which quiet patches are swatches where hardly any ground shows. A patch's side is that of its area's square."""

    full: float = 0.55
    """Share of its box that a patch covers."""
    long: float = 2.6
    """Length over breadth, at most: lines of writing are longer."""
    rim: float = 2.0
    """Pixels of a patch's side that the edge round it takes."""
    same: tuple[float, float] = (0.3, 0.5)
    """Sides by which the middles of one patch at two edge strengths may differ, and their sides' least ratio."""
    apart: float = 3.2
    """Sides up to which neighbours' middles lie apart."""
    least_share: float = 0.25
    """Share of the surroundings of a patch that is ground."""
    share: tuple[float, float] = (0.7, 0.55)
    """Share of the surroundings of all swatches that is ground, and of those of many, which blur more."""
    many: int = 9
    """So many swatches are many."""
    alike: float = 6.0
    """Spread of the patches' colours, CIELAB units, below which they are tiles or keys: a card's swatches differ."""
    margin: int = 3
    """Pixels of ground round the outer swatches that belong to the card."""
    among: float = 0.6
    """Breadth of a single row's inner part, in sides of a patch."""
