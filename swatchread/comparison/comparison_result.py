"""The records of a comparison, and of a series of them: a drying or ageing curve for each swatch."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

from swatchread.colour.cielab import Floats
from swatchread.comparison.anchoring import Conditioned
from swatchread.comparison.card_matching import CardMatch
from swatchread.note.model import Note

UNCHANGED = "no change this pair can show"


@dataclass(frozen=True, slots=True)
class Amount:
    """A change with its standard uncertainty, of both photos together."""

    by: float
    u: float


@dataclass(frozen=True, slots=True)
class Change:
    """What became of one swatch.

    Attributes
    ----------
    id, id_after : str
        In the first and in the second reading.
    recipe : str
    before, after : (L, a, b)
        CIELAB, D50, 2 degree. From `after` the shared error that anchors show is taken off.
    L, C, h, b : Amount
        Changes of lightness, chroma, hue angle (degrees, -180 to 180) and b*, second minus first.
    value, warmth : Amount
        Of Munsell value and of the warm-cool score.
    de00 : Amount
        CIEDE2000 between the two; `u` is what noise alone amounts to.
    p : float
        Probability of a difference this large or larger if nothing changed.
    p_card : float
        The same with Holm's correction for all swatches of the card.
    words : tuple of str
        The verdict: lighter, darker, duller, richer, warmer, cooler, yellower ...; empty without a change.
    anchor : bool
        The painter said that it cannot have changed, so it is not judged.
    """

    id: str
    id_after: str
    recipe: str
    before: tuple[float, float, float]
    after: tuple[float, float, float]
    L: Amount
    C: Amount
    h: Amount
    b: Amount
    value: Amount
    warmth: Amount
    de00: Amount
    p: float
    p_card: float
    words: tuple[str, ...]
    anchor: bool

    @property
    def verdict(self) -> str:
        """The verdict as one phrase."""
        if self.anchor:
            return "taken as unchanged"
        return ", ".join(self.words) or UNCHANGED


@dataclass(frozen=True, slots=True)
class Common:
    """How the card's swatches moved together.

    Attributes
    ----------
    L, a, b : Amount
        Mean change over the swatches that are no anchors.
    p : (float, float, float)
        Of L*, a*, b*, corrected for three tests (Holm).
    words : tuple of str
    count : int
        Swatches it is the mean of.
    """

    L: Amount
    a: Amount
    b: Amount
    p: tuple[float, float, float]
    words: tuple[str, ...]
    count: int

    @property
    def verdict(self) -> str:
        """The verdict as one phrase."""
        return ", ".join(self.words) or "no common shift this pair can show"


@dataclass(frozen=True, eq=False)
class Comparison:
    """Two readings of one card, compared.

    Attributes
    ----------
    before, after : Note
    match : CardMatch
    conditioned : Conditioned
        The differences with their covariance; rows are the match's pairs, then the ground.
    anchors : tuple of str
        Ids of the first reading, and ``ground``.
    changes : tuple of Change
        One a matched swatch, in the order of the first reading.
    common : Common
    ground : (L, a, b)
        Difference of the bare ground as read.
    remarks : tuple of str
        What the painter should know before trusting it.
    seconds : float or None
        Time between the photos, as far as they say.
    """

    before: Note
    after: Note
    match: CardMatch
    conditioned: Conditioned
    anchors: tuple[str, ...]
    changes: tuple[Change, ...]
    common: Common
    ground: tuple[float, float, float]
    remarks: tuple[str, ...]
    seconds: float | None

    @property
    def changed(self) -> tuple[Change, ...]:
        """The swatches with a verdict."""
        return tuple(c for c in self.changes if c.words)

    @property
    def surely(self) -> tuple[Change, ...]:
        """The swatches whose change holds after Holm's correction for all swatches of the card."""
        return tuple(c for c in self.changes if c.words and c.p_card < 0.05)


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


def as_triple(values: Floats) -> tuple[float, float, float]:
    """Return an array of three numbers, shape (3,), as a tuple."""
    first, second, third = (float(value) for value in values)
    return first, second, third
