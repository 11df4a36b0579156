"""Which regions are most likely the card's ground: those whose islands stand in rows and columns as on a card."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from swatchread.card.card_candidates import SURE, Candidate, broad, cropped, judged, same_ground, united, without_doubt
from swatchread.card.ground_regions import find_regions, lies_within
from swatchread.card.lab_image import EdgeLevel, LabImage
from swatchread.card.lazy_ranking import LazyRanking
from swatchread.card.region_growing import grow_regions
from swatchread.card.swatches_without_ground import patched

_WIDENED = 2
_CROPPED = 5
_TRIED = 3
_CLEARLY = 1.05
_OTHER_WORTH = 0.95
_HOLDS = 0.8
_FEW = 4
_LEAST_WORTH = 0.5
_LEAST_WORTH_OF_FEW = 0.7
_LEAST_RADIUS, _LEAST_RADIUS_OF_ROW = 0.2, 0.12
"""Half-width of few swatches, in pitches of the chart, and of four that stand in rows and columns without doubt."""

_SURE_FEW = 3
_WITHOUT_DOUBT, _ALONE = 0.97, 0.99

_LEAST_SQUARENESS, _RECTANGLE = 0.84, 0.95
_PLAIN_RECTANGLE, _PLAIN_MARKS, _PLAIN_ENOUGH = 0.97, 3, 5
_PLAIN_RADIUS, _PLAIN_SOLID, _PLAIN_SPREAD = 0.25, 0.9, 1.5
_PLAIN_WRITING = 0.4
"""What makes a card by its looks: how square it is with few marks, how many these are at least, and from how many on
any rectangle will do; their half-width in pitches of the chart, how much of its hull each fills, the broadest over the
narrowest, and the share of the broadest below which a mark is a letter."""


def rank_card_regions(
    sheet: LabImage, cuts: list[EdgeLevel], pitch: float
) -> Iterator[tuple[Candidate, list[Candidate]]]:
    """Return the regions that can be the card's ground, the likeliest first, each with all that were judged by then.

    Parameters
    ----------
    sheet : LabImage
    cuts : list of EdgeLevel
        The sheet's.
    pitch : float
        Of the chart, pixels.

    Yields
    ------
    candidate : Candidate
    every : list of Candidate
    """
    turns = LazyRanking(find_regions(sheet, cuts), sheet)
    some = turns.promising()
    pool = _ranked(some)
    if _settled(pool, some) and _credible(pool[0], pitch):
        yield _larger_first(pool[:1], some)[0], some
    likeliest, every = _likeliest(turns.every(), sheet, cuts)
    credible = [c for c in likeliest if _credible(c, pitch)]
    if not credible:  # a busy cloth may stand before the card
        sure = [c for c in every if c.worth >= (SURE if c.cells >= _SURE_FEW else _ALONE) * max(c.cells, 1)]
        credible = sorted((c for c in sure if _credible(c, pitch)), key=lambda c: -c.worth)[:1]
    for candidate in credible:
        yield candidate, every


def _likeliest(
    every: list[Candidate], sheet: LabImage, cuts: list[EdgeLevel]
) -> tuple[list[Candidate], list[Candidate]]:
    """Return the regions most likely to be the card's ground, the likeliest first, and all."""
    pool = _ranked(every)
    if not _settled(pool, every):
        every = every + [one for c in every if (one := broad(c, sheet))]
        pool = _ranked(every)
    if not _settled(pool, every):
        every = every + patched(cuts, sheet)
        pool = _ranked(every)
    if _settled(pool, every):
        return _larger_first(pool[:_TRIED], every), every
    first = pool[:_WIDENED]
    pool += [one for c in pool[:_CROPPED] if (one := cropped(c, sheet))]
    pool += [judged(wider, sheet) for wider in grow_regions([c.region for c in first], sheet)]
    pool += [one for c in first for other in list(pool) if (one := united(c, other, sheet))]
    chosen: list[Candidate] = []
    while pool and len(chosen) < _TRIED:
        # A table may carry the swatches as well as the card does: the larger must show clearly more.
        pool.sort(key=lambda c: c.extent)
        best = pool[0]
        for candidate in pool:
            if candidate.worth > best.worth * _CLEARLY:
                best = candidate
        chosen.append(best)
        pool.remove(best)
    return _larger_first(chosen, every) if chosen else [], every


