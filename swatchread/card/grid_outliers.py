"""Which painted areas belong to rows and columns, and which are writing, stains or lie elsewhere."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from swatchread.card.segmentation import Blob
from swatchread.colour.cielab import Floats
from swatchread.colour.order import distinct, median, medians, quantile
from swatchread.photo.geometry import rotation

_SMALL_LINE, _SMALL_LINE_OF_EVEN = 0.72, 0.62
_EVEN = 0.1
"""Half-width of a line of writing, over the usual, at most; of marks as even as paint, which pale paint is mostly, and
their roughness."""

_MANY = 6
_FAR = 3.0
_FEW = 0.25
_FULL_LINE = 3
_ORDINARY = 1.35
_ROUGH_LINE, _RATHER_ROUGH = 0.25, 0.2
_NARROWER = 0.85
_NEARLY_ALL = 0.2
_ROUGHER, _SMOOTHEST = 3.0, 0.1
_STROKES, _STROKES_OF_ONE = 0.3, 0.4
_NO_BROADER = 1.1
_INK_ROUGH, _ONE_INK = 0.25, 3.0
_MOSTLY, _SMALLER = 0.75, 0.95
"""What one pen has written: its roughness and the spread of its colour, CIELAB units; the share of all rough marks, and
its half-width over that of the broader others."""

_MANY_ACROSS = 5
_CORNERS = 0.85
_ONE_TAPE = 6.0
"""Tape at a card's corners: from so many places in a line, its distance over the line's length, and how far its colour
may differ under the light at both, CIELAB units."""

Lines = npt.NDArray[np.int64]


def without_grid_outliers(members: list[Blob], rows: Lines, columns: Lines, angle: float) -> npt.NDArray[np.intp]:
    """Return the indices of the painted areas that belong to the grid.

    Where a card has several, one alone in both its row and its column is a stain; one alone in either must look like
    the others, since a false one would shift the numbers of all. A few that lie far from the others are no swatches.

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
    usual = median(radius)
    odd = (radius < 0.7 * usual) | (radius > 1.5 * usual)
    odd |= (solid < min(0.88, median(solid) - 0.05)) | (sharp < 0.75 * median(sharp))
    single_file = len(distinct(columns[~odd])) == 1 or len(distinct(rows[~odd])) == 1
    rough = np.array([b.rough for b in members])
    places = np.array([b.centre for b in members]) @ rotation(angle)
    strokes = _in_rough_line(rows, rough, radius) | _in_rough_line(columns, rough, radius)
    rest = ~strokes  # writing below the swatches, in rows of its own, would make their columns small
    small = np.zeros(len(members), dtype=bool)
    for lines in (rows, columns) if rest.any() else ():
        small[rest] |= _in_small_line(lines[rest], radius[rest], rough[rest], usual)
    stray = (
        small
        | strokes
        | _between_lines(rows, places[:, 1])
        | _between_lines(columns, places[:, 0])
        | _of_one_ink(members, rows, columns, rough, radius)
        | _held_by(members, rows, columns, places[:, 0])
        | _held_by(members, columns, rows, places[:, 1])
        | _far(members, rows, columns, places)
        | (alone_r & alone_c)
        | ((alone_r | alone_c) & odd & (not single_file))
        | (odd & single_file & _off(members))
    )
    return np.flatnonzero(~stray)


def _far(members: list[Blob], rows: Lines, columns: Lines, places: Floats) -> npt.NDArray[np.bool_]:
    """Tell which marks are few and lie several steps of the grid from all others."""
    if len(members) < _MANY:
        return np.zeros(len(members), dtype=bool)
    apart = np.abs(places[:, None] - places)
    extent = median(np.array([b.size.mean() for b in members]))
    apart[..., 0] /= _step(apart[..., 0], rows, extent)
    apart[..., 1] /= _step(apart[..., 1], columns, extent)
    near = np.hypot(apart[..., 0], apart[..., 1]) < _FAR
    block = connected(near)
    size = np.bincount(block, minlength=len(members))[block]
    return np.asarray(size < _FEW * size.max())


def connected(near: npt.NDArray[np.bool_]) -> Lines:
    """Return for each of some things the lowest number among those that it hangs together with.

    Parameters
    ----------
    near : ndarray of bool, shape (n, n)
        Which hang together directly, each with itself.
    """
    block = np.arange(len(near))
    while True:
        lowest = np.where(near, block, len(near)).min(axis=1, initial=len(near))
        if (lowest == block).all():
            return np.asarray(block, dtype=np.int64)
        block = lowest[lowest]


