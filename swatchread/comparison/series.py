"""Three and more readings of one card: a drying or ageing curve for each swatch."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from swatchread.comparison.comparison_result import Change, Comparison
from swatchread.comparison.pair import compare
from swatchread.errors import UsageError
from swatchread.note.model import Note


@dataclass(frozen=True, eq=False)
class Series:
    """Readings of one card, each compared with the first.

    Attributes
    ----------
    comparisons : tuple of Comparison
        One a later reading, in the order given.
    """

    comparisons: tuple[Comparison, ...]

    @property
    def first(self) -> Note:
        """The reading that all others are compared with."""
        return self.comparisons[0].before

    @property
    def timed(self) -> bool:
        """Whether the photos' dates say when each was taken, and run forward."""
        times = [0.0, *(-1.0 if c.seconds is None else c.seconds for c in self.comparisons)]
        return all(later > earlier for earlier, later in pairwise(times))

    def curve(self, swatch_id: str) -> tuple[tuple[int, Change], ...]:
        """Return a swatch's changes with the number of the later reading (1 is the first after the start)."""
        return tuple(
            (k, change)
            for k, comparison in enumerate(self.comparisons, start=1)
            for change in comparison.changes
            if change.id == swatch_id
        )

    @property
    def ids(self) -> tuple[str, ...]:
        """Ids, in the first reading, of the swatches that at least one later reading shows too."""
        seen = {change.id for comparison in self.comparisons for change in comparison.changes}
        return tuple(s.id for s in self.first.swatches if s.id in seen)


def follow(notes: Sequence[Note], anchors: Sequence[str] = ()) -> Series:
    """Compare each later reading of a card with the first.

    Parameters
    ----------
    notes : sequence of Note
        At least two, in the order of time.
    anchors : sequence of str
        As for `swatchread.comparison.pair.compare`.

    Returns
    -------
    Series

    Raises
    ------
    UsageError
        If there are fewer than two.
    DifferentCardsError
        If one is not of the same card as the first.
    AnchorError
        If an anchor is missing from a reading.

    Examples
    --------
    >>> series = swatchread.follow([wet, after_a_day, after_a_week])
    >>> [(number, change.L.by) for number, change in series.curve("r1c1")]
    """
    if len(notes) < 2:
        raise UsageError("One reading cannot be compared", "", "Give at least two photos or notes of one card")
    return Series(tuple(compare(notes[0], later, anchors) for later in notes[1:]))
