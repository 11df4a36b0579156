"""The table seen from straight above, by the chart's own perspective, and balanced so that the chart's greys are grey.

Everything that lies flat beside the chart is undistorted here, and the chart's reading direction is the picture's:
rows and columns found here do not depend on how the photo was held.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
import numpy.typing as npt

from swatchread.chart.chart_detection import ChartFind
from swatchread.chart.patch_sampling import ChartSample
from swatchread.colour.cielab import Floats
from swatchread.photo import opencv as cv2
from swatchread.photo.derived_pictures import in_eight_bits, lab_picture, shrunk
from swatchread.photo.geometry import project
from swatchread.photo.icc_profile import SRGB_TO_XYZ_D50
from swatchread.photo.masks import Mask, Picture, dilated, polygon_mask
from swatchread.photo.order_statistics import quantiles_of_bytes
from swatchread.plane.finder_settings import settings

_PERSPECTIVE_GRID = 41
"""Points along each side of the photo at which the perspective is looked at."""

_BRIGHTEST = 0.995
"""Quantile of the photo that keeps its tones; what is brighter may be a glint."""


@dataclass(frozen=True, eq=False)
class Plane:
    """The rectified, balanced table.

    Attributes
    ----------
    sample : ChartSample
    picture : ndarray, shape (h, w, 3), uint8, RGB
        sRGB-like, balanced by the chart.
    to_photo : ndarray, shape (3, 3)
        From (x, y) in this picture to photo pixels.
    resolution : float
        Pixels of this picture per pitch of the chart.
    outside : ndarray, shape (h, w), bool
        Beyond the photo, or the chart itself with its frame.
    whole : Plane or None
        The whole table, where this shows a part of it.
    """

    sample: ChartSample
    picture: Picture
    to_photo: Floats
    resolution: float
    outside: Mask
    whole: Plane | None = None

    @property
    def table(self) -> Plane:
        """The whole table."""
        return self.whole or self

    @cached_property
    def lab(self) -> Picture:
        """The picture as 8-bit CIELAB, see `derived_pictures.lab_picture`."""
        return lab_picture(self.picture)

    def photo_points(self, points: npt.ArrayLike) -> Floats:
        """Return the photo pixels of points (x, y) in this picture."""
        return project(self.to_photo, points)

    def points_of(self, places: npt.ArrayLike) -> Floats:
        """Return the points (x, y) in this picture of photo pixels."""
        return project(np.linalg.inv(self.to_photo), places)

    @property
    def chart_corners(self) -> Floats:
        """The corners of the chart with its frame in this picture, shape (4, 2)."""
        return self.points_of(_frame(self.sample.find))

    def without(self, outlines: Sequence[Floats]) -> Plane:
        """Return the same with nothing to be seen within some convex outlines, photo pixels, shape (n, 2) each."""
        outside = self.outside.copy()
        for outline in outlines:
            hidden = polygon_mask(self.points_of(outline), outside.shape)
            outside |= dilated(hidden, 2 * settings().look.edge + 1)
        return replace(self, outside=outside, whole=self.whole and self.whole.without(outlines))

    def halved(self) -> Plane:
        """Return the same at half the size."""
        picture = cv2.resize(self.picture, None, fx=0.5, fy=0.5, interpolation=cv2.INTER_AREA)
        size = (picture.shape[1], picture.shape[0])
        outside = cv2.resize(self.outside.astype(np.uint8), size, interpolation=cv2.INTER_NEAREST) > 0
        # The centre of a halved pixel lies between the centres of two whole ones.
        to_photo = self.to_photo @ np.array([[2.0, 0.0, 0.5], [0.0, 2.0, 0.5], [0.0, 0.0, 1.0]])
        return Plane(self.sample, picture, to_photo, self.resolution / 2.0, outside, self.whole)


def rectify(sample: ChartSample, *, chart_there: bool = True) -> Plane:
    """Look at the table from straight above.

    Parameters
    ----------
    sample : ChartSample
    chart_there : bool
        Whether the chart lies in this photo; a card is not looked for where it lies.

    Returns
    -------
    Plane
    """
    find = sample.find
    photo = find.photo
    low, high = _extent(find, settings().look.reach)
    resolution = min(find.pitch / photo.scale, _finest(low, high))
    to_photo, size = find.homography @ _to_lattice(low, resolution), _size(low, high, resolution)
    to_small = np.linalg.inv(photo.small_to_full) @ to_photo
    picture = _from_above(photo.small, to_small, size, sample)
    outside = _beyond(photo.small.shape[:2], to_small, size)
    for corners in (*((_frame(find),) if chart_there else ()), *find.others):
        outside |= polygon_mask(project(np.linalg.inv(to_photo), corners), outside.shape)
    return Plane(sample, picture, to_photo, resolution, outside)


def look_nearer(table: Plane, outline: Floats | None = None) -> Plane | None:
    """Look more closely at a part of the table: on a large table a small card has few pixels.

    Parameters
    ----------
    table : Plane
    outline : ndarray, shape (n, 2), optional
        Of what is looked at with its surroundings, photo pixels; by default what lies beside the chart.

    Returns
    -------
    Plane or None
        None where the photo shows hardly more there.
    """
    find = table.sample.find
    if outline is None:
        low, high = _extent(find, settings().look.nearby)
    else:
        places = project(np.linalg.inv(find.homography), outline)
        beside = settings().look.beside[0] + settings().look.beside[1] * float(np.ptp(places, axis=0).max())
        low, high = places.min(axis=0) - beside, places.max(axis=0) + beside
    resolution = min(find.pitch, _finest(low, high))
    if resolution < settings().look.nearer * table.resolution:
        return None
    to_lattice, size = _to_lattice(low, resolution), _size(low, high, resolution)
    rows, columns = _part_of_photo(find, low, high)
    part, less = find.photo.pixels[rows, columns], find.pitch / resolution
    small = shrunk(part, (round(part.shape[1] / less), round(part.shape[0] / less))) if less > 1.0 else part
    across, down = part.shape[1] / small.shape[1], part.shape[0] / small.shape[0]
    to_part = np.array(
        [[across, 0, columns.start + (across - 1) / 2], [0, down, rows.start + (down - 1) / 2], [0, 0, 1.0]]
    )
    to_photo = find.homography @ to_lattice
    picture = _from_above(in_eight_bits(small), np.linalg.inv(to_part) @ to_photo, size, table.sample)
    to_table = np.linalg.inv(table.to_photo) @ to_photo
    flags = cv2.INTER_NEAREST | cv2.WARP_INVERSE_MAP
    hidden = cv2.warpPerspective(table.outside.astype(np.uint8), to_table, size, flags=flags, borderValue=1)
    return Plane(table.sample, picture, to_photo, resolution, hidden > 0, table)


def _finest(low: Floats, high: Floats) -> float:
    """Return how many pixels a pitch may have in a picture of this box at most."""
    return float(np.sqrt(settings().look.most_pixels / (high - low).prod()))


def _to_lattice(low: Floats, resolution: float) -> Floats:
    return np.array([[1 / resolution, 0, low[0]], [0, 1 / resolution, low[1]], [0, 0, 1.0]])


def _size(low: Floats, high: Floats, resolution: float) -> tuple[int, int]:
    width, height = np.ceil((high - low) * resolution).astype(int).tolist()
    return width, height


def _from_above(small: Picture, to_small: Floats, size: tuple[int, int], sample: ChartSample) -> Picture:
    """Return a reduced copy of a photo, or of a part of it, as a balanced picture of the table."""
    balanced = cv2.LUT(small, _balance(sample))
    return cv2.warpPerspective(balanced, np.linalg.inv(to_small), size, flags=cv2.INTER_LINEAR)


def _beyond(shape: tuple[int, ...], to_small: Floats, size: tuple[int, int]) -> Mask:
    """Return where the plane lies beyond the photo: what each of its rows shows of the photo is one interval."""
    high, wide = shape
    sides = np.array([[1, 0, 0.5], [-1, 0, wide - 0.5], [0, 1, 0.5], [0, -1, high - 0.5], [0, 0, 1]]) @ to_small
    slope, start = sides[:, :1], sides[:, 1:2] * np.arange(size[1]) + sides[:, 2:]  # inside, start + slope x >= 0
    with np.errstate(divide="ignore", invalid="ignore"):
        crossing = -start / slope
    first = np.ceil(np.where(slope > 0.0, crossing, 0.0).max(axis=0))
    last = np.floor(np.where(slope < 0.0, crossing, size[0]).min(axis=0))
    last[((slope == 0.0) & (start < 0.0)).any(axis=0)] = -1.0
    first, last = (ends.clip(-1.0, size[0]).astype(np.int32)[:, None] for ends in (first, last))
    across = np.arange(size[0], dtype=np.int32)
    beyond: Mask = (across < first) | (across > last)
    return beyond


def _frame(find: ChartFind) -> Floats:
    """Return the chart's corners with a margin for its frame, photo pixels."""
    columns, rows = find.chart.columns, find.chart.rows
    m = settings().look.frame
    return find.to_photo(np.array([[-m, -m], [columns + m, -m], [columns + m, rows + m], [-m, rows + m]]))


