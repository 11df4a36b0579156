"""The rules of the card finder, each on or off. The ablation of `tests/bench/finding.py` tells what each is worth."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass


@dataclass(frozen=True)
class FinderRules:
    """The rules of the finder, each on or off.

    A rule is looked up only where it would change something, so that the bench can tell from the look-ups which rules
    a photo needs.
    """

    card_weights: tuple[float, ...] = (1.7, -7.0, -2.7, 3.4, 4.2, 1.4, -2.5, -5.0)
    """Weights of a candidate's features, in the order of `ranking`."""
    card_bias: float = -1.4
    """Log odds of a candidate whose features are all 0."""
    least_size: float = 0.05
    """Half-width of swatches in pitches of the chart, and below."""
    least_order: float = 0.05
    """Order of a grid, and below."""
    least_score: float = 3.0
    """Log odds from which a candidate is looked at closely."""
    as_likely: float = 3.0
    """Log odds by which a candidate that shows more swatches may be less likely than the likeliest."""
    further_below: float = 5.0
    """Log odds by which a further card may be less likely than the first."""
    sure_score: float = 7.0
    """Log odds from which a further region is another card."""
    most_looked_at: int = 3
    """Candidates that are looked at closely, at most."""
    # Group "candidates", what may be a card's ground
    shade_level: bool = True
    """A level of edges that lets soft shadows pass."""
    cropped: bool = True
    """Likely regions are cut down to the surroundings of their swatches."""
    grown: bool = True
    """Likely regions are grown over pieces of their ground that lie apart."""
    united: bool = True
    """Two regions of one ground are tried as one."""
    without_ground: bool = True
    """Swatches are looked for by themselves where hardly any ground shows."""
    whole_marks_only: bool = True
    """A hole with ground between its strokes is no island."""
    # Group "choice", which candidate is the card
    few_in_order: bool = True
    """Few marks must be in clear order, and large, or lie on a clear rectangle."""
    behind_cloth: bool = True
    """Where no likely region can be a card, a less likely one in clear order may be."""
    one_card_at_most: bool = True
    """A region that holds swatches of several cards is no candidate."""
    off_other_cards: bool = True
    """What lies on another card is no candidate."""
    round_chart: bool = True
    """A region loses worth where it goes round the chart."""
    photo_end: bool = True
    """A region loses worth where the photo ends it."""
    ragged: bool = True
    """A region loses worth where it is ragged."""
    framed: bool = True
    """A region loses worth where its rim is not bare."""
    printed: bool = True
    """A black panel of the chart is no card."""
    # Group "speed"
    first_without_doubt: bool = True
    """The search ends with the first card without doubt."""
    judged_lazily: bool = True
    """Regions that cannot be the card are not judged."""
    halved: bool = True
    """Large swatches are measured at half the size."""
    full_size: bool = True
    """Where half the size shows no card, the full size is searched."""
    # Group "background", the ground's colour
    local_median: bool = True
    """It is refined by a local median."""
    # Group "areas", what is painted
    split_by_colour: bool = True
    """Swatches that touch are parted by their colours."""
    split_by_necks: bool = True
    """They are parted at the necks of their outline, too."""
    edge_marks: bool = True
    """Marks that only edges show count as painted."""
    edge_marks_off: bool = True
    """They must differ from the ground."""
    texture: bool = True
    """The detail within each area is measured, by which writing is told."""
    faint: bool = True
    """Faint paint is looked for in the places that the grid leaves empty."""
    # Group "grid", rows and columns
    order_clean: bool = True
    """Areas without a place lower the order."""
    order_full: bool = True
    """Lines that few swatches share lower the order."""
    sharp: bool = True
    """A swatch has a sharp outline."""
    solid: bool = True
    """A swatch fills its hull."""
    border: bool = True
    """A swatch is no part of the card's edge."""
    compact: bool = True
    """A swatch is not many times as long as broad."""
    # Group "rejected", marks that are no swatches
    odd_alone: bool = True
    """A mark that is alone in its row or column and odd."""
    alone_in_both: bool = True
    """A mark that is alone in its row and in its column."""
    small_line: bool = True
    """A line of small marks."""
    small_line_of_even: bool = True
    """Such a line may be smaller if it is as even as paint."""
    rather_small_line: bool = True
    """A line of rather small marks that is sparse."""
    rough_line: bool = True
    """A line of rough marks."""
    # Group "gaps", paint in empty places
    gaps_within: bool = True
    """Paint is looked for in the grid's empty cells."""
    gaps_beyond: bool = True
    """It is looked for one step beyond the grid's ends."""
    gaps_skipped: bool = True
    """It is looked for in lines that the grid skips."""
    gap_alone: bool = True
    """In a short line one swatch will do if it is one without doubt."""
    gap_joined: bool = True
    """The surroundings must be joined to known ground."""
    gap_faint: bool = True
    """A faint trace counts in the middle of a cell."""
    # Group "extent", where the card ends
    off_card: bool = True
    """Marks of sparse end lines beyond the card's ground are dropped."""
    margin: bool = True
    """The margin round swatches that were found without their ground is added."""
    one_card_of_grid: bool = True
    """A grid that spans two cards is cut down to one."""


_RULES: ContextVar[FinderRules] = ContextVar("finder_rules", default=FinderRules())  # noqa: B039 - it is frozen


def settings() -> FinderRules:
    """Return the settings that hold here."""
    return _RULES.get()


def rules() -> FinderRules:
    """Return the rules that hold here: all, but within `using`."""
    return _RULES.get()


@contextmanager
def using(other: FinderRules) -> Iterator[None]:
    """Let other rules hold within a block, in this thread alone.

    Parameters
    ----------
    other : FinderRules
    """
    token = _RULES.set(other)
    try:
        yield
    finally:
        _RULES.reset(token)
