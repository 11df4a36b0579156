"""Where a card runs out of the photo: a row or a column may lie outside, and the names of all others shift with it."""

from __future__ import annotations

import numpy as np

from swatchread.card.card_find import CardFind
from swatchread.colour.cielab import Floats
from swatchread.grid.sight_lines import GridView, largest_step
from swatchread.photo.masks import Mask
from swatchread.plane.finder_settings import settings

_SIDES = (("before column", "after column"), ("before row", "after row"))
"""What a side is called, by axis."""


def cut_sides(card: CardFind) -> tuple[str, ...]:
    """Return on which sides of its grid a card runs out of the photo so near that a row or column may lie outside.

    Parameters
    ----------
    card : CardFind

    Returns
    -------
    tuple of str
        Such as ``"after row 5"``.
    """
    cells = card.grid.cells
    if not cells:
        return ()
    view = GridView(card.plane.lab, card.surface.bare, card.surface.box[:2], card.grid)
    sides = [(axis, last) for axis in (1, 0) for last in (False, True)]
    cut = [(axis, last) for axis, last in sides if _runs_out(card, view, axis, last=last)]
    ends = (max(cell.column for cell in cells), max(cell.row for cell in cells))
    return tuple(f"{_SIDES[axis][last]} {ends[axis] if last else 1}" for axis, last in cut)


def _runs_out(card: CardFind, view: GridView, axis: int, *, last: bool) -> bool:
    known, step = settings(), view.step(axis)
    places, ground = view.outwards(axis, last=last, reach=known.sight.reach * step)
    inside = _within(card, places)
    leaves = ~inside.all(axis=1)
    length = np.where(leaves, (~inside).argmax(axis=1), inside.shape[1])  # steps within the photo
    beyond = np.arange(inside.shape[1]) >= length[:, None]
    bare = leaves & (ground | beyond).all(axis=1)
    if bare.mean() < known.extent.open:
        return False
    room = float(np.median(length[bare])) / inside.shape[1] * known.sight.reach * step
    if room > step - known.extent.room * view.half(axis, last=last):
        return False
    # Beyond the photo all is black, which would be a step.
    seen = view.colours(places[bare, : int(np.quantile(length[bare], known.sight.outliers))])
    return room < known.extent.no_room * step or largest_step(seen) < known.sight.edge


def _within(card: CardFind, places: Floats) -> Mask:
    """Tell which places of the plane, shape (n, steps, 2), lie within the photo."""
    photo = card.plane.sample.find.photo
    x, y = card.plane.photo_points(places.reshape(-1, 2)).T
    inside: Mask = (x >= 0) & (y >= 0) & (x <= photo.width - 1) & (y <= photo.height - 1)
    return inside.reshape(places.shape[:2])
