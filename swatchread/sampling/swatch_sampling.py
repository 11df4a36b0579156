"""Sampling one swatch at full size, in linear light.

Ridges of the brush, glints, pencil and thin edges do not have the colour of the mixture. So a swatch is eroded first,
then outliers are left out, and the rest is averaged in linear light. The single pixels of a raw file are noisy, and an
outlier among them is mostly noise. So they are averaged in small blocks first.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from swatchread.card.card_find import CardFind
from swatchread.colour.cielab import Floats
from swatchread.grid.swatch_grid import Cell
from swatchread.photo import Photo
from swatchread.photo import opencv as cv2
from swatchread.photo.encoded_photo import Pixels, ends
from swatchread.photo.masks import Mask, Picture, outlines_of
from swatchread.photo.order_statistics import median, quantile

# Measured on development scenes.

_ERODE = 0.22
"""Rim of a swatch that is left out, in half-widths: it is thin, or blurred into the ground."""

_MOST_PIXELS, _KEPT_PIXELS = 4000, 300
"""Pixels of a swatch that are looked at, and those kept for its spread in colour, about."""

_LEAST_MEANS, _BROADEST = 500, 9
"""Means over blocks of a raw file's pixels that a swatch keeps at least, and the side of a block at most, pixels."""

_BLOCKS, _LEAST_BLOCKS, _LEAST_FULL = 5, 3, 0.2
"""The standard error comes from so many blocks along each side of a swatch, of which so many must be this full."""

_GLINT, _OUTLIER = 4.0, 3.0
"""Deviations of its paint beyond which a pixel is a glint, and beyond which it is something else."""

_LEAST_KEPT, _MIDDLE = 0.3, 0.6
"""If a smaller share of the pixels than the first is kept, the second is kept instead, those nearest to the median."""

_EVENNESS = 0.01
"""Relative deviation of the most even paint."""

_DARKEST = 1e-4
"""Linear light that stands for black."""

_CORNERS, _FINE = 40, 0.05
"""An outline of more points is simplified, to so many half-widths: finer than the outline is known."""


@dataclass(frozen=True, eq=False)
class SwatchSample:
    """What the photo shows of one swatch.

    Attributes
    ----------
    cell : Cell
    outline : ndarray, shape (k, 2)
        Outline of the sampled area, photo pixels.
    linear : ndarray, shape (3,)
        Robust mean of linear RGB through the photo's own encoding.
    error : ndarray, shape (3,)
        Standard error of that mean from the unevenness of the paint.
    pixels : ndarray, shape (m, 3)
        A few of the kept pixels, linear, for the spread in colour.
    count : int
        Pixels in the sampled area.
    clipped, glint : float
        Shares of the area that are at an end of the camera's range, and that are left out as reflections.
    halves : float
        Largest relative difference in brightness between two halves of the area: a shadow's edge shows here.
    left_out : ndarray, bool
        What was left out, in photo pixels.
    corner : tuple of int
        x, y of `left_out` in the photo.
    place : ndarray, shape (2,)
        Middle, photo pixels.
    """

    cell: Cell
    outline: Floats
    linear: Floats
    error: Floats
    pixels: Floats
    count: int
    clipped: float
    glint: float
    halves: float
    left_out: Mask
    corner: tuple[int, int]
    place: Floats


@dataclass(frozen=True, eq=False)
class _Samples:
    """The samples of an area: single pixels far apart, or means of square blocks.

    Attributes
    ----------
    linear : ndarray, shape (m, 3)
    level : ndarray, shape (m, 3)
        Values by which they are compared: differences are about shares of brightness.
    clipped : ndarray, shape (m,)
        0 to 1.
    rows, cols : ndarray, shape (m,)
        In blocks.
    shape : tuple of int
        Rows and columns of blocks.
    side : int
        Pixels along a side of a block.
    """

    linear: Floats
    level: Floats
    clipped: Floats
    rows: npt.NDArray[np.intp]
    cols: npt.NDArray[np.intp]
    shape: tuple[int, int]
    side: int


