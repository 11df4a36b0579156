"""Aligns several readings of one card: which swatch of which photo is which paint.

One reading is the base; the others are matched to it by the card's own geometry, as for a comparison. A swatch that the
base misses is taken from the readings that have it, and gets its place on the base.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from swatchread.colour.cielab import Floats
from swatchread.comparison.card_matching import CardMatch, match_cards
from swatchread.comparison.pair_covariance import own_variance, total_variance
from swatchread.comparison.table_coordinates import CardPlaces, card_places, fit_places, to_table
from swatchread.errors import DifferentCardsError
from swatchread.note.model import Note, Swatch
from swatchread.photo.geometry import project

_ONE_PLACE = 0.35
"""Share of the pitch within which two swatches that the base does not have are one (assumed)."""
_PIECE = 0.5
"""Share of the pitch from a swatch of the base within which an unmatched swatch is a piece of it (assumed)."""
_UNUSUAL = 0.1
"""Share by which a photo's number of swatches may differ from the usual one (assumed)."""


@dataclass(frozen=True, eq=False)
class Gathered:
    """Readings of one card, swatch by swatch.

    Attributes
    ----------
    notes : tuple of Note
        Those of one card.
    base : int
        Which of them the others were matched to.
    unmatched : tuple of (Note, str)
        Readings that are not of this card, as far as can be told, each with the reason.
    swatches : tuple of tuple of (Swatch or None)
        One row a swatch of the card, one entry a reading.
    places : tuple of (int, int)
        Row and column of each swatch, as the base counts them.
    outlines : tuple of ndarray, shape (k, 2)
        Of each swatch in the base's photo, pixels.
    """

    notes: tuple[Note, ...]
    base: int
    unmatched: tuple[tuple[Note, str], ...]
    swatches: tuple[tuple[Swatch | None, ...], ...]
    places: tuple[tuple[int, int], ...]
    outlines: tuple[Floats, ...]

    @property
    def ids(self) -> tuple[str, ...]:
        """Ids of the swatches."""
        return tuple(f"r{row}c{column}" for row, column in self.places)

    @property
    def lab(self) -> Floats:
        """Readings, shape (photos, swatches, 3); NaN where a photo does not show a swatch."""
        return self._table(lambda swatch: np.array(swatch.lab))

    @property
    def variance(self) -> Floats:
        """Variance of the readings' L*, a* and b*, shape (photos, swatches, 3)."""
        return self._table(total_variance)

    @property
    def own(self) -> Floats:
        """The part of that variance that is each swatch's own, shape (photos, swatches, 3)."""
        return self._table(own_variance)

    @property
    def de00(self) -> Floats:
        """Standard uncertainty in CIEDE2000, shape (photos, swatches)."""
        return self._table(lambda swatch: np.full(3, swatch.uncertainty.de00))[..., 0]

    def part(self, columns: npt.NDArray[np.bool_]) -> Gathered:
        """Return some of the swatches."""
        chosen = np.flatnonzero(columns).tolist()
        return replace(
            self,
            swatches=tuple(self.swatches[j] for j in chosen),
            places=tuple(self.places[j] for j in chosen),
            outlines=tuple(self.outlines[j] for j in chosen),
        )

    def _table(self, of: Callable[[Swatch], Floats]) -> Floats:
        nothing = np.full(3, np.nan)
        rows = [[nothing if s is None else of(s) for s in row] for row in self.swatches]
        return np.array(rows, dtype=np.float64).transpose(1, 0, 2)


def align_readings(notes: Sequence[Note]) -> Gathered:
    """Match readings of one card with the best of them.

    Parameters
    ----------
    notes : sequence of Note
        At least two.

    Returns
    -------
    Gathered

    Raises
    ------
    DifferentCardsError
        If fewer than two, or not more than half of them, are of one card.
    """
    base, matches, why = _most_alike(notes)
    if len(matches) + 1 < 2 or 2 * (len(matches) + 1) <= len(notes):
        raise next(iter(why.values()))
    members = sorted([base, *matches])
    table = _Table([notes[k] for k in members], members.index(base))
    for k, match in matches.items():
        table.add(members.index(k), notes[k], match)
    return Gathered(
        notes=tuple(notes[k] for k in members),
        base=members.index(base),
        unmatched=tuple((notes[k], error.why) for k, error in why.items()),
        swatches=tuple(tuple(row) for row in table.rows),
        places=tuple(table.places),
        outlines=tuple(table.outlines),
    )


