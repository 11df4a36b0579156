"""The settings of the card finder: what chooses a card, and its rules, each of which a bench can switch off."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass


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
    full_size_score: float = 7.0
    """Score from which a candidate counts that only the full size shows."""
    clear_rectangle: float = 3.0
    """Feature of the rectangle from which a card is sure to end where its region does: 0.97 of the rectangle filled."""
    join_gain: float = 0.7
    """Regions are joined if that adds so much to the score of the likelier one: a swatch as broad as its card cuts the
    ground in two."""
    # Where candidates come from
    cropped: bool = True
    """Regions that the photo or the chart cuts off are tried as cut to the surroundings of their swatches, too."""
    joined: bool = True
    """Regions of one ground are tried as one: hard shadows and tape cut a card in pieces."""
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
    gap_weights: tuple[float, ...] = (1.1, -3.1, -7.3, -2.0, -2.2)
    """Weights of what differs from the ground in an empty cell, in the order of `gap_filling`."""
    gap_bias: float = 0.8
    """Log odds of a swatch where all these are 0."""
    gap_empty: float = -2.0
    """Log odds that a place without a trace, at least, adds to those of its line beyond the grid's ends."""
    # Where a card ends
    margin: bool = True
    """The margin round swatches that were found without their card's outline is added."""
    one_card_of_grid: bool = True
    """A grid that spans two cards is cut down to one."""


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
