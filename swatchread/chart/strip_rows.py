"""Single rows of similar regions: strips of one row of chips.

Centres in one line fix no perspective, so the corners of the regions are fitted as well.
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import numpy.typing as npt

from swatchread.chart.lattice import AREA_RATIO, Lattice, distance_from_places, joining_regions, lattice_of, neighbours
from swatchread.chart.patch_candidates import Regions
from swatchread.colour.cielab import Floats
from swatchread.photo.geometry import fit_homography

_LEAST_CHIPS, _MOST_CHIPS = 6, 60
"""Fewest and most regions that make a row."""

_NEIGHBOUR_DISTANCE = (0.75, 1.7)
"""Distance of neighbours in units of the side of a region. The range is wider than in a lattice, because the region of
a pale chip may take in the gap beside it."""

_NEIGHBOUR_OFFSET = 0.3
"""Largest offset of a neighbour across the row, in the same units."""

_STRAY = 0.2
"""Distance from its place beyond which a region does not belong to the row, pitches."""

_MOST_GAPS = 2
"""Most places in a row that may be empty one after the other."""

_ROUNDS = 3
"""Rounds of dropping strays and joining regions."""

_CORNERS = np.array([[-0.5, -0.5], [0.5, -0.5], [0.5, 0.5], [-0.5, 0.5]])
"""Corners of a square about its centre, in units of its side."""


def find_rows(regions: Regions) -> list[Lattice]:
    """Group regions into lattices of one row each, the one with most members first.

    Parameters
    ----------
    regions : Regions

    Returns
    -------
    list of Lattice
        Groups of several rows are left to `find_lattices`.
    """
    if len(regions) < _LEAST_CHIPS:
        return []
    pairs = _pairs(regions)
    seen: set[tuple[int, int]] = set()
    chains = []
    for one, other in pairs:
        if (one, other) in seen:
            continue
        chain = _walk(regions, one, other)
        line = [chain[k] for k in sorted(chain)]
        seen.update(pairwise(line))
        seen.update(pairwise(line[::-1]))
        if len(chain) >= _LEAST_CHIPS:
            chains.append(chain)
    rows, used = [], np.zeros(len(regions), dtype=bool)
    for chain in sorted(chains, key=lambda c: -len(c)):
        members = list(chain.values())
        row = _row(members, np.array(list(chain)), regions) if not used[members].any() else None
        if row is not None:
            used[members] = True
            rows.append(row)
    return rows


def _pairs(regions: Regions) -> list[tuple[int, int]]:
    """Return pairs of regions that may be next to one another in a row."""
    near = neighbours(regions, _NEIGHBOUR_DISTANCE, _NEIGHBOUR_OFFSET)
    one, other = np.nonzero(np.triu(near, 1))
    return list(zip(one.tolist(), other.tolist(), strict=True))


def _walk(regions: Regions, one: int, other: int) -> dict[int, int]:
    """Follow the line through two neighbours both ways; return its regions by their place in the row."""
    chain = {0: one, 1: other}
    for direction in (1, -1):
        here = max(chain) if direction > 0 else min(chain)
        pitch = regions.centre[chain[here]] - regions.centre[chain[here - direction]]
        missed = 0
        while missed <= _MOST_GAPS and len(chain) < _MOST_CHIPS:
            at = regions.centre[chain[here]]
            off = np.hypot(*(regions.centre - at - pitch * (missed + 1)).T)
            next_one = int(np.argmin(off))
            ratio = regions.area[next_one] / regions.area[chain[here]]
            if off[next_one] < _STRAY * np.hypot(*pitch) and 1.0 / AREA_RATIO < ratio < AREA_RATIO:
                pitch = (regions.centre[next_one] - at) / (missed + 1)
                here += direction * (missed + 1)
                chain[here] = next_one
                missed = 0
            else:
                missed += 1
    return chain


def _row(members: list[int], places: npt.NDArray[np.int64], regions: Regions) -> Lattice | None:
    """Fit the perspective of a row, drop strays, and let regions on empty places join."""
    index, grid = np.array(members), np.stack([places, np.zeros(len(places))], axis=-1)
    for _ in range(_ROUNDS):
        homography = _fit_row(grid, regions, index)
        off, pitch = distance_from_places(homography, grid, regions.centre[index])
        good = off < _STRAY * pitch
        if good.sum() < _LEAST_CHIPS:
            return None
        index, grid = index[good], grid[good]
        others = np.ones(len(regions), dtype=bool)
        others[index] = False
        more, where = joining_regions(homography, regions, np.flatnonzero(others), grid)
        index, grid = np.append(index, more[where[:, 1] == 0]), np.concatenate([grid, where[where[:, 1] == 0]])
    grid = grid - grid.min(axis=0)
    return lattice_of(_fit_row(grid, regions, index), grid, regions.centre[index])


def _fit_row(grid: Floats, regions: Regions, index: npt.NDArray[np.intp]) -> Floats:
    """Fit the perspective on the corners of the regions, each a square that fills the same share of the pitch."""
    centres = regions.centre[index]
    way = (centres[grid[:, 0].argmax()] - centres[grid[:, 0].argmin()]) / np.ptp(grid[:, 0])
    share = np.median(np.sqrt(regions.area[index])) / float(np.hypot(*way))
    u, v = regions.side_u[index], regions.side_v[index]
    swap = (np.abs(u @ way) / np.hypot(*u.T) < np.abs(v @ way) / np.hypot(*v.T))[:, None]
    along, down = np.where(swap, v, u), np.where(swap, u, v)
    along = along * np.sign(along @ way)[:, None]
    down = down * np.sign(down @ np.array([-way[1], way[0]]))[:, None]
    corners = centres[:, None] + _CORNERS[:, :1] * along[:, None] + _CORNERS[:, 1:] * down[:, None]
    return fit_homography((grid[:, None] + _CORNERS * min(share, 1.0)).reshape(-1, 2), corners.reshape(-1, 2))