def _part_of_photo(find: ChartFind, low: Floats, high: Floats) -> tuple[slice, slice]:
    """Return the rows and columns of the photo that show a box in lattice units."""
    side = np.linspace(0.0, 1.0, _PERSPECTIVE_GRID)
    places = low + np.stack(np.meshgrid(side, side), axis=-1).reshape(-1, 2) * (high - low)
    depth = 1.0 / (places @ find.homography[2, :2] + find.homography[2, 2])
    middle = 1.0 / (find.homography[2] @ [find.chart.columns / 2, find.chart.rows / 2, 1.0])
    seen = find.to_photo(places[depth / middle > settings().look.least_scale])
    left, top = np.maximum(np.floor(seen.min(axis=0)), 0).astype(int).tolist()
    right, bottom = (
        np.minimum(np.ceil(seen.max(axis=0)) + 1, [find.photo.width, find.photo.height]).astype(int).tolist()
    )
    return slice(top, bottom), slice(left, right)


def _extent(find: ChartFind, reach: float) -> tuple[Floats, Floats]:
    """Return the box in lattice units of what is seen so many pitches about the chart.

    What is seen too small, or lies beyond the horizon, is left out.
    """
    photo, chart = find.photo, find.chart
    across, down = (np.linspace(0, side - 1, _PERSPECTIVE_GRID) for side in (photo.width, photo.height))
    gx, gy = np.meshgrid(across, down)
    points = np.stack([gx.ravel(), gy.ravel()], axis=-1)
    inverse = np.linalg.inv(find.homography)
    depth = points @ inverse[2, :2] + inverse[2, 2]
    middle = find.to_photo(np.array([[chart.columns / 2, chart.rows / 2]]))[0]
    depth = depth / (middle @ inverse[2, :2] + inverse[2, 2])
    # The scale of the view is proportional to this depth, which is 1 at the chart.
    near = depth > settings().look.least_scale
    places = project(inverse, points[near])
    centre = np.array([chart.columns / 2, chart.rows / 2])
    places = np.clip(places, centre - reach, centre + reach)
    return places.min(axis=0), places.max(axis=0)


