"""Which regions are most likely the card's ground: those whose islands stand in rows and columns as on a card."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from swatchread.card.card_candidates import SURE, Candidate, broad, cropped, judge, same_ground, united, without_doubt
from swatchread.card.ground_regions import find_regions
from swatchread.card.lab_image import EdgeLevel, LabImage
from swatchread.card.lazy_ranking import LazyRanking
from swatchread.card.masks import lies_within
from swatchread.card.other_cards import DistinctCards, lies_on
from swatchread.card.region_growing import grow_regions
from swatchread.card.settings import rules
from swatchread.card.swatches_without_ground import candidates_without_ground

# Measured on development scenes. "Worth" is that of a `Candidate`: about the number of its swatches in order.

_GROWN, _CROPPED, _TRIED = 2, 5, 3
"""How many of the likeliest regions are grown, how many are cropped, and how many may be returned."""

_CLEARLY = 1.05
"""A larger region is preferred to a smaller one if it is worth so many times as much."""

_OTHER_WORTH = 0.95
"""From this worth, about one swatch, another region of the same ground could change the choice."""

_HOLDS = 0.8
"""A larger ground that holds the likeliest region comes first from this share of its worth."""

_LEAST_WORTH, _LEAST_WORTH_OF_FEW = 0.5, 0.7
"""Worth of a card at least, for each swatch in order; the second for a card with few swatches that is no rectangle."""

_FEW, _SURE_FEW = 4, 3
"""Swatches that are few; and the fewest that make a card by their order alone."""

_LEAST_RADIUS, _LEAST_RADIUS_OF_ROW = 0.2, 0.12
"""Half-width of few swatches, in pitches of the chart, and of four that stand in rows and columns without doubt."""

_WITHOUT_DOUBT, _ALONE = 0.97, 0.99
"""Worth for each swatch of a row of four in clear order; and of a card with fewer swatches than three."""

_LEAST_SQUARENESS, _RECTANGLE, _CLEAR_RECTANGLE = 0.84, 0.95, 0.97
"""Share of its smallest rectangle that a card fills: at least, as a rectangle, and as a rectangle without doubt."""

_LEAST_MARKS, _SEVERAL_MARKS = 3, 5
"""Marks that make a card by its looks on a rectangle without doubt, and on any rectangle."""

_MARK_RADIUS, _MARK_SOLID, _MARK_SPREAD = 0.25, 0.9, 1.5
"""Half-width of such marks in pitches of the chart, how much of its hull each fills, and the broadest over the
narrowest."""

_LETTER = 0.4
"""Share of the broadest mark's half-width up to which a mark is a letter."""


def rank_card_regions(
    image: LabImage, levels: list[EdgeLevel], pitch: float
) -> Iterator[tuple[Candidate, list[Candidate]]]:
    """Find the regions that can be the card's ground, the likeliest first.

    Parameters
    ----------
    image : LabImage
    levels : list of EdgeLevel
        The image's.
    pitch : float
        Of the chart, pixels.

    Yields
    ------
    candidate : Candidate
    every : list of Candidate
        All that were judged by then.
    """
    ranking = LazyRanking(find_regions(image, levels), image)
    some = ranking.promising()
    cards = DistinctCards.among(some, image)
    pool = cards.one_at_most(_ranked(some))
    others = cards.besides(pool[0]) if pool else []
    if _no_other_needed(pool, some, others) and _credible(pool[0], pitch) and rules().first_without_doubt:
        first = _larger_first(pool[:1], some, others)[0]
        yield first, ranking.beside(first)
    likeliest, every = _likeliest(ranking.every(), image, levels)
    credible = [c for c in likeliest if _credible(c, pitch)]
    if not credible and rules().behind_cloth:  # a busy cloth may stand before the card
        sure = [c for c in every if c.worth >= (SURE if c.cells >= _SURE_FEW else _ALONE) * max(c.cells, 1)]
        credible = sorted((c for c in sure if _credible(c, pitch)), key=lambda c: -c.worth)[:1]
    for candidate in credible:
        yield candidate, every


def _likeliest(
    every: list[Candidate], image: LabImage, levels: list[EdgeLevel]
) -> tuple[list[Candidate], list[Candidate]]:
    """Return the few regions that are likeliest to be the card's ground, and all regions."""
    cards = DistinctCards.among(every, image)
    pool = cards.one_at_most(_ranked(every))
    others = cards.besides(pool[0]) if pool else []
    if not _no_other_needed(pool, every, others):
        every = every + ([one for c in every if (one := broad(c, image))] if rules().broad else [])
        pool = cards.one_at_most(_ranked(every))
    if not _no_other_needed(pool, every, others):
        every = every + (candidates_without_ground(levels, image) if rules().without_ground else [])
        pool = cards.one_at_most(_ranked(every))
    others = cards.besides(pool[0]) if pool else []
    if _no_other_needed(pool, every, others):
        return _larger_first(pool[:_TRIED], every, others), every
    pool = [c for c in pool if not lies_on(c, others)]
    first = pool[:_GROWN]
    pool += [one for c in pool[:_CROPPED] if (one := cropped(c, image))] if rules().cropped else []
    pool += [judge(grown, image) for grown in grow_regions([c.region for c in first], image)] if rules().grown else []
    pool += [one for c in first for other in list(pool) if (one := united(c, other, image))] if rules().united else []
    pool = cards.one_at_most(pool)
    chosen: list[Candidate] = []
    while pool and len(chosen) < _TRIED:
        # A table carries the card's swatches too. It is preferred only if it shows clearly more.
        pool.sort(key=(lambda c: c.extent) if rules().smaller_first else (lambda c: -c.worth))
        best = pool[0]
        for candidate in pool:
            if candidate.worth > best.worth * _CLEARLY:
                best = candidate
        chosen.append(best)
        pool.remove(best)
    return _larger_first(chosen, every, others) if chosen else [], every


