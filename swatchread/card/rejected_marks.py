"""Painted areas that do not belong to a grid: writing, stains, tape, and marks that lie apart."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from swatchread.card.grid_lines import Lines
from swatchread.card.masks import Mask
from swatchread.card.segmentation import Blob
from swatchread.card.settings import rules
from swatchread.colour.cielab import Floats
from swatchread.photo.geometry import rotation

# Measured on development scenes. "Usual" is the median over all marks; roughness is that of `Blob.rough`.

_SMALL, _LARGE = 0.7, 1.5
"""A mark alone in its line is odd if its half-width over the usual one is outside these."""

_SOLID, _LESS_SOLID, _LESS_SHARP = 0.88, 0.05, 0.75
"""Such a mark is odd if it fills less of its hull, and so much less than usual; or if it is less sharp than usual."""

_SMALL_LINE, _SMALL_LINE_OF_EVEN = 0.72, 0.62
"""A line is writing if its half-width over the usual one is less; the second is for marks as even as paint."""

_EVEN = 0.1
"""Roughness below which a mark is as even as paint."""

_RATHER_SMALL, _SPARSE = 0.8, 0.6
"""A line is writing too if it is less small than that, but sparser than the usual line by this factor."""

_MANY, _FAR, _FEW = 6, 3.0, 0.25
"""Of so many marks or more, those that lie further than so many steps from the others go, if they are so few."""

_FULL_LINE, _ORDINARY = 3, 1.35
"""Marks that make a line full; and the step between full lines, over the usual one, that leaves no line between."""

_NEARLY_ALL = 0.2
"""Quantile of its marks' roughness by which a line is judged."""

_ROUGH_LINE, _RATHER_ROUGH = 0.25, 0.2
"""Roughness of a line of writing, and of a line that must be narrower as well to be writing."""

_NARROWER, _NO_BROADER = 0.85, 1.1
"""Half-width of writing over that of the broader others: of a rather rough line, and of one as rough as strokes."""

_BROADER, _SMOOTHEST, _ROUGHER = 0.75, 0.1, 3.0
"""Quantiles for the broader and for the smoothest others, and how much rougher than the smoothest writing is."""

_STROKES, _STROKES_OF_ONE = 0.3, 0.4
"""Roughness that no dry brush reaches: of a line, and of a line of one mark."""

_INK_ROUGH, _ONE_INK = 0.25, 3.0
"""Roughness of what a pen has written, and the spread of one pen's colour, CIELAB units."""

_MOSTLY, _SMALLER = 0.75, 0.95
"""Share of all rough marks that one pen must have written, and their half-width over that of the broader others."""

_MANY_ACROSS, _CORNERS, _ONE_TAPE = 5, 0.85, 6.0
"""Tape at a card's corners: places in a line, the tape's distance over the line's length, and its colours' difference
under the light at both corners, CIELAB units."""

_TINY, _HUGE = 0.6, 1.8
"""A mark in a single row or column is odd if its half-width over the usual one is outside these."""


