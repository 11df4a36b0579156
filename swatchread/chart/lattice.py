"""Lattices: groups of similar regions that stand in rows and columns, seen in perspective."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from swatchread.chart.patch_candidates import Regions
from swatchread.colour.cielab import Floats
from swatchread.photo.geometry import fit_homography, project

_LEAST_MEMBERS = 6
"""Fewest regions that make a lattice: a quarter of a classic chart's patches."""

_NEIGHBOUR_DISTANCE = (0.95, 1.55)
"""Distance of neighbours in units of the side of a region: patches fill 65 to 100 % of the pitch."""

_NEIGHBOUR_OFFSET = 0.35
"""Largest offset of a neighbour across that direction, in the same units: rows of a tilted chart fan out."""

AREA_RATIO = 2.5
"""Largest ratio of the areas of two neighbours: perspective and blurred edges change them."""

_STRAY = 0.25
"""Distance from its place beyond which a region is no member, pitches."""

_JOINING = 0.2
"""Distance from an empty place within which a region joins the lattice, pitches."""

_JOINING_SIZE = (0.55, 1.1)
"""Side of a region that joins, pitches."""

_AT_A_TIME = 64
"""Regions whose neighbours are looked for at a time, so that their distances stay in the processor's cache."""

_ROUNDS = 4
"""Most rounds of dropping strays and joining regions."""


@dataclass(frozen=True, eq=False)
class Lattice:
    """Regions with whole-number places.

    Attributes
    ----------
    homography : ndarray, shape (3, 3)
        From places (column, row) to pixels.
    places : ndarray, shape (n, 2), int
        (column, row) of each member; their smallest is (0, 0).
    centres : ndarray, shape (n, 2)
        Pixels.
    pitch : float
        Typical distance between neighbours, pixels.
    """

    homography: Floats
    places: npt.NDArray[np.int64]
    centres: Floats
    pitch: float


def find_lattices(regions: Regions) -> list[Lattice]:
    """Group regions into lattices, the one with most members first.

    Parameters
    ----------
    regions : Regions

    Returns
    -------
    list of Lattice
        A region belongs to one lattice at most.
    """
    if len(regions) < _LEAST_MEMBERS:
        return []
    neighbour = neighbours(regions, _NEIGHBOUR_DISTANCE, _NEIGHBOUR_OFFSET)
    free = np.ones(len(regions), dtype=bool)
    tried = np.zeros(len(regions), dtype=bool)
    lattices = []
    for seed in np.argsort(-neighbour.sum(axis=1), kind="stable"):
        if not free[seed] or tried[seed] or neighbour[seed].sum() < 2:
            continue
        members, places = _walk_neighbours(int(seed), neighbour, regions, free)
        tried[members] = True
        if len(members) < _LEAST_MEMBERS:
            continue
        lattice, used = _fit_lattice(members, places, regions, free)
        if lattice is not None:
            free[used] = False
            lattices.append(lattice)
    return sorted(lattices, key=lambda lattice: -len(lattice.places))


def neighbours(regions: Regions, distance: tuple[float, float], offset: float) -> npt.NDArray[np.bool_]:
    """Return which regions may be neighbours in a row or column.

    Parameters
    ----------
    regions : Regions
    distance : tuple of float
        Least and largest distance of two neighbours, in units of a region's side.
    offset : float
        Largest offset across that direction, in the same units.

    Returns
    -------
    ndarray, shape (n, n), bool
    """
    near = np.zeros((len(regions), len(regions)), dtype=bool)
    (x, y), area, inverse = regions.centre.T, regions.area, _into_sides(regions)
    for first in range(0, len(regions), _AT_A_TIME):
        some = slice(first, first + _AT_A_TIME)
        apart_x, apart_y = np.subtract.outer(x[some], x), np.subtract.outer(y[some], y)
        (a, b), (c, d) = inverse[some].transpose(1, 2, 0)[..., None]
        right, down = np.abs(apart_x * a + apart_y * b), np.abs(apart_x * c + apart_y * d)
        long, short = np.maximum(right, down), np.minimum(right, down)
        ratio = area / area[some, None]
        near[some] = (long > distance[0]) & (long < distance[1]) & (short < offset)
        near[some] &= (ratio > 1.0 / AREA_RATIO) & (ratio < AREA_RATIO)
    return near & near.T


def _into_sides(regions: Regions) -> Floats:
    """Return the matrices from pixels to units of each region's sides, shape (n, 2, 2)."""
    return np.linalg.inv(np.stack([regions.side_u, regions.side_v], axis=-1))


def _walk_neighbours(
    seed: int, neighbour: npt.NDArray[np.bool_], regions: Regions, free: npt.NDArray[np.bool_]
) -> tuple[list[int], list[tuple[int, int]]]:
    """Walk from neighbour to neighbour, giving each region its place relative to the seed."""
    place = {seed: (0, 0)}
    turn = {seed: np.eye(2, dtype=np.int64)}
    taken = {(0, 0)}
    basis, inverse = np.stack([regions.side_u, regions.side_v], axis=-1), _into_sides(regions)
    queue = [seed]
    while queue:
        here = queue.pop(0)
        for there in np.flatnonzero(neighbour[here] & free):
            if int(there) in place:
                continue
            step = inverse[here] @ (regions.centre[there] - regions.centre[here])
            axis = int(np.argmax(np.abs(step)))
            local = np.zeros(2, dtype=np.int64)
            local[axis] = int(np.sign(step[axis]))
            move = turn[here] @ local
            target = (place[here][0] + int(move[0]), place[here][1] + int(move[1]))
            if target in taken:
                continue
            place[int(there)] = target
            taken.add(target)
            # The other region's sides in units of this one's: a signed permutation makes the directions agree.
            mixing = inverse[here] @ basis[there]
            turn[int(there)] = turn[here] @ _signed_permutation(mixing)
            queue.append(int(there))
    return list(place), list(place.values())


