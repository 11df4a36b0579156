"""A second opinion on a photo that would be refused for want of a chart, by colour-checker-detection.

The library's segmentation filters noise in another way than `find_chart` does, so it sees the patches of some charts
that `find_chart` misses. Only its squares are used: they are put into lattices, and a chart on a lattice is verified by
its colours, like any chart. (The library's rectangles round whole charts miss a tilted chart by up to a patch.)

The library loads colour-science, which takes about a second. It is therefore imported inside the function that calls
it, and only a photo in which `find_chart` found nothing waits for it: an ordinary reading never loads it.
"""

from __future__ import annotations

import warnings

import numpy as np
import numpy.typing as npt

from swatchread.chart.chart_detection import ChartFind, chart_on, find_chart
from swatchread.chart.definition import ChartDefinition
from swatchread.chart.lattice import find_lattices
from swatchread.chart.patch_candidates import regions_of
from swatchread.chart.subpixel_lattice import refine
from swatchread.colour.cielab import Floats
from swatchread.errors import MirroredChartError, NoChartError
from swatchread.photo import Photo

CLASSIC_LAYOUT = (4, 6)
"""Rows and columns of the only chart that the library is asked for."""

LEAST_EDGES_SEEN = 0.5
"""Least share of the patches whose edges must show. In simulated photos that only the library found, it was 0.7 and
more in noise, but 0.46 and less where the photo was so far out of focus that the patches ran into each other."""


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
    """Return the largest chart on the squares that the library sees.

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
    lattices = find_lattices(regions_of(squares_seen(photo.small)))
    try:
        find = chart_on(lattices, photo, chart)
    except MirroredChartError:
        raise
    except NoChartError:
        return None
    return find if _share_of_edges_seen(find) >= LEAST_EDGES_SEEN else None


def squares_seen(picture: npt.NDArray[np.uint8]) -> Floats:
    """Return the squares that the library sees in a picture.

    Parameters
    ----------
    picture : ndarray, shape (h, w, 3), uint8, RGB

    Returns
    -------
    ndarray, shape (n, 4, 2)
        Corners in order round each square, pixels.
    """
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # it warns of parts of its own that are not installed
        from colour_checker_detection import SETTINGS_SEGMENTATION_COLORCHECKER_CLASSIC, segmenter_default

        upright = picture.shape[0] > picture.shape[1]  # the library would turn it in its own way
        lying = np.rot90(picture) if upright else picture
        seen = segmenter_default(lying.astype(np.float32) / 255.0, apply_cctf_encoding=False, additional_data=True)
    scale = lying.shape[1] / SETTINGS_SEGMENTATION_COLORCHECKER_CLASSIC["working_width"]
    corners: Floats = (seen.swatches.reshape(-1, 4, 2) + 0.5) * scale - 0.5
    if upright:
        corners = np.stack([picture.shape[1] - 1 - corners[..., 1], corners[..., 0]], axis=-1)
    return corners


def _share_of_edges_seen(find: ChartFind) -> float:
    """Return the share of a chart's patches whose edges show near where they should be."""
    homography = np.linalg.inv(find.photo.small_to_full) @ find.homography
    _, _, residual = refine(homography, find.chart, find.photo.small)
    return float(np.isfinite(residual).all(axis=1).mean())
