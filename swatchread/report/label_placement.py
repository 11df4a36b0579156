"""Places for small labels beside things, where they cover neither the things nor each other."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass


@dataclass(frozen=True)
class Box:
    """An upright rectangle; y grows downward."""

    left: float
    top: float
    right: float
    bottom: float

    @property
    def edges(self) -> tuple[float, float, float, float]:
        """Left, top, right and bottom."""
        return self.left, self.top, self.right, self.bottom

    @property
    def width(self) -> float:
        """The extent sideways."""
        return self.right - self.left

    @property
    def height(self) -> float:
        """The extent downward."""
        return self.bottom - self.top

    @property
    def centre(self) -> tuple[float, float]:
        """The middle, (x, y)."""
        return (self.left + self.right) / 2, (self.top + self.bottom) / 2

    def overlap(self, other: Box) -> float:
        """Return the area shared with another box."""
        wide = min(self.right, other.right) - max(self.left, other.left)
        high = min(self.bottom, other.bottom) - max(self.top, other.top)
        return max(wide, 0.0) * max(high, 0.0)

    def nearest(self, point: tuple[float, float]) -> tuple[float, float]:
        """Return the point of the box that lies nearest to a point."""
        return min(max(point[0], self.left), self.right), min(max(point[1], self.top), self.bottom)


def places_beside(thing: Box, size: tuple[float, float], gap: float) -> Iterator[Box]:
    """Offer places for a label round a thing: the usual ones first, then the same farther out.

    Parameters
    ----------
    thing : Box
    size : (width, height)
        Of the label.
    gap : float
        Distance of the nearest places from the thing.

    Yields
    ------
    Box
    """
    wide, high = size
    x, y = thing.centre
    for ring in range(8):
        out = gap + ring * high * 0.75
        right, left = thing.right + out, thing.left - out - wide
        above, below = thing.top - out - high, thing.bottom + out
        for corner in (
            (right, y - high / 2),
            (left, y - high / 2),
            (x - wide / 2, below),
            (x - wide / 2, above),
            (right, above + high / 2),
            (right, below - high / 2),
            (left, above + high / 2),
            (left, below - high / 2),
        ):
            yield Box(corner[0], corner[1], corner[0] + wide, corner[1] + high)


def place_label(thing: Box, size: tuple[float, float], taken: Sequence[Box], frame: Box) -> Box:
    """Choose the first free place beside a thing; where none is free, the least covered one.

    Parameters
    ----------
    thing : Box
        What is labelled.
    size : (width, height)
    taken : sequence of Box
        What a label must not cover.
    frame : Box
        Where labels may stand.

    Returns
    -------
    Box
    """

    def cost(box: Box) -> float:
        outside = box.width * box.height - box.overlap(frame)
        return round(_covered(box, taken) + 4 * outside, 6)

    places = list(places_beside(thing, size, gap=4.0))
    free = (box for box in places if cost(box) == 0.0)
    return next(free, None) or min(places, key=cost)


def _covered(box: Box, taken: Sequence[Box]) -> float:
    """Return the area that a box shares with others."""
    left, top, right, bottom = box.left, box.top, box.right, box.bottom
    # Most lie elsewhere; comparing sides is quicker than working out an area of zero.
    near = (o for o in taken if o.left < right and left < o.right and o.top < bottom and top < o.bottom)
    return sum(box.overlap(other) for other in near)