def _step(apart: Floats, lines: Lines, extent: float) -> float:
    """Return the usual step from one mark to the next of its line."""
    own = (lines[:, None] == lines) & (apart > 0.0)
    nearest = np.where(own, apart, np.inf).min(axis=1)
    nearest = nearest[np.isfinite(nearest)]
    return max(median(nearest), extent) if len(nearest) else 2.0 * extent


def _in_small_line(lines: Lines, radius: Floats, rough: Floats, usual: float) -> npt.NDArray[np.bool_]:
    """Tell which marks stand in a line of small ones, sparser than the others: writing beside the swatches."""
    small = np.zeros(len(lines), dtype=bool)
    count = np.bincount(lines)
    full = median(count[count > 0])
    for line in distinct(lines):
        index = lines == line
        middle = median(radius[index])
        even = count[line] >= full and bool((rough[index] < _EVEN).all())
        least = _SMALL_LINE_OF_EVEN if even else _SMALL_LINE
        if middle < least * usual or (middle < 0.8 * usual and count[line] <= 0.6 * full):
            small |= index
    return small


def _between_lines(lines: Lines, along: Floats) -> npt.NDArray[np.bool_]:
    """Tell which marks stand alone halfway between two lines that are an ordinary step apart."""
    odd = np.zeros(len(lines), dtype=bool)
    numbers, count = np.unique(lines, return_counts=True)
    full = numbers[count >= _FULL_LINE]
    if len(full) < 4:
        return odd
    at = np.array([along[lines == number].mean() for number in full])
    # Lines of two count for the step: without them a line of one could lie halfway between lines two steps apart.
    several = np.array([along[lines == number].mean() for number in numbers[count > 1]])
    usual = median(np.diff(several))
    for number in numbers[count == 1]:
        own = lines == number
        after = int(np.searchsorted(full, number))
        if 0 < after < len(full) and at[after] - at[after - 1] < _ORDINARY * usual:
            odd |= own
    return odd


def _in_rough_line(lines: Lines, rough: Floats, radius: Floats) -> npt.NDArray[np.bool_]:
    """Tell which marks stand in a line of marks that are all rough and rather small: writing beside the swatches."""
    odd = np.zeros(len(lines), dtype=bool)
    single_file = len(distinct(lines)) == len(lines)
    for line in distinct(lines):
        own, rest = lines == line, lines != line
        least = np.sort(rough[own])[int(_NEARLY_ALL * own.sum())]
        if not rest.any() or (own.sum() == 1 and (least < _STROKES_OF_ONE or single_file)):
            continue
        broadest = quantile(radius[rest], 0.75)
        if least > _STROKES:  # not even a dry brush leaves as little paint as a pen does
            broadest *= _NO_BROADER
        elif least < _ROUGH_LINE:
            broadest *= _NARROWER
        rougher = least > max(_RATHER_ROUGH, _ROUGHER * quantile(rough[rest], _SMOOTHEST))
        if rougher and median(radius[own]) < broadest:
            odd |= own
    return odd


def _of_one_ink(
    members: list[Blob], rows: Lines, columns: Lines, rough: Floats, radius: Floats
) -> npt.NDArray[np.bool_]:
    """Tell which marks stand in lines of marks that are all rough and of one colour: writing, all with one pen."""
    odd = np.zeros(len(members), dtype=bool)
    rougher = rough > _INK_ROUGH
    if rougher.sum() < 2:
        return odd
    colours = np.array([b.lab for b in members])
    near = np.linalg.norm(colours - medians(colours[rougher]), axis=1) < _ONE_INK
    inky = rougher & near
    most = inky.sum() >= max(2.0, _MOSTLY * rougher.sum()) and 2 * inky.sum() <= len(members)
    # Paints have sisters without a glint, and are no smaller than the others.
    if not most or (near & ~rougher).any() or median(radius[inky]) > _SMALLER * quantile(radius[~inky], 0.75):
        return odd
    for lines in (rows, columns):
        for line in distinct(lines[inky]):
            odd |= (lines == line) & bool(inky[lines == line].all())
    return odd


def _held_by(members: list[Blob], lines: Lines, across: Lines, along: Floats) -> npt.NDArray[np.bool_]:
    """Tell which marks hold a card at two of its corners: the only two of an end line, far apart and of one colour."""
    tape = np.zeros(len(members), dtype=bool)
    if len(distinct(across)) < _MANY_ACROSS or len(distinct(lines)) < 2:
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


def _off(members: list[Blob]) -> npt.NDArray[np.bool_]:
    """Tell which marks of a single row or column are of quite another size."""
    radius = np.array([b.radius for b in members])
    usual = median(radius)
    return np.asarray((radius < 0.6 * usual) | (radius > 1.8 * usual))
