"""Finding a known chart anywhere in a photo."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from swatchread.chart.definition import ChartDefinition
from swatchread.chart.identification import Placement, best_placement
from swatchread.chart.lattice import Lattice, find_lattices
from swatchread.chart.patch_candidates import find_regions
from swatchread.chart.strip_rows import find_rows
from swatchread.chart.subpixel_lattice import refine
from swatchread.colour.cielab import Floats
from swatchread.errors import MirroredChartError, NoChartError
from swatchread.photo import Photo
from swatchread.photo.geometry import project

_PLAIN_CHARTS, _WOVEN_CHARTS = 4, 16
"""Places of a lattice, in charts: up to the first it is judged as usual; beyond the second it is not tried. Hundreds of
squares of one size are a table cloth, but some dozens may include the chart."""

_CLOSER = 0.6
"""Factor of the accepted misfit for a lattice between those sizes: among so many windows chance fits better."""

_ACCEPTED = 0.95
"""Misfit above which a lattice is not a chart of 24 patches. Charts score 0.15, and below 0.9 in glare; one in ten
thousand sets of 24 colours at random scores 1.24."""

_MIRRORED = 0.6
"""Factor of the accepted misfit for a mirrored chart: where the chart is not, chance may fit its mirror image."""

_GOES_ON = 0.6
"""Share of the places right round a chart at which the lattice goes on: it is then a part of a chart of more patches.
On a chart of 140 patches it was 1. A patterned cloth round the chart reached 0.46 in one of 85 simulated photos, and
0.21 in the others."""

_FEWER = 0.6
"""Exponent of the accepted misfit over the number of patches: one in ten thousand sets of 8 colours at random scores
0.75, of 6 colours 0.43."""


@dataclass(frozen=True, eq=False)
class ChartFind:
    """A chart in a photo.

    Attributes
    ----------
    photo : Photo
    chart : ChartDefinition
    homography : ndarray, shape (3, 3)
        From the chart's lattice units to photo pixels.
    patch_share : float
        Side of a patch over the pitch, as seen.
    others : tuple of ndarray, shape (4, 2)
        Corners of further charts in the photo, pixels.
    """

    photo: Photo
    chart: ChartDefinition
    homography: Floats
    patch_share: float
    others: tuple[Floats, ...] = ()

    @property
    def corners(self) -> Floats:
        """Outer corners of the patch area in photo pixels, in the chart's own order, shape (4, 2)."""
        return self.to_photo(self.chart.corners_at(self.patch_share))

    @property
    def pitch(self) -> float:
        """Typical distance between neighbouring patches, photo pixels."""
        corners, chart = self.corners, self.chart
        across = np.linalg.norm(corners[1] - corners[0]) + np.linalg.norm(corners[2] - corners[3])
        down = np.linalg.norm(corners[3] - corners[0]) + np.linalg.norm(corners[2] - corners[1])
        return float(np.sqrt((across / 2 / chart.columns) * (down / 2 / chart.rows)))

    def to_photo(self, places: Floats) -> Floats:
        """Turn (x, y) in lattice units into photo pixels."""
        return project(self.homography, places)

    def to_lattice(self, points: Floats) -> Floats:
        """Turn photo pixels into lattice units."""
        return project(np.linalg.inv(self.homography), points)


def find_chart(photo: Photo, chart: ChartDefinition) -> ChartFind:
    """Find the largest example of a chart in a photo.

    Parameters
    ----------
    photo : Photo
    chart : ChartDefinition

    Returns
    -------
    ChartFind

    Raises
    ------
    MirroredChartError
        If the chart is there, but the photo is mirrored.
    NoChartError
        If it is not there.
    """
    return chart_on(lattices_for(chart, photo), photo, chart)


def chart_on(lattices: list[Lattice], photo: Photo, chart: ChartDefinition) -> ChartFind:
    """Return the largest example of a chart on some lattices of a photo.

    Parameters
    ----------
    lattices : list of Lattice
        In pixels of the photo's reduced copy.
    photo : Photo
    chart : ChartDefinition

    Returns
    -------
    ChartFind

    Raises
    ------
    MirroredChartError
        If the chart is there, but the photo is mirrored.
    NoChartError
        If it is on none of them.
    """
    placements, good = [], []
    for lattice in lattices:
        charts = len(lattice.places) / len(chart.lab)
        placement = best_placement(lattice, chart, photo.small) if charts <= _WOVEN_CHARTS else None
        if placement is not None:
            placements.append(placement)
            if placement.score < accepted(chart) * (1.0 if charts <= _PLAIN_CHARTS else _CLOSER):
                good.append(placement)
    upright = [p for p in good if not p.mirrored and p.beyond < _GOES_ON]
    if not upright:
        raise _refusal(photo, chart, placements, good)
    return located(photo, chart, sorted(upright, key=lambda p: -p.pitch))


def accepted(chart: ChartDefinition) -> float:
    """Return the misfit below which a lattice is taken for a chart: lower for few patches, which chance fits better.

    Parameters
    ----------
    chart : ChartDefinition

    Returns
    -------
    float
        In the measure of `Placement.score`.
    """
    share = min(1.0, len(chart.lab) / 24.0)
    return float(_ACCEPTED * share**_FEWER)


def lattices_for(chart: ChartDefinition, photo: Photo) -> list[Lattice]:
    """Return the lattices of a photo that may carry a chart.

    Parameters
    ----------
    chart : ChartDefinition
    photo : Photo

    Returns
    -------
    list of Lattice
        In pixels of the photo's reduced copy.
    """
    regions = find_regions(photo.small)
    single = min(chart.rows, chart.columns) == 1
    return [*(find_rows(regions) if single else []), *find_lattices(regions)]


def located(photo: Photo, chart: ChartDefinition, placements: list[Placement]) -> ChartFind:
    """Refine the first placement on the reduced copy, and return it in photo pixels.

    Parameters
    ----------
    photo : Photo
    chart : ChartDefinition
    placements : list of Placement
        At least one; the corners of the others go along.

    Returns
    -------
    ChartFind
    """
    best = placements[0]
    homography, share, _ = refine(best.homography, chart, photo.small)
    others = tuple(photo.to_full(project(p.homography, chart.corners)) for p in placements[1:])
    return ChartFind(photo, chart, photo.small_to_full @ homography, share, others)


def _refusal(photo: Photo, chart: ChartDefinition, seen: list[Placement], good: list[Placement]) -> NoChartError:
    """Return the error that says why none of the placements is a chart: `good` ones fit its colours."""
    name = photo.path.name
    if any(p.beyond >= _GOES_ON for p in good):
        return NoChartError(
            f"{name} shows no chart of {len(chart.lab)} patches",
            "the squares that look like it go on all round it: they are a part of a chart of more patches",
        )
    if good and min(p.score for p in good) < _MIRRORED * accepted(chart):
        return MirroredChartError(f"{name} is mirrored", "the chart's colours stand in mirror order")
    if not seen:
        why = f"no {chart.rows} by {chart.columns} grid of flat squares stands out in it"
    else:
        why = "there are grids of squares, but their colours are not the chart's"
    return NoChartError(f"{name} shows no chart that could be recognised", why)
