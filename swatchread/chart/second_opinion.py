"""A second opinion on a photo that would be refused for want of a chart, by colour-checker-detection.

The library's segmentation filters noise in another way than `find_chart` does, so it sees some charts that `find_chart`
misses. It proposes quadrilaterals. Each one is verified as if the painter had pointed at it; in addition, the edges of
the patches must show where the chart is said to be.

The library loads colour-science, which takes about a second. It is therefore imported inside the function that calls
it, and only a photo in which `find_chart` found nothing waits for it: an ordinary reading never loads it.
"""

from __future__ import annotations

import warnings

import numpy as np
import numpy.typing as npt

from swatchread.chart.chart_detection import ChartFind, find_chart
from swatchread.chart.definition import ChartDefinition
from swatchread.chart.from_corners import chart_from_corners
from swatchread.chart.subpixel_lattice import refine
from swatchread.colour.cielab import Floats
from swatchread.errors import ChartNotThereError, MirroredChartError, NoChartError
from swatchread.photo import Photo
from swatchread.photo.geometry import fit_homography

CLASSIC_LAYOUT = (4, 6)
"""Rows and columns of the only chart that the library is asked for."""

LEAST_EDGES_SEEN = 0.5
"""Least share of the patches whose edges must show. In simulated photos that only the library found, it was 0.67 and
more where the library was right, and 0 where it was a row of patches off because the frame cut the chart."""

PASSES = 3
"""How often a chart is taken from its corners. The library draws rectangles, which fit a tilted chart badly; each pass
starts from the corners of the one before. In simulated photos, errors of 0.6 patch fell below 0.1 in three passes."""

ASPECT_RATIOS = (1.0, 2.4)
"""Long over short side of the rectangle round a chart of 3 : 2 that is tilted by up to 40°."""


def find_chart_or_ask(photo: Photo, chart: ChartDefinition) -> ChartFind:
    """Find a chart in a photo; where that fails, ask the library for a second opinion.

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
        If neither finds it.
    """
    try:
        return find_chart(photo, chart)
    except MirroredChartError:
        raise
    except NoChartError:
        found = second_opinion(photo, chart)
        if found is None:
            raise
        return found


def second_opinion(photo: Photo, chart: ChartDefinition) -> ChartFind | None:
    """Return the largest chart that the library proposes and that stands the verification.

    Parameters
    ----------
    photo : Photo
    chart : ChartDefinition
        Charts of another layout than the classic one are not looked for.

    Returns
    -------
    ChartFind or None

    Raises
    ------
    MirroredChartError
        If the chart is there, but the photo is mirrored.
    """
    if (chart.rows, chart.columns) != CLASSIC_LAYOUT:
        return None
    verified = []
    for corners in proposed_corners(photo.small):
        try:
            find = chart_from_corners(photo, chart, photo.to_full(corners))
            for _ in range(PASSES - 1):
                find = chart_from_corners(photo, chart, find.corners)
        except ChartNotThereError:
            continue
        if _share_of_edges_seen(find) >= LEAST_EDGES_SEEN:
            verified.append(find)
    return max(verified, key=lambda find: find.pitch, default=None)


def proposed_corners(picture: npt.NDArray[np.uint8]) -> Floats:
    """Return the quadrilaterals in which the library suspects a classic chart.

    Parameters
    ----------
    picture : ndarray, shape (h, w, 3), uint8, RGB

    Returns
    -------
    ndarray, shape (n, 4, 2)
        Corners in pixels of the picture, in order round each quadrilateral.
    """
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # it warns of parts of its own that are not installed
        from colour_checker_detection import SETTINGS_SEGMENTATION_COLORCHECKER_CLASSIC, segmenter_default

        upright = picture.shape[0] > picture.shape[1]  # the library would turn it in its own way
        lying = np.rot90(picture) if upright else picture
        found = segmenter_default(
            lying.astype(np.float32) / 255.0,
            apply_cctf_encoding=False,
            aspect_ratio_minimum=ASPECT_RATIOS[0],
            aspect_ratio_maximum=ASPECT_RATIOS[1],
        )
    scale = lying.shape[1] / SETTINGS_SEGMENTATION_COLORCHECKER_CLASSIC["working_width"]
    corners: Floats = (found.reshape(-1, 4, 2) + 0.5) * scale - 0.5
    if upright:
        corners = np.stack([picture.shape[1] - 1 - corners[..., 1], corners[..., 0]], axis=-1)
    return corners


def _share_of_edges_seen(find: ChartFind) -> float:
    """Return the share of a chart's patches whose edges show near where they should be."""
    places = find.chart.corners
    homography = fit_homography(places, find.photo.to_small(find.to_photo(places)))
    _, _, residual = refine(homography, find.chart, find.photo.small)
    return float(np.isfinite(residual).all(axis=1).mean())