def without_rejected_marks(members: list[Blob], rows: Lines, columns: Lines, angle: float) -> npt.NDArray[np.intp]:
    """Return the indices of the painted areas that belong to the grid.

    A mark alone in both its row and its column is a stain. A mark alone in one of them must look like the others, since
    a false one would change the numbers of all. A few marks that lie far from the others are not swatches.

    Parameters
    ----------
    members : list of Blob
    rows, columns : ndarray of int, shape (n,)
        The lines in which they stand.
    angle : float
        Of the rows, radians.

    Returns
    -------
    ndarray of int
    """
    if len(rows) < 4:
        return np.arange(len(rows))
    alone_r, alone_c = np.bincount(rows)[rows] == 1, np.bincount(columns)[columns] == 1
    radius = np.array([b.radius for b in members])
    solid = np.array([b.solid for b in members])
    sharp = np.array([b.sharp for b in members])
    usual = float(np.median(radius))
    odd = (radius < _SMALL * usual) | (radius > _LARGE * usual)
    odd |= (solid < min(_SOLID, np.median(solid) - _LESS_SOLID)) | (sharp < _LESS_SHARP * np.median(sharp))
    single_file = len(np.unique(columns[~odd])) == 1 or len(np.unique(rows[~odd])) == 1
    rough = np.array([b.rough for b in members])
    places = np.array([b.centre for b in members]) @ rotation(angle)
    strokes = _in_rough_line(rows, rough, radius) | _in_rough_line(columns, rough, radius)
    strokes = strokes if strokes.any() and rules().rough_line else np.zeros_like(strokes)
    rest = ~strokes  # writing in rows of its own would make the columns of the swatches above it small
    small = np.zeros(len(members), dtype=bool)
    for lines in (rows, columns) if rest.any() else ():
        small[rest] |= _in_small_line(lines[rest], radius[rest], rough[rest], usual)
    found = {
        "small_line": small,
        "rough_line": strokes,
        "between_lines": _between_lines(rows, places[:, 1]) | _between_lines(columns, places[:, 0]),
        "one_pen": _of_one_pen(members, rows, columns, rough, radius),
        "tape": _tape_at_corners(members, rows, columns, places[:, 0])
        | _tape_at_corners(members, columns, rows, places[:, 1]),
        "far_away": _far_away(members, rows, columns, places),
        "alone_in_both": alone_r & alone_c,
        "odd_alone": (alone_r | alone_c) & odd & (not single_file),
        "odd_size": odd & single_file & _of_odd_size(members),
    }
    stray = np.zeros(len(members), dtype=bool)
    for name, those in found.items():
        if those.any() and getattr(rules(), name):
            stray |= those
    return np.flatnonzero(~stray)


def _far_away(members: list[Blob], rows: Lines, columns: Lines, places: Floats) -> Mask:
    """Tell which marks are few and lie several steps of the grid from all others."""
    if len(members) < _MANY:
        return np.zeros(len(members), dtype=bool)
    apart = np.abs(places[:, None] - places)
    extent = float(np.median([b.size.mean() for b in members]))
    apart[..., 0] /= _step(apart[..., 0], rows, extent)
    apart[..., 1] /= _step(apart[..., 1], columns, extent)
    group = connected(np.hypot(apart[..., 0], apart[..., 1]) < _FAR)
    size = np.bincount(group)[group]
    few: Mask = size < _FEW * size.max()
    return few


def connected(near: Mask) -> Lines:
    """Return the number of the group to which each of some things belongs.

    Parameters
    ----------
    near : ndarray of bool, shape (n, n)
        Which things are connected directly.
    """
    from scipy.sparse.csgraph import connected_components

    groups: Lines = connected_components(near, directed=False)[1].astype(np.int64)
    return groups


def _step(apart: Floats, lines: Lines, extent: float) -> float:
    """Return the usual step from one mark to the next of its line."""
    own = (lines[:, None] == lines) & (apart > 0.0)
    nearest = np.where(own, apart, np.inf).min(axis=1)
    nearest = nearest[np.isfinite(nearest)]
    return max(float(np.median(nearest)), extent) if len(nearest) else 2.0 * extent


def _in_small_line(lines: Lines, radius: Floats, rough: Floats, usual: float) -> Mask:
    """Tell which marks stand in a line of small ones, sparser than the others: writing beside the swatches."""
    small = np.zeros(len(lines), dtype=bool)
    count = np.bincount(lines)
    full = np.median(count[count > 0])
    for line in np.unique(lines):
        index = lines == line
        middle = np.median(radius[index])
        even = count[line] >= full and bool((rough[index] < _EVEN).all())
        least = _SMALL_LINE_OF_EVEN if even else _SMALL_LINE
        least = (
            least
            if middle >= _SMALL_LINE * usual or least == _SMALL_LINE or rules().small_line_of_even
            else _SMALL_LINE
        )
        if middle < least * usual or (
            middle < _RATHER_SMALL * usual and count[line] <= _SPARSE * full and rules().rather_small_line
        ):
            small |= index
    return small