def _most_alike(notes: Sequence[Note]) -> tuple[int, dict[int, CardMatch], dict[int, DifferentCardsError]]:
    """Return the best reading that more than half of the others match, its matches, and why others do not match.

    The best reading may itself be the one that took something else for the card; then the next best is tried.
    """
    tried: list[tuple[int, dict[int, CardMatch], dict[int, DifferentCardsError]]] = []
    for base in by_merit(notes):
        matches: dict[int, CardMatch] = {}
        why: dict[int, DifferentCardsError] = {}
        for k, note in enumerate(notes):
            if k != base:
                try:
                    matches[k] = match_cards(notes[base], note)
                except DifferentCardsError as error:
                    why[k] = error
        tried.append((base, matches, why))
        if 2 * (len(matches) + 1) > len(notes):
            break
    return max(tried, key=lambda found: len(found[1]))


def by_merit(notes: Sequence[Note]) -> list[int]:
    """Return the readings' numbers, best first.

    Readings with the usual number of swatches come before others: one that has more took writing for paint, and one
    that has fewer missed some. Among these the more certain ones come first.
    """
    counts = [len(note.swatches) for note in notes]
    usual = sorted(counts)[len(counts) // 2]
    uncertainty = [float(np.median([s.uncertainty.de00 for s in note.swatches])) for note in notes]
    return sorted(range(len(notes)), key=lambda k: (abs(counts[k] - usual) > _UNUSUAL * usual, uncertainty[k]))


class _Table:
    """The swatches found so far, each with its place in the base's plane."""

    def __init__(self, notes: Sequence[Note], base: int) -> None:
        self.base = card_places(notes[base])
        self.to_photo = np.linalg.inv(to_table(notes[base]))
        self.rows: list[list[Swatch | None]] = []
        self.places: list[tuple[int, int]] = []
        self.outlines: list[Floats] = []
        self.centres = self.base.centres
        self._index = {name: j for j, name in enumerate(self.base.ids)}
        for swatch in notes[base].swatches:
            row: list[Swatch | None] = [None] * len(notes)
            row[base] = swatch
            self.rows.append(row)
            self.places.append((swatch.row, swatch.column))
            self.outlines.append(np.array(swatch.outline, dtype=np.float64))

    def add(self, number: int, note: Note, match: CardMatch) -> None:
        """Add a reading: matched swatches to their rows, the others by their place."""
        theirs = card_places(note)
        one = np.array([self._index[a] for a, _ in match.pairs], dtype=np.intp)
        other = np.array([theirs.ids.index(b) for _, b in match.pairs], dtype=np.intp)
        for j, (_, name) in zip(one, match.pairs, strict=True):
            self.rows[j][number] = note.swatch(name)
        map_ = fit_places(theirs.centres[other], self.base.centres[one])
        counted = _counting([note.swatch(b) for _, b in match.pairs], [self.places[j] for j in one])
        for name in match.only_after:
            self._add_unmatched(number, note, (theirs, name), map_, counted)

    def _add_unmatched(
        self, number: int, note: Note, of: tuple[CardPlaces, str], map_: Floats, counted: Floats
    ) -> None:
        theirs, name = of
        swatch = note.swatch(name)
        centre = theirs.centres[theirs.ids.index(name)] @ map_[:2] + map_[2]
        apart = np.linalg.norm(self.centres - centre, axis=1) / self.base.pitch
        count = len(self.base.ids)
        if apart[:count].min() < _PIECE:
            return  # it is a piece of a swatch that is there already
        near = int(np.argmin(np.append(apart[count:], np.inf)))
        if len(apart) > count and apart[count + near] < _ONE_PLACE:
            self.rows[count + near][number] = swatch
            return
        row: list[Swatch | None] = [None] * len(self.rows[0])
        row[number] = swatch
        self.rows.append(row)
        self.centres = np.vstack([self.centres, centre])
        outline = project(to_table(note), np.array(swatch.outline, dtype=np.float64)) @ map_[:2] + map_[2]
        self.outlines.append(project(self.to_photo, outline))
        self.places.append(self._free(np.array([swatch.row, swatch.column, 1.0]) @ counted))

    def _free(self, wanted: Floats) -> tuple[int, int]:
        """Return a row and a column that no swatch has, near those wanted; above the first row, a new last row."""
        row, column = (int(np.rint(v)) for v in wanted)
        if row < 1:
            row = max(r for r, _ in self.places) + 1
        column = max(column, 1)
        while (row, column) in self.places:
            column += 1
        return row, column


def _counting(theirs: Sequence[Swatch], ours: Sequence[tuple[int, int]]) -> Floats:
    """Return the map, shape (3, 2), from a reading's rows and columns to the base's; a card may lie turned."""
    source = np.array([[s.row, s.column] for s in theirs], dtype=np.float64)
    target = np.array(ours, dtype=np.float64)
    middle, aim = source.mean(axis=0), target.mean(axis=0)
    quarter = [np.array([[c, s], [-s, c]], dtype=np.float64) for c, s in ((1, 0), (0, 1), (-1, 0), (0, -1))]
    linear = min(quarter, key=lambda turn: float(np.abs((source - middle) @ turn - (target - aim)).sum()))
    return np.vstack([linear, np.median(target - source @ linear, axis=0)])
