"""A chart that the painter has pointed at: its corners are given roughly, and colour tells which way round it lies."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from swatchread.chart.chart_detection import ChartFind, accepted, lattices_for, located
from swatchread.chart.definition import ChartDefinition
from swatchread.chart.identification import Placement, best_placement
from swatchread.chart.lattice import Lattice
from swatchread.chart.subpixel_lattice import refine
from swatchread.colour.cielab import Floats
from swatchread.errors import ChartNotThereError, MirroredChartError
from swatchread.photo import Photo
from swatchread.photo.geometry import fit_homography, polygon_area, project

_LENIENT = 1.2
"""Factor of the misfit that passes in a search: fewer places are tried here, so chance has fewer."""

_SLIPS = (0.0, 0.14, 0.28, -0.14)
"""How far outside the patch area the corners may have been set, pitches: people point at the frame as well."""

_MOST_PLACES = 4
"""Most places of a lattice that is tried beside the given corners, in charts: larger ones are table cloths."""

_ASTRAY = 0.9
"""Largest distance of a placement's corners from the given ones, pitches."""

_AS_GOOD = 0.12
"""Placements whose misfit is this near the least are told apart by the edges of their patches."""

_ROUNDS = 3
"""Rounds of refinement: corners set by hand are less accurate than those of a search."""


def chart_from_corners(photo: Photo, chart: ChartDefinition, corners: Floats) -> ChartFind:
    """Take a chart from where its corners are said to be.

    Parameters
    ----------
    photo : Photo
    chart : ChartDefinition
    corners : ndarray, shape (4, 2)
        Of the patch area, photo pixels, clockwise, good to about a third of a patch; any may be the first.

    Returns
    -------
    ChartFind
        Refined on the edges of the patches.

    Raises
    ------
    ChartNotThereError
        If the colours there are not the chart's.
    MirroredChartError
        If they are, in mirror order.
    """
    small = photo.to_small(corners)
    seen = [x for x in lattices_for(chart, photo) if len(x.places) <= _MOST_PLACES * len(chart.lab)]
    tried = (best_placement(x, chart, photo.small) for x in [*seen, *_lattices_from(small, chart)])
    good = [p for p in tried if p is not None and p.score < _LENIENT * accepted(chart) and _lies_at(p, chart, small)]
    if not good:
        raise ChartNotThereError(
            f"{photo.path.name} shows no chart between the corners that were given",
            f"the colours there are not those of {chart.rows} × {chart.columns} patches of {chart.name}",
        )
    best = min(good, key=lambda p: p.score)
    if best.mirrored:
        raise MirroredChartError(f"{photo.path.name} is mirrored", "the chart's colours stand in mirror order")
    alike = [p for p in good if p.score < best.score + _AS_GOOD and not p.mirrored]
    refined = [_refined(p, chart, photo) for p in alike]
    return located(photo, chart, [max(refined, key=lambda one: one[1:])[0]])


def _lies_at(placement: Placement, chart: ChartDefinition, corners: Floats) -> bool:
    """Tell whether a placement's corners are the given ones, to about a pitch."""
    own = project(placement.homography, chart.corners)
    off = np.linalg.norm(own[:, None] - corners[None], axis=-1).min(axis=1)
    return bool(off.max() < _ASTRAY * placement.pitch)


def _lattices_from(corners: Floats, chart: ChartDefinition) -> list[Lattice]:
    """Return the lattices that the corners may mean: lying or upright, corners of the patches or of the frame."""
    lattices = []
    for wide, high in sorted({(chart.columns, chart.rows), (chart.rows, chart.columns)}):
        gx, gy = np.meshgrid(np.arange(wide), np.arange(high))
        places = np.stack([gx.ravel(), gy.ravel()], axis=-1)
        for slip in _SLIPS:
            rim = chart.patch_share / 2.0 + slip
            right, bottom = wide - 1 + rim, high - 1 + rim
            outer = np.array([[-rim, -rim], [right, -rim], [right, bottom], [-rim, bottom]])
            homography = fit_homography(outer, corners)
            centres = project(homography, places)
            pitch = float(np.sqrt(abs(polygon_area(corners)) / ((right + rim) * (bottom + rim))))
            lattices.append(Lattice(homography, places.astype(np.int64), centres, pitch))
    return lattices


def _refined(placement: Placement, chart: ChartDefinition, photo: Photo) -> tuple[Placement, int, float]:
    """Move a placement onto the patches' edges; return it, how many patches show theirs, and how closely (negative)."""
    homography = placement.homography
    for _ in range(_ROUNDS):
        homography, _, residual = refine(homography, chart, photo.small)
    seen = np.isfinite(residual).all(axis=1)
    off = float(np.median(np.hypot(*residual[seen].T))) if seen.any() else 1.0
    return replace(placement, homography=homography), int(seen.sum()), -off