def _signed_permutation(mixing: Floats) -> npt.NDArray[np.int64]:
    straight = abs(mixing[0, 0]) + abs(mixing[1, 1]) >= abs(mixing[0, 1]) + abs(mixing[1, 0])
    pattern = np.eye(2) if straight else np.eye(2)[::-1]
    return (np.sign(mixing) * pattern).astype(np.int64)


def _fit_lattice(
    members: list[int], places: list[tuple[int, int]], regions: Regions, free: npt.NDArray[np.bool_]
) -> tuple[Lattice | None, npt.NDArray[np.intp]]:
    """Fit the perspective, drop strays, and let regions on empty places join; return the lattice and its regions."""
    index, grid = np.array(members), np.array(places, dtype=np.float64)
    nothing = np.zeros(0, dtype=np.intp)
    for _ in range(_ROUNDS):
        if _too_few(grid):
            return None, nothing
        homography = fit_homography(grid, regions.centre[index])
        off, pitch = distance_from_places(homography, grid, regions.centre[index])
        good = off < _STRAY * pitch
        if not good.all():
            index, grid = index[good], grid[good]
            continue
        others = free.copy()
        others[index] = False
        more, where = joining_regions(homography, regions, np.flatnonzero(others), grid)
        if not len(more):
            break
        index, grid = np.append(index, more), np.concatenate([grid, where])
    if _too_few(grid):
        return None, nothing
    grid = grid - grid.min(axis=0)
    return lattice_of(fit_homography(grid, regions.centre[index]), grid, regions.centre[index]), index.astype(np.intp)


def _too_few(grid: Floats) -> bool:
    """Tell whether places are too few for a lattice, or all in one row or column."""
    return len(grid) < _LEAST_MEMBERS or bool(np.ptp(grid, axis=0).min() < 1)


def lattice_of(homography: Floats, grid: Floats, centres: Floats) -> Lattice:
    """Return the lattice of some members.

    Parameters
    ----------
    homography : ndarray, shape (3, 3)
        From places to pixels.
    grid, centres : ndarray, shape (n, 2)
        Places (column, row) and centres of the members, pixels.

    Returns
    -------
    Lattice
    """
    _, pitch = distance_from_places(homography, grid, centres)
    return Lattice(homography, grid.astype(np.int64), centres, float(np.median(pitch)))


def distance_from_places(homography: Floats, grid: Floats, centres: Floats) -> tuple[Floats, Floats]:
    """Return how far centres are from their places.

    Parameters
    ----------
    homography : ndarray, shape (3, 3)
        From places to pixels.
    grid, centres : ndarray, shape (n, 2)
        Places (column, row), and the centres that should be there, pixels.

    Returns
    -------
    off, pitch : ndarray, shape (n,)
        The distance of each, and the pitch of the lattice there, pixels.
    """
    here = project(homography, grid)
    right, down = project(homography, grid + np.array([1.0, 0.0])), project(homography, grid + np.array([0.0, 1.0]))
    pitch = np.sqrt(np.hypot(*(right - here).T) * np.hypot(*(down - here).T))
    return np.hypot(*(here - centres).T), pitch


def joining_regions(
    homography: Floats, regions: Regions, candidates: npt.NDArray[np.intp], grid: Floats
) -> tuple[npt.NDArray[np.intp], Floats]:
    """Return regions that stand on empty places near the members of a lattice and have the size of a patch there.

    Parameters
    ----------
    homography : ndarray, shape (3, 3)
        From places to pixels.
    regions : Regions
    candidates : ndarray, shape (k,), int
        Indices of the regions that belong to no lattice.
    grid : ndarray, shape (n, 2)
        Places (column, row) of the members.

    Returns
    -------
    joining : ndarray, shape (m,), int
    places : ndarray, shape (m, 2)
    """
    if not len(candidates):
        return candidates, np.zeros((0, 2))
    places = np.round(project(np.linalg.inv(homography), regions.centre[candidates]))
    inside = (places >= grid.min(axis=0) - 2).all(axis=1) & (places <= grid.max(axis=0) + 2).all(axis=1)
    off, pitch = distance_from_places(homography, places, regions.centre[candidates])
    size = np.sqrt(regions.area[candidates]) / np.maximum(pitch, 1e-9)
    good = inside & (off < _JOINING * pitch) & (size > _JOINING_SIZE[0]) & (size < _JOINING_SIZE[1])
    taken = {tuple(place) for place in grid.tolist()}
    keep = []
    for k in np.flatnonzero(good):
        place = tuple(places[k].tolist())
        if place not in taken:
            taken.add(place)
            keep.append(k)
    return candidates[keep], places[keep]
