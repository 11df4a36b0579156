"""Printed things that look like cards: the second panel of a folding chart, and square markers. Both are black."""

from __future__ import annotations

import numpy as np

from swatchread.card.background import lab_of
from swatchread.card.card_candidates import Candidate
from swatchread.card.lab_image import LabImage
from swatchread.card.rectification import Plane
from swatchread.colour.cielab import Floats
from swatchread.photo import opencv as cv2
from swatchread.photo.geometry import project

_BLACK = 38.0
"""L* up to which a chart's frame is black plastic; in three real photos it was 16 to 33 in the rectified picture."""

_LIGHTER = 5.0
"""How much lighter than the frame a panel may be, L*: it lies in about the same light."""

_CHROMA = 8.0
"""Chroma up to which a ground counts as black."""

_AREA = 1.2
"""Area over that of the chart with its frame: a panel is as large as the chart, a marker smaller. A larger black card
is taken for a card."""


def is_printed(candidate: Candidate, image: LabImage, plane: Plane) -> bool:
    """Tell whether a candidate is a panel of the chart, or a marker: as black as the chart's frame and no larger.

    Parameters
    ----------
    candidate : Candidate
    image : LabImage
        Where it was found.
    plane : Plane
        The same, at the same size or larger.

    Returns
    -------
    bool
    """
    frame, scale = _frame_lab(plane), plane.outside.shape[1] / image.shape[1]
    ground = candidate.ground
    if frame[0] > _BLACK or ground[0] > frame[0] + _LIGHTER or np.hypot(*ground[1:]) > _CHROMA:
        return False
    chart = plane.sample.find.chart
    pitches = np.count_nonzero(candidate.region.whole) * (scale / plane.resolution) ** 2
    return bool(pitches < _AREA * (chart.columns + 1) * (chart.rows + 1))


def _frame_lab(plane: Plane) -> Floats:
    """Return the colour of the chart's frame between its patches, as the plane shows it, CIELAB."""
    find = plane.sample.find
    corners = np.stack(np.meshgrid(np.arange(find.chart.columns + 1), np.arange(find.chart.rows + 1)), axis=-1)
    places = project(np.linalg.inv(plane.to_photo), find.to_photo(corners.reshape(-1, 2).astype(np.float64)))
    h, w = plane.outside.shape
    column, row = np.clip(np.rint(places).astype(np.intp), 0, [w - 1, h - 1]).T
    colours = np.median(plane.picture[row, column], axis=0).astype(np.uint8)
    return lab_of(cv2.cvtColor(colours[None, None], cv2.COLOR_RGB2LAB)[0, 0])