def _larger_first(chosen: list[Candidate], every: list[Candidate], others: list[Candidate]) -> list[Candidate]:
    """Put first a ground that holds the likeliest swatches and others besides.

    Swatches that were found without their ground may lie on any such ground. A ground that a shadow's edge has cut is a
    part of the card; then the larger one must be a rectangle. A ground that holds other cards is the table.
    """
    best = chosen[0]
    holding = (c for c in every if c.region.painted is None and c.cells > best.cells and _box_within(best, c))
    larger = [c for c in holding if c.worth > _HOLDS * best.worth and same_ground(best, c)]
    larger = [c for c in larger if not any(lies_on(other, [c]) for other in others)]
    if best.region.painted is None:
        larger = [c for c in larger if c.squareness > _RECTANGLE]
    return (sorted(larger, key=lambda c: -c.worth)[:1] if larger and rules().larger_first else []) + chosen


def _credible(candidate: Candidate, pitch: float) -> bool:
    """Tell whether a region can be a card."""
    return _in_order(candidate, pitch) or (_looks_like_a_card(candidate, pitch) and rules().by_looks)


def _in_order(candidate: Candidate, pitch: float) -> bool:
    """Tell whether marks stand in order as on a card does: a table's grain, or a tube's label, makes rows too."""
    if candidate.cells > _FEW:
        return candidate.worth > _LEAST_WORTH * candidate.cells
    if not rules().few_in_order:
        return candidate.worth > _LEAST_WORTH * candidate.cells
    sure = candidate.cells == _FEW and candidate.worth > _WITHOUT_DOUBT * candidate.cells
    least = _LEAST_RADIUS_OF_ROW if sure else _LEAST_RADIUS
    if candidate.worth <= _LEAST_WORTH * candidate.cells or candidate.radius <= least * pitch:
        return False
    # Few marks that hardly stand in rows need a ground that is a clear rectangle.
    ordered = candidate.worth > _LEAST_WORTH_OF_FEW * candidate.cells
    return candidate.squareness > (_LEAST_SQUARENESS if ordered else _RECTANGLE)


def _looks_like_a_card(candidate: Candidate, pitch: float) -> bool:
    """Tell whether a region is a rectangle with round, broad marks of about one size, and letters.

    Where most swatches are too pale to be seen at first, the others do not stand in rows.
    """
    broadest = max((b.radius for b in candidate.islands), default=0.0)
    marks = [b for b in candidate.islands if b.radius > _LETTER * broadest]
    if len(marks) < _LEAST_MARKS or not all(b.solid > _MARK_SOLID and b.border == 0.0 for b in marks):
        return False
    narrowest = min(b.radius for b in marks)
    of_one_size = broadest < _MARK_SPREAD * narrowest
    rectangle = _CLEAR_RECTANGLE if len(marks) < _SEVERAL_MARKS else _RECTANGLE
    return narrowest > _MARK_RADIUS * pitch and of_one_size and candidate.squareness > rectangle


def _ranked(every: list[Candidate]) -> list[Candidate]:
    """Return the regions that carry swatches, the likeliest first."""
    return sorted((c for c in every if c.worth > 0.0), key=lambda c: -c.worth)


def _no_other_needed(pool: list[Candidate], every: list[Candidate], cards: list[Candidate]) -> bool:
    """Tell whether the likeliest region is so good a card that no larger one needs to be tried.

    It is a card without doubt, and no other region of the same ground shows swatches that it does not show, but for
    those that lie on other cards.
    """
    if not pool:
        return False
    best = pool[0]
    if not without_doubt(best):
        return False
    others = [c for c in every if c is not best and c.worth > _OTHER_WORTH and same_ground(best, c)]
    others = [c for c in others if not lies_on(c, cards)]
    return all(_box_within(other, best) or _shows_no_more(other, best) for other in others)


def _shows_no_more(other: Candidate, best: Candidate) -> bool:
    """Tell whether a region round the best carries only what lies on the best: a white table under a white card."""
    x, y, w, h = best.region.box
    centres = np.array([blob.centre for blob in other.islands]) - [x, y]
    nothing = other.cells <= best.cells and bool(((centres >= 0) & (centres < [w, h])).all())
    return nothing and _box_within(best, other)


def _box_within(inner: Candidate, outer: Candidate) -> bool:
    return lies_within(inner.region.box, outer.region.box, 0.05 * max(outer.region.box[2:]))