def _balance(sample: ChartSample) -> Picture:
    """Return a look-up table, shape (256, 1, 3), that makes the chart's mid-tones right in each channel.

    If the chart lies in shadow and the card does not, all is made darker so that the card keeps its tones.
    """
    photo = sample.find.photo
    encoding = photo.encoding
    reference = np.maximum(sample.find.chart.xyz @ np.linalg.inv(SRGB_TO_XYZ_D50).T, 1e-4)
    usable = (reference > 0.05) & ~sample.clipped[:, None]
    ratio = reference / np.maximum(sample.linear, 1e-4)
    channels = [ratio[usable[:, k], k] for k in range(3)]
    gain = np.array([np.median(ratios) if len(ratios) else 1.0 for ratios in channels])
    step = (encoding.table.shape[1] - 1) // 255
    if encoding.scene_linear:  # the reduced copy of a linear photo holds square roots
        linear = np.stack([np.linspace(0, 1, 256) ** 2] * 3) * gain[:, None]
    else:
        linear = encoding.table[:, ::step].astype(np.float64) * gain[:, None]
    thinned = photo.small[::3, ::3].reshape(-1, 3).T
    highest = np.array([quantiles_of_bytes(channel, [_BRIGHTEST])[0] for channel in thinned]).astype(int)
    linear /= max(1.0, float(linear[[0, 1, 2], highest].max()))
    coded = np.where(linear <= 0.0031308, 12.92 * linear, 1.055 * np.maximum(linear, 1e-9) ** (1 / 2.4) - 0.055)
    table: Picture = np.clip(np.rint(coded.T * 255.0), 0, 255).astype(np.uint8)
    return table[:, None]
