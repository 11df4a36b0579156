"""Whether the corners that the painter gave for a card lie on the card's edges."""

from __future__ import annotations

import cv2
import numpy as np

from swatchread.card.lab_image import lab_picture
from swatchread.card.rectification import Plane
from swatchread.colour.cielab import Floats
from swatchread.note.flags import warn
from swatchread.note.model import Warn
from swatchread.photo.geometry import project

_SPACING, _DISTANCE = 0.1, 0.25
"""From spot to spot along an edge, and from the edge to the spots on either side, in pitches of the chart."""

_EDGE = 6.0
"""Difference of colour between the two sides that is an edge, 8-bit CIELAB."""

_WITHOUT_EDGE = 0.3
"""Share of the lines between the corners that may have no edge. Chosen on 20 simulated photos: it was at most 0.02
along the true lines, 0.12 with corners 1 % of the card's size off, and mostly 0.4 and more where they lie a third
beside it. Where a card has the colour of the table no edge is seen along the true lines either."""


def corner_warnings(plane: Plane, corners: Floats) -> tuple[Warn, ...]:
    """Warn where the corners that were given for a card do not lie on its edges.

    Between wrong corners the table would be taken for the ground, and the card for paint.

    Parameters
    ----------
    plane : Plane
    corners : ndarray, shape (4, 2)
        Photo pixels, clockwise.

    Returns
    -------
    tuple of Warn
    """
    quad = project(np.linalg.inv(plane.to_photo), corners)
    spots = _beside_edges(quad, _SPACING * plane.resolution, _DISTANCE * plane.resolution)
    x, y = np.rint(spots).astype(int).transpose(2, 0, 1)
    height, width = plane.outside.shape
    inside = (x >= 0) & (y >= 0) & (x < width) & (y < height)
    x, y = x.clip(0, width - 1), y.clip(0, height - 1)
    seen = (inside & ~plane.outside[y, x]).all(axis=0)
    if not seen.any():
        return ()
    side = max(3, round(_DISTANCE * plane.resolution))
    lab = cv2.blur(lab_picture(plane.picture).astype(np.float32), (side, side))
    difference = np.linalg.norm(np.subtract(*lab[y, x]), axis=1)
    without_edge = float((difference[seen] < _EDGE).mean())
    return (warn("card_corners", f"{100 * without_edge:.0f} %"),) if without_edge > _WITHOUT_EDGE else ()


def _beside_edges(quad: Floats, spacing: float, distance: float) -> Floats:
    """Return pairs of spots on the two sides of a quadrilateral's edges, shape (2, n, 2)."""
    pairs = []
    for start, end in zip(quad, np.roll(quad, -1, axis=0), strict=True):
        along = end - start
        length = np.hypot(*along)
        count = max(round(length / spacing), 1)
        on_edge = start + (np.arange(count) + 0.5)[:, None] / count * along
        across = np.array([-along[1], along[0]]) / length * distance
        pairs.append(np.stack([on_edge + across, on_edge - across]))
    return np.concatenate(pairs, axis=1)