def _larger_first(chosen: list[Candidate], every: list[Candidate]) -> list[Candidate]:
    """Put first the ground that holds the likeliest swatches and others with them.

    Swatches that were found by themselves lie on any; a shadow's edge may leave a part of the card, which is then the
    better rectangle for the whole.
    """
    best = chosen[0]
    holding = (c for c in every if c.region.painted is None and c.cells > best.cells and _within(best, c))
    larger = [c for c in holding if c.worth > _HOLDS * best.worth and same_ground(best, c)]
    if best.region.painted is None:
        larger = [c for c in larger if c.squareness > _RECTANGLE]
    return sorted(larger, key=lambda c: -c.worth)[:1] + chosen


def _credible(candidate: Candidate, pitch: float) -> bool:
    """Tell whether a region can be a card."""
    return _in_order(candidate, pitch) or _plain(candidate, pitch)


def _in_order(candidate: Candidate, pitch: float) -> bool:
    """Tell whether marks stand as on a card: a table's grain, or the label of a tube, makes rows and columns too."""
    if candidate.cells > _FEW:
        return candidate.worth > _LEAST_WORTH * candidate.cells
    sure = candidate.cells == _FEW and candidate.worth > _WITHOUT_DOUBT * candidate.cells
    least = _LEAST_RADIUS_OF_ROW if sure else _LEAST_RADIUS
    if candidate.worth <= _LEAST_WORTH * candidate.cells or candidate.radius <= least * pitch:
        return False
    # In places that hardly tell of rows and columns, few marks need a ground that is a card without doubt.
    ordered = candidate.worth > _LEAST_WORTH_OF_FEW * candidate.cells
    return candidate.squareness > (_LEAST_SQUARENESS if ordered else _RECTANGLE)


def _plain(candidate: Candidate, pitch: float) -> bool:
    """Tell whether a region is a card by its looks: a rectangle with round, broad marks of about one size, and letters.

    Where most swatches are too pale to be seen at first, the others stand in no rows.
    """
    broadest = max((b.radius for b in candidate.islands), default=0.0)
    marks = [b for b in candidate.islands if b.radius > _PLAIN_WRITING * broadest]
    if len(marks) < _PLAIN_MARKS or not all(b.solid > _PLAIN_SOLID and b.border == 0.0 for b in marks):
        return False
    narrowest = min(b.radius for b in marks)
    of_one_size = broadest < _PLAIN_SPREAD * narrowest
    rectangle = _PLAIN_RECTANGLE if len(marks) < _PLAIN_ENOUGH else _RECTANGLE
    return narrowest > _PLAIN_RADIUS * pitch and of_one_size and candidate.squareness > rectangle


def _ranked(every: list[Candidate]) -> list[Candidate]:
    """Return the regions that carry swatches, the likeliest first."""
    return sorted((c for c in every if c.worth > 0.0), key=lambda c: -c.worth)


def _settled(pool: list[Candidate], every: list[Candidate]) -> bool:
    """Tell whether the likeliest region is so good a card that no wider one needs to be looked at.

    All its marks stand in rows and columns, its rim is bare, and what may be more of the same ground shows no more.
    """
    if not pool:
        return False
    best = pool[0]
    if not without_doubt(best):
        return False
    others = (c for c in every if c is not best and c.worth > _OTHER_WORTH and same_ground(best, c))
    return all(_within(other, best) or _shows_no_more(other, best) for other in others)


def _shows_no_more(other: Candidate, best: Candidate) -> bool:
    """Tell whether a region round the best carries nothing but what lies on that: a white table under a white card."""
    x, y, w, h = best.region.box
    centres = np.array([blob.centre for blob in other.islands]) - [x, y]
    nothing = other.cells <= best.cells and bool(((centres >= 0) & (centres < [w, h])).all())
    return nothing and _within(best, other)


def _within(inner: Candidate, outer: Candidate) -> bool:
    return lies_within(inner.region.box, outer.region.box, 0.05 * max(outer.region.box[2:]))
