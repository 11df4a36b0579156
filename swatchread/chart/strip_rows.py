"""Single rows of like regions: strips of one row of chips. Their sides say what centres in one line cannot."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import numpy.typing as npt

from swatchread.chart.lattice import Lattice, miss, take_in
from swatchread.chart.patch_candidates import Regions
from swatchread.colour.cielab import Floats
from swatchread.colour.order import median
from swatchread.photo.geometry import fit_homography

_LEAST = 6
_MOST = 60
_NEAR = (0.75, 1.7)
_ASIDE = 0.3
_ALIKE = 2.5
_ASTRAY = 0.2
_GAPS = 2
_ROUNDS = 3
_CORNERS = np.array([[-0.5, -0.5], [0.5, -0.5], [0.5, 0.5], [-0.5, 0.5]])


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
    if len(regions) < _LEAST:
        return []
    pairs = _pairs(regions)
    met: set[tuple[int, int]] = set()
    chains = []
    for one, other in pairs:
        if (one, other) in met:
            continue
        chain = _walk(regions, one, other)
        line = [chain[k] for k in sorted(chain)]
        met.update(pairwise(line))
        met.update(pairwise(line[::-1]))
        if len(chain) >= _LEAST:
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
    """Return pairs that may be next to one another in a row.

    The region of a pale chip may take in the gap beside it, so the distance is asked less strictly than in a lattice.
    """
    basis = np.stack([regions.side_u, regions.side_v], axis=-1)
    apart = regions.centre[None, :, :] - regions.centre[:, None, :]
    step = np.abs(apart @ np.linalg.inv(basis).transpose(0, 2, 1))
    long, short = step.max(axis=-1), step.min(axis=-1)
    ratio = regions.area[None, :] / regions.area[:, None]
    near = (long > _NEAR[0]) & (long < _NEAR[1]) & (short < _ASIDE) & (ratio > 1.0 / _ALIKE) & (ratio < _ALIKE)
    one, other = np.nonzero(np.triu(near & near.T, 1))
    return list(zip(one.tolist(), other.tolist(), strict=True))


def _walk(regions: Regions, one: int, other: int) -> dict[int, int]:
    """Return the regions that stand in line with two neighbours at their distance, by their place in the row."""
    chain = {0: one, 1: other}
    for way in (1, -1):
        here = max(chain) if way > 0 else min(chain)
        pitch = regions.centre[chain[here]] - regions.centre[chain[here - way]]
        missed = 0
        while missed <= _GAPS and len(chain) < _MOST:
            at = regions.centre[chain[here]]
            off = np.hypot(*(regions.centre - at - pitch * (missed + 1)).T)
            next_one = int(np.argmin(off))
            ratio = regions.area[next_one] / regions.area[chain[here]]
            if off[next_one] < _ASTRAY * np.hypot(*pitch) and 1.0 / _ALIKE < ratio < _ALIKE:
                pitch = (regions.centre[next_one] - at) / (missed + 1)
                here += way * (missed + 1)
                chain[here] = next_one
                missed = 0
            else:
                missed += 1
    return chain


def _row(members: list[int], places: npt.NDArray[np.int64], regions: Regions) -> Lattice | None:
    """Fit the perspective of a row, drop strays, take in regions that stand on empty places."""
    index, grid = np.array(members), np.stack([places, np.zeros(len(places))], axis=-1)
    for _ in range(_ROUNDS):
        homography = _fit(grid, regions, index)
        off, pitch = miss(homography, grid, regions.centre[index])
        good = off < 0.2 * pitch
        if good.sum() < _LEAST:
            return None
        index, grid = index[good], grid[good]
        others = np.ones(len(regions), dtype=bool)
        others[index] = False
        more, where = take_in(homography, regions, np.flatnonzero(others), grid)
        index, grid = np.append(index, more[where[:, 1] == 0]), np.concatenate([grid, where[where[:, 1] == 0]])
    grid = grid - grid.min(axis=0)
    homography = _fit(grid, regions, index)
    _, pitch = miss(homography, grid, regions.centre[index])
    return Lattice(homography, grid.astype(np.int64), regions.centre[index], median(pitch))


def _fit(grid: Floats, regions: Regions, index: npt.NDArray[np.intp]) -> Floats:
    """Fit the perspective on the corners of the regions, each a square that fills the same share of the pitch."""
    centres = regions.centre[index]
    way = (centres[grid[:, 0].argmax()] - centres[grid[:, 0].argmin()]) / np.ptp(grid[:, 0])
    share = median(np.sqrt(regions.area[index])) / float(np.hypot(*way))
    u, v = regions.side_u[index], regions.side_v[index]
    swap = (np.abs(u @ way) / np.hypot(*u.T) < np.abs(v @ way) / np.hypot(*v.T))[:, None]
    along, down = np.where(swap, v, u), np.where(swap, u, v)
    along = along * np.sign(along @ way)[:, None]
    down = down * np.sign(down @ np.array([-way[1], way[0]]))[:, None]
    corners = centres[:, None] + _CORNERS[:, :1] * along[:, None] + _CORNERS[:, 1:] * down[:, None]
    return fit_homography((grid[:, None] + _CORNERS * min(share, 1.0)).reshape(-1, 2), corners.reshape(-1, 2))