def sample_swatch(card: CardFind, cell: Cell) -> SwatchSample:
    """Measure one swatch in linear light.

    Parameters
    ----------
    card : CardFind
    cell : Cell

    Returns
    -------
    SwatchSample
    """
    photo = card.plane.sample.find.photo
    outline = _inner_outline(card, cell)
    low = np.maximum(np.floor(outline.min(axis=0)).astype(int), 0)
    high = np.minimum(np.ceil(outline.max(axis=0)).astype(int) + 1, [photo.width, photo.height])
    inside = np.zeros((max(high[1] - low[1], 1), max(high[0] - low[0], 1)), dtype=np.uint8)
    cv2.fillPoly(inside, [np.rint(outline - low).astype(np.int32)], 1)
    stored = photo.pixels[low[1] : low[1] + inside.shape[0], low[0] : low[0] + inside.shape[1]]
    inside = inside[: stored.shape[0], : stored.shape[1]]
    samples = (_averaged if photo.encoding.scene_linear else _thinned)(photo, stored, inside)
    keep, glint = _plain_paint(samples.level)
    kept = np.flatnonzero(keep)
    plain, rows, cols = samples.linear.take(kept, axis=0), samples.rows.take(kept), samples.cols.take(kept)
    mean, error = _mean_and_error(plain, rows, cols, samples.shape)
    return SwatchSample(
        cell=cell,
        outline=outline,
        linear=mean,
        error=error,
        pixels=plain[:: max(1, len(plain) // _KEPT_PIXELS)],
        count=int(np.count_nonzero(inside)),
        clipped=float(samples.clipped[keep].mean()) if keep.any() else 1.0,
        glint=glint,
        halves=_halves(plain, rows, cols),
        left_out=_at_full_size(samples, ~keep, inside),
        corner=(int(low[0]), int(low[1])),
        place=outline.mean(axis=0),
    )


def _thinned(photo: Photo, stored: Pixels, inside: Picture) -> _Samples:
    """Return some pixels of an area, far enough apart that there are not too many."""
    places = np.flatnonzero(inside)
    rows, cols = np.divmod(places[:: max(1, len(places) // _MOST_PIXELS)], inside.shape[1])
    values = stored[rows, cols]
    linear = photo.encoding.linear(values).astype(np.float64)
    low, high = ends(photo.top)
    at_end = (values >= high) | (values <= low)
    log = np.log(np.maximum(linear, _DARKEST))
    height, width = inside.shape
    return _Samples(linear, log, at_end.max(axis=1).astype(np.float64), rows, cols, (height, width), 1)


def _averaged(photo: Photo, stored: Pixels, inside: Picture) -> _Samples:
    """Return means over the blocks of a raw file's pixels that lie in an area."""
    count = int(np.count_nonzero(inside))
    side = int(np.clip(np.sqrt(count / _LEAST_MEANS), 1, min(_BROADEST, *inside.shape)))
    down, across = inside.shape[0] // side, inside.shape[1] // side

    def means(values: npt.NDArray[Any]) -> Floats:
        whole = values[: down * side, : across * side].astype(np.float32)
        return cv2.resize(whole, (across, down), interpolation=cv2.INTER_AREA).astype(np.float64)

    rows, cols = np.nonzero(means(inside) == 1.0)
    if not len(rows):
        return _thinned(photo, stored, inside)
    linear = means(photo.encoding.linear(stored))[rows, cols]
    low, high = ends(photo.top)
    burnt = means((stored >= high).max(axis=2))[rows, cols]
    cut = (linear <= (low + 0.5) / photo.top).any(axis=1)
    # Noise lies evenly on both sides of the true value. Its logarithm does not: dark colours would come out too light.
    middle = np.maximum(median(linear, axis=0), _DARKEST)
    return _Samples(linear, linear / middle - 1.0, np.maximum(burnt, cut), rows, cols, (down, across), side)


def _at_full_size(samples: _Samples, marked: Mask, inside: Picture) -> Mask:
    """Return the marked samples of an area at full size, to be shown on the marked photo."""
    blocks = np.zeros(samples.shape, dtype=np.uint8)
    blocks[samples.rows[marked], samples.cols[marked]] = 1
    if samples.side > 1:
        found = np.zeros(inside.shape, dtype=np.uint8)
        found[: samples.shape[0] * samples.side, : samples.shape[1] * samples.side] = np.kron(
            blocks, np.ones((samples.side, samples.side), dtype=np.uint8)
        )
    else:  # the neighbours of sampled pixels too
        step = max(1, -(-int(np.count_nonzero(inside)) // max(len(samples.rows), 1)))
        found = cv2.dilate(blocks, np.ones((2 if step > 1 else 1, step), np.uint8))
    return (found > 0) & (inside > 0)


def _inner_outline(card: CardFind, cell: Cell) -> Floats:
    """Return the outline of a swatch without its rim, photo pixels."""
    blob = cell.blob
    reach = max(1, round(_ERODE * blob.radius))
    mask = np.pad(blob.mask.astype(np.uint8), 1)
    kernel = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * reach + 1, 2 * reach + 1))
    core = cv2.erode(mask, kernel)
    outlines = outlines_of((core if core.any() else mask) > 0)
    contour: npt.NDArray[Any] = max(outlines, key=cv2.contourArea).reshape(-1, 2)
    if len(contour) > _CORNERS:
        contour = cv2.approxPolyDP(contour.astype(np.float32), _FINE * blob.radius, True).reshape(-1, 2)
    if len(contour) < 3:
        contour = contour.mean(axis=0) + 0.5 * np.array([[-1.0, -1.0], [1.0, -1.0], [1.0, 1.0], [-1.0, 1.0]])
    return card.plane.photo_points(contour.astype(np.float64) + np.array(blob.corner) - 1.0)


def _plain_paint(level: Floats) -> tuple[Mask, float]:
    """Return which samples show plain paint, and the share of glints.

    They are judged by brightness and by tint, against the swatch's own robust deviation.
    """
    channels = np.ascontiguousarray(level.T)
    brightness = channels.mean(axis=0)
    parts = np.vstack([brightness, channels - brightness])
    keep, glint = np.ones(len(level), dtype=bool), np.zeros(len(level), dtype=bool)
    for _ in range(3):
        apart = parts - median(parts.compress(keep, axis=1))[:, None]
        off = np.stack([np.abs(apart[0]), np.sqrt(np.einsum("cn,cn->n", apart[1:], apart[1:]))])
        spread, tint_spread = 1.4826 * median(off.compress(keep, axis=1)) + _EVENNESS
        glint = apart[0] > _GLINT * spread
        kept_before, keep = keep, (off[0] < _OUTLIER * spread) & (off[1] < _OUTLIER * tint_spread)
        if np.count_nonzero(keep) < _LEAST_KEPT * len(keep):
            keep = off[0] <= quantile(off[0], _MIDDLE)
        if np.array_equal(keep, kept_before):
            break
    return keep, float(glint.mean())


def _mean_and_error(
    linear: Floats, rows: npt.NDArray[np.intp], cols: npt.NDArray[np.intp], shape: tuple[int, int]
) -> tuple[Floats, Floats]:
    """Return the mean and its standard error, which comes from blocks: neighbouring pixels are not independent."""
    mean = linear.mean(axis=0)
    block = (rows * _BLOCKS // shape[0]) * _BLOCKS + cols * _BLOCKS // shape[1]
    count = np.bincount(block, minlength=_BLOCKS**2).astype(np.float64)
    used = count > _LEAST_FULL * len(rows) / _BLOCKS**2
    sums = np.stack([np.bincount(block, linear[:, k], minlength=_BLOCKS**2) for k in range(3)], axis=-1)
    blocks = sums[used] / count[used, None]
    if len(blocks) < _LEAST_BLOCKS:
        return mean, linear.std(axis=0)
    return mean, blocks.std(axis=0, ddof=1) / np.sqrt(len(blocks))


def _halves(linear: Floats, rows: npt.NDArray[np.intp], cols: npt.NDArray[np.intp]) -> float:
    """Return the largest relative difference in brightness between two halves, cut in four directions."""
    brightness = linear[:, 0] + linear[:, 1] + linear[:, 2]
    contrast = [0.0]
    for axis in (rows, cols, rows + cols, rows - cols):
        first = axis < median(axis)
        if first.any() and not first.all():
            one, two = float(median(brightness[first])), float(median(brightness[~first]))
            contrast.append(abs(one - two) / max(one, two, 1e-6))
    return max(contrast)
