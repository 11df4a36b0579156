"""Lattices: groups of like regions that stand in rows and columns, seen in perspective."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from swatchread.chart.patch_candidates import Regions
from swatchread.colour.cielab import Floats
from swatchread.colour.order import median
from swatchread.photo.geometry import fit_homography, project

_MIN_MEMBERS = 6
_NEAR = (0.95, 1.55)
"""Distance of neighbours in units of the side of a region: patches fill 65 to 100 % of the pitch."""


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
    if len(regions) < _MIN_MEMBERS:
        return []
    neighbour, step = _neighbours(regions)
    free = np.ones(len(regions), dtype=bool)
    tried = np.zeros(len(regions), dtype=bool)
    lattices = []
    for seed in np.argsort(-neighbour.sum(axis=1), kind="stable"):
        if not free[seed] or tried[seed] or neighbour[seed].sum() < 2:
            continue
        members, places = _grow(int(seed), neighbour, step, regions, free)
        tried[members] = True
        if len(members) < _MIN_MEMBERS:
            continue
        lattice, used = _settle(members, places, regions, free)
        if lattice is not None:
            free[used] = False
            lattices.append(lattice)
    return sorted(lattices, key=lambda lattice: -len(lattice.places))


def _neighbours(regions: Regions) -> tuple[npt.NDArray[np.bool_], Floats]:
    """Return who is whose neighbour, and where in units of the first one's sides, shape (n, n, 2)."""
    basis = np.stack([regions.side_u, regions.side_v], axis=-1)
    apart = regions.centre[None, :, :] - regions.centre[:, None, :]
    step = apart @ np.linalg.inv(basis).transpose(0, 2, 1)
    right, down = np.abs(step[..., 0]), np.abs(step[..., 1])  # numpy is slow along an axis of two
    long, short = np.maximum(right, down), np.minimum(right, down)
    ratio = regions.area[None, :] / regions.area[:, None]
    ok = (long > _NEAR[0]) & (long < _NEAR[1]) & (short < 0.35) & (ratio > 0.4) & (ratio < 2.5)
    return ok & ok.T, step


def _grow(
    seed: int, neighbour: npt.NDArray[np.bool_], step: Floats, regions: Regions, free: npt.NDArray[np.bool_]
) -> tuple[list[int], list[tuple[int, int]]]:
    """Walk from neighbour to neighbour, giving each region its place relative to the seed."""
    place = {seed: (0, 0)}
    turn = {seed: np.eye(2, dtype=np.int64)}
    taken = {(0, 0)}
    basis = np.stack([regions.side_u, regions.side_v], axis=-1)
    inverse = np.linalg.inv(basis)
    queue = [seed]
    while queue:
        here = queue.pop(0)
        for there in np.flatnonzero(neighbour[here] & free):
            if int(there) in place:
                continue
            axis = int(np.argmax(np.abs(step[here, there])))
            local = np.zeros(2, dtype=np.int64)
            local[axis] = int(np.sign(step[here, there, axis]))
            move = turn[here] @ local
            target = (place[here][0] + int(move[0]), place[here][1] + int(move[1]))
            if target in taken:
                continue
            place[int(there)] = target
            taken.add(target)
            # The other region's sides, told in this one's: a signed permutation keeps the directions alike.
            mixing = inverse[here] @ basis[there]
            turn[int(there)] = turn[here] @ _signed_permutation(mixing)
            queue.append(int(there))
    return list(place), list(place.values())


def _signed_permutation(mixing: Floats) -> npt.NDArray[np.int64]:
    straight = abs(mixing[0, 0]) + abs(mixing[1, 1]) >= abs(mixing[0, 1]) + abs(mixing[1, 0])
    pattern = np.eye(2) if straight else np.eye(2)[::-1]
    return (np.sign(mixing) * pattern).astype(np.int64)


def _settle(
    members: list[int], places: list[tuple[int, int]], regions: Regions, free: npt.NDArray[np.bool_]
) -> tuple[Lattice | None, npt.NDArray[np.intp]]:
    """Fit the perspective, drop strays, take in regions that stand on empty places."""
    index, grid = np.array(members), np.array(places, dtype=np.float64)
    nothing = np.zeros(0, dtype=np.intp)
    homography = np.eye(3)
    for _ in range(4):
        if len(index) < _MIN_MEMBERS or min(np.ptp(grid[:, 0]), np.ptp(grid[:, 1])) < 1:
            return None, nothing
        homography = fit_homography(grid, regions.centre[index])
        off, pitch = miss(homography, grid, regions.centre[index])
        good = off < 0.25 * pitch
        if not good.all():
            index, grid = index[good], grid[good]
            continue
        others = free.copy()
        others[index] = False
        more, where = take_in(homography, regions, np.flatnonzero(others), grid)
        if not len(more):
            break
        index, grid = np.append(index, more), np.concatenate([grid, where])
    if len(index) < _MIN_MEMBERS or min(np.ptp(grid[:, 0]), np.ptp(grid[:, 1])) < 1:
        return None, nothing
    origin = grid.min(axis=0)
    grid = grid - origin
    homography = fit_homography(grid, regions.centre[index])
    _, pitch = miss(homography, grid, regions.centre[index])
    lattice = Lattice(homography, grid.astype(np.int64), regions.centre[index], median(pitch))
    return lattice, index.astype(np.intp)


def miss(homography: Floats, grid: Floats, centres: Floats) -> tuple[Floats, Floats]:
    """Return how far each centre is from its place, and the local pitch, pixels."""
    here = project(homography, grid)
    right, down = project(homography, grid + np.array([1.0, 0.0])), project(homography, grid + np.array([0.0, 1.0]))
    pitch = np.sqrt(np.hypot(*(right - here).T) * np.hypot(*(down - here).T))
    return np.hypot(*(here - centres).T), pitch


def take_in(
    homography: Floats, regions: Regions, candidates: npt.NDArray[np.intp], grid: Floats
) -> tuple[npt.NDArray[np.intp], Floats]:
    """Return regions that stand on empty places near the members, of the size that the place asks for."""
    if not len(candidates):
        return candidates, np.zeros((0, 2))
    back = project(np.linalg.inv(homography), regions.centre[candidates])
    places: Floats = np.asarray(np.round(back), dtype=np.float64)
    inside = (places >= grid.min(axis=0) - 2).all(axis=1) & (places <= grid.max(axis=0) + 2).all(axis=1)
    off, pitch = miss(homography, places, regions.centre[candidates])
    size = np.sqrt(regions.area[candidates]) / np.maximum(pitch, 1e-9)
    good = inside & (off < 0.2 * pitch) & (size > 0.55) & (size < 1.1)
    seen = {tuple(p) for p in grid.tolist()}
    keep = []
    for k in np.flatnonzero(good):
        place = tuple(places[k].tolist())
        if place not in seen:
            seen.add(place)
            keep.append(k)
    return candidates[keep], places[keep]
