"""Sampling the surface that card and chart lie on: beside the card, and beside the chart."""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

from swatchread.card.card_find import CardFind
from swatchread.colour.cielab import Floats
from swatchread.photo import opencv as cv2
from swatchread.photo.encoded_photo import Floats32, RingSamples, Samples
from swatchread.photo.icc_profile import srgb_curve
from swatchread.photo.masks import Mask, polygon_mask
from swatchread.plane.rectification import Plane

_STEP = 0.1
"""Pitches of the chart from one place that is sampled to the next."""

_BREADTHS = (0.35, 0.6, 1.2)
"""Breadths of the rings that are sampled, pitches of the chart. Narrow ones lie in the light of what they surround, and
on what it lies on; broad ones hold enough of a pattern."""

_NEARER = 0.5
"""A place belongs to a ring if its distance to that thing is below this share of the distance to the other: a shadow's
edge is often as soft as the gap between card and chart is wide."""

_FARTHEST = 3.0
"""Pitches of the chart from card or chart beyond which nothing lies in a ring: twice the broadest ring, and the rim."""

_CARD_RIM, _FRAME = 0.3, 0.5
"""Pitches beside the card, and beside the chart's patches, that may still show its edge, its frame or their shadows."""

_AROUND = np.stack(np.meshgrid([-1, 0, 1], [-1, 0, 1]), axis=-1).reshape(-1, 2)
"""Pixels that are averaged at each place, as (x, y) from its middle."""


_REACHES = (0.3, 0.6, 1.2)
"""Standard deviations, in pitches of the chart, over which the brightness around a place is averaged."""

_DARKEST = 0.004
"""Brightness, of full scale, below which the logarithm is not taken."""


def sample_surroundings(card: CardFind) -> tuple[RingSamples, RingSamples]:
    """Sample the table, or whatever lies under card and chart, beside both.

    Parameters
    ----------
    card : CardFind

    Returns
    -------
    by_card, by_chart : RingSamples
    """
    plane = card.plane.table
    shape, resolution = plane.outside.shape, plane.resolution
    on_card, on_chart = card.covers(plane), polygon_mask(_chart_with_frame(plane), shape)
    step = max(1, round(_STEP * resolution))
    every = slice(step // 2, None, step), slice(step // 2, None, step)
    far = round(_FARTHEST * resolution)
    from_card, from_chart = (_distance(mask, far)[every] / resolution for mask in (on_card, on_chart))
    from_card = from_card - _CARD_RIM
    some = ~plane.outside[every] & ~on_chart[every] & (from_card > 0.0)
    by_card, by_chart = (
        _rings(plane, some & (away < np.minimum(_BREADTHS[-1], _NEARER * from_other)), away, step)
        for away, from_other in ((from_card, from_chart), (from_chart, from_card))
    )
    return by_card, by_chart


def _rings(plane: Plane, chosen: Mask, away: npt.NDArray[np.floating[Any]], step: int) -> RingSamples:
    """Return what the photo shows in rings of each breadth: at chosen places, so far away from what they surround."""
    rows, columns = np.nonzero(chosen)
    broad, kept = _sampled(plane, np.stack([columns, rows], axis=-1) * step + step // 2)
    return RingSamples(broad, tuple(away[chosen][kept] < breadth for breadth in _BREADTHS))


def _chart_with_frame(plane: Plane) -> Floats:
    """Return the corners of the chart and its frame in the plane's picture, shape (4, 2)."""
    find, m = plane.sample.find, _FRAME
    right, bottom = find.chart.columns + m, find.chart.rows + m
    corners = find.to_photo(np.array([[-m, -m], [right, -m], [right, bottom], [-m, bottom]]))
    return plane.points_of(corners)


def _distance(mask: Mask, farthest: int) -> Floats32:
    """Return how far each pixel lies from a mask, pixels, shape (h, w); infinitely beyond so many."""
    away: Floats32 = np.full(mask.shape, np.inf, dtype=np.float32)
    x, y, width, height = cv2.boundingRect(mask.view(np.uint8))
    near = slice(max(0, y - farthest), y + height + farthest), slice(max(0, x - farthest), x + width + farthest)
    away[near] = cv2.distanceTransform((~mask[near]).view(np.uint8), cv2.DIST_L2, 5)
    return away


def _sampled(plane: Plane, places: npt.NDArray[np.intp]) -> tuple[Samples, Mask]:
    """Return what the photo shows at full size at places of the plane's picture, and which of them are not clipped."""
    photo = plane.sample.find.photo
    points = plane.photo_points(places)
    middle = np.clip(np.rint(points).astype(np.intp), 1, [photo.width - 2, photo.height - 2])
    x, y = np.moveaxis(middle[:, None] + _AROUND, -1, 0)
    stored = photo.pixels.reshape(-1, 3).take(y * photo.width + x, axis=0)
    kept = (stored < photo.top).all(axis=(1, 2))
    return Samples(photo.encoding.linear(stored[kept]).mean(axis=1, dtype=np.float64), points[kept]), kept


def brightness_around(plane: Plane, points: Floats) -> Floats:
    """Return the log brightness of the surroundings of places, averaged over several reaches.

    Parameters
    ----------
    plane : Plane
    points : ndarray, shape (m, 2)
        Photo pixels.

    Returns
    -------
    ndarray, shape (m, 3)
    """
    coarse = max(1, round(_REACHES[0] * plane.resolution / 3.0))
    grey = cv2.cvtColor(plane.picture, cv2.COLOR_RGB2GRAY)
    small = cv2.resize(grey, None, fx=1.0 / coarse, fy=1.0 / coarse, interpolation=cv2.INTER_AREA)
    bright = np.log(np.maximum(srgb_curve(small / 255.0), _DARKEST)).astype(np.float32)
    places = ((plane.points_of(points) + 0.5) / coarse - 0.5).astype(np.float32)
    around = [cv2.GaussianBlur(bright, (0, 0), reach * plane.resolution / coarse) for reach in _REACHES]
    seen = [cv2.remap(a, places[:, :1], places[:, 1:], cv2.INTER_LINEAR)[:, 0] for a in around]
    return np.stack(seen, axis=-1).astype(np.float64)
