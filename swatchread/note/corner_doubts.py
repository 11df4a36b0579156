"""Whether the corners that a painter gave for a card lie on its edges, or were counted in a smaller picture."""

from __future__ import annotations

import numpy as np

from swatchread.colour.cielab import Floats
from swatchread.errors import CornersError
from swatchread.note.flags_and_warnings import Warn, warn
from swatchread.photo import opencv as cv2
from swatchread.plane.rectification import Plane

_SPOT_SPACING, _SPOT_DISTANCE = 0.1, 0.25
"""From spot to spot along an edge, and from the edge to the spots on either side, in pitches of the chart."""

_CARD_EDGE = 6.0
"""Difference of colour between the two sides that is an edge, 8-bit CIELAB."""

_WITHOUT_EDGE = 0.3
"""Share of the lines between the corners that may have no edge. Chosen on 20 simulated photos: it was at most 0.02
along the true lines, 0.12 with corners 1 % of the card's size off, and mostly 0.4 and more where they lie a third
beside it. Where a card has the colour of the table no edge is seen along the true lines either."""

_ON_EDGE = 0.12
"""The same share up to which corners lie on a card's edges: that of corners 1 % of its size off."""

_TIMES = np.geomspace(1.2, 8.0, 120)
"""How many times smaller a picture of the photo may be from which corners were counted; steps of 1.6 %."""

_RIM = 4.0 / 85.0
"""Width of the marked photo's rim, as a share of its longer side (`report/ruled_frame.py`)."""


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

    Raises
    ------
    CornersError
        If they lie on a card's edges when they are taken for pixels of a smaller picture of the photo.
    """
    side = max(3, round(_SPOT_DISTANCE * plane.resolution))
    lab = cv2.blur(plane.lab.astype(np.float32), (side, side))
    without_edge = _without_edge(plane, corners, lab)
    if without_edge <= _WITHOUT_EDGE:
        return ()
    photo = plane.sample.find.photo
    rim = _RIM * max(photo.width, photo.height)
    found = [
        (_without_edge(plane, enlarged, lab, whole=True), times)
        for times in _TIMES
        for enlarged in (corners * times, corners * times - rim)
        if enlarged.min() >= 0.0
    ]
    least, times = min(found, default=(1.0, 1.0))
    if least < _ON_EDGE:
        raise CornersError(
            f"The corners given for the card in {photo.path.name} do not lie on a card",
            f"they would in a picture about {times:.1f} times smaller than the photo, which is {photo.width} × "
            f"{photo.height} pixels",
            "Count in the photo's own pixels: the numbers on the rim of the marked photo give them",
        )
    return (warn("card_corners", f"{100 * without_edge:.0f} %"),)


def _without_edge(plane: Plane, corners: Floats, lab: Floats, *, whole: bool = False) -> float:
    """Return the share of the lines between corners along which no edge is seen.

    Parameters
    ----------
    plane : Plane
    corners : ndarray, shape (4, 2)
        Photo pixels.
    lab : ndarray, shape (h, w, 3)
        The plane's picture in 8-bit CIELAB, blurred.
    whole : bool
        Whether what lies outside the plane counts as without an edge; else it does not count.
    """
    quad = plane.points_of(corners)
    spots = _beside_edges(quad, _SPOT_SPACING * plane.resolution, _SPOT_DISTANCE * plane.resolution)
    x, y = np.rint(spots).astype(int).transpose(2, 0, 1)
    height, width = plane.outside.shape
    inside = (x >= 0) & (y >= 0) & (x < width) & (y < height)
    x, y = x.clip(0, width - 1), y.clip(0, height - 1)
    seen = (inside & ~plane.outside[y, x]).all(axis=0)
    if not seen.any():
        return 1.0 if whole else 0.0
    missing = np.linalg.norm(np.subtract(*lab[y, x]), axis=1) < _CARD_EDGE
    return float((missing | ~seen).mean() if whole else missing[seen].mean())


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