def _between_lines(lines: Lines, along: Floats) -> Mask:
    """Tell which marks stand alone halfway between two lines that are an ordinary step apart."""
    odd = np.zeros(len(lines), dtype=bool)
    numbers, count = np.unique(lines, return_counts=True)
    full = numbers[count >= _FULL_LINE]
    if len(full) < 4:
        return odd
    at = np.array([along[lines == number].mean() for number in full])
    # Lines of two marks tell the step too: a line of one may lie halfway between full lines two steps apart.
    several = np.array([along[lines == number].mean() for number in numbers[count > 1]])
    usual = np.median(np.diff(several))
    for number in numbers[count == 1]:
        own = lines == number
        after = int(np.searchsorted(full, number))
        if 0 < after < len(full) and at[after] - at[after - 1] < _ORDINARY * usual:
            odd |= own
    return odd


def _in_rough_line(lines: Lines, rough: Floats, radius: Floats) -> Mask:
    """Tell which marks stand in a line of marks that are all rough and rather small: writing beside the swatches."""
    odd = np.zeros(len(lines), dtype=bool)
    single_file = len(np.unique(lines)) == len(lines)
    for line in np.unique(lines):
        own, rest = lines == line, lines != line
        least = np.sort(rough[own])[int(_NEARLY_ALL * own.sum())]
        if not rest.any() or (own.sum() == 1 and (least < _STROKES_OF_ONE or single_file)):
            continue
        broadest = np.quantile(radius[rest], _BROADER)
        if least > _STROKES:  # rougher than any dry brush
            broadest *= _NO_BROADER
        elif least < _ROUGH_LINE:
            broadest *= _NARROWER
        rougher = least > max(_RATHER_ROUGH, _ROUGHER * np.quantile(rough[rest], _SMOOTHEST))
        if rougher and np.median(radius[own]) < broadest:
            odd |= own
    return odd


def _of_one_pen(members: list[Blob], rows: Lines, columns: Lines, rough: Floats, radius: Floats) -> Mask:
    """Tell which marks stand in lines of marks that are all rough and of one colour: writing by one pen."""
    odd = np.zeros(len(members), dtype=bool)
    rougher = rough > _INK_ROUGH
    if rougher.sum() < 2:
        return odd
    colours = np.array([b.lab for b in members])
    near = np.linalg.norm(colours - np.median(colours[rougher], axis=0), axis=1) < _ONE_INK
    inky = rougher & near
    most = inky.sum() >= max(2.0, _MOSTLY * rougher.sum()) and 2 * inky.sum() <= len(members)
    # A rough paint mostly has even swatches too, and its swatches are no smaller than the others.
    if not most or (near & ~rougher).any() or np.median(radius[inky]) > _SMALLER * np.quantile(radius[~inky], _BROADER):
        return odd
    for lines in (rows, columns):
        for line in np.unique(lines[inky]):
            odd |= (lines == line) & bool(inky[lines == line].all())
    return odd


def _tape_at_corners(members: list[Blob], lines: Lines, across: Lines, along: Floats) -> Mask:
    """Tell which marks are tape at two corners of a card: alone in an end line, far apart and of one colour."""
    tape = np.zeros(len(members), dtype=bool)
    if len(np.unique(across)) < _MANY_ACROSS or len(np.unique(lines)) < 2:
        return tape
    for end in {int(lines.min()), int(lines.max())}:
        own = lines == end
        if own.sum() != 2:
            continue
        one, other = (members[k] for k in np.flatnonzero(own))
        wide = np.ptp(along[own]) > _CORNERS * np.ptp(along[~own])
        if wide and np.linalg.norm(one.lab - other.lab) < _ONE_TAPE:
            tape |= own
    return tape


def _of_odd_size(members: list[Blob]) -> Mask:
    """Tell which marks of a single row or column are of quite another size."""
    radius = np.array([b.radius for b in members])
    usual = float(np.median(radius))
    return (radius < _TINY * usual) | (radius > _HUGE * usual)
