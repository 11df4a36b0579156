"""Sampling paint and bare ground at full size, in linear light.

Ridges of the brush, glints, pencil and thin edges are not the colour of a mixture: a swatch is eroded first, then what
stands out from its own middle is left out, and the rest is averaged as light is, linearly.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import cv2
import numpy as np
import numpy.typing as npt

from swatchread.colour import Floats
from swatchread.order import median, medians, quantile
from swatchread.photo import Photo
from swatchread.swatches.blobs import hull_round
from swatchread.swatches.field import Mask, Picture
from swatchread.swatches.find import CardFind
from swatchread.swatches.grid import Cell
from swatchread.swatches.shade import OtherLight, other_light

_ERODE = 0.22
_MOST_PIXELS = 4000
_BLOCKS = 5
_GROUND_CELLS = 12
_GROUND_POINTS = 64
_LEAST_GROUND = 40
_SCRAP = 0.02
"""Share of the largest piece of ground below which one outside of the swatches may be no part of the card."""

_GLINT = 4.0
_OUTLIER = 3.0


@dataclass(frozen=True, eq=False)
class SwatchSample:
    """What the photo shows of one swatch.

    Attributes
    ----------
    cell : Cell
    outline : ndarray, shape (k, 2)
        Of the sampled area, photo pixels.
    linear : ndarray, shape (3,)
        Robust mean of linear RGB through the photo's own encoding.
    error : ndarray, shape (3,)
        Standard error of that mean from the unevenness of the paint.
    pixels : ndarray, shape (m, 3)
        A few of the kept pixels, linear, for the spread in colour.
    count : int
        Pixels in the sampled area.
    clipped, glint : float
        Shares of the area at an end of the range, and left out as reflections.
    halves : float
        Largest difference in brightness between two halves of the area, relative: a shadow edge shows here.
    left_out : ndarray, bool
        What was left out, at full size.
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
class CardSample:
    """What the photo shows of a card.

    Attributes
    ----------
    card : CardFind
    swatches : tuple of SwatchSample
    ground_linear : ndarray, shape (m, 3)
        Linear RGB of small patches of the bare ground.
    ground_points : ndarray, shape (m, 2)
        Their places, photo pixels.
    elsewhere : OtherLight
        Ground that lies in another light.
    """

    card: CardFind
    swatches: tuple[SwatchSample, ...]
    ground_linear: Floats
    ground_points: Floats
    elsewhere: OtherLight

    @property
    def linear(self) -> Floats:
        """Linear RGB of the swatches, shape (n, 3)."""
        return np.array([s.linear for s in self.swatches])

    @property
    def error(self) -> Floats:
        """Standard errors of `linear`, shape (n, 3)."""
        return np.array([s.error for s in self.swatches])

    @property
    def places(self) -> Floats:
        """Middles of the swatches, photo pixels, shape (n, 2)."""
        return np.array([s.place for s in self.swatches])


def sample_card(card: CardFind) -> CardSample:
    """Measure every swatch of a card, and its bare ground, in linear light.

    Parameters
    ----------
    card : CardFind

    Returns
    -------
    CardSample
    """
    elsewhere = other_light(card)
    linear, points = sample_ground(card, elsewhere)
    return CardSample(card, tuple(_swatch(card, cell) for cell in card.grid.cells), linear, points, elsewhere)


def _swatch(card: CardFind, cell: Cell) -> SwatchSample:
    photo = card.plane.sample.find.photo
    outline = _outline(card, cell)
    low = np.maximum(np.floor(outline.min(axis=0)).astype(int), 0)
    high = np.minimum(np.ceil(outline.max(axis=0)).astype(int) + 1, [photo.width, photo.height])
    inside = np.zeros((max(high[1] - low[1], 1), max(high[0] - low[0], 1)), dtype=np.uint8)
    cv2.fillPoly(inside, [np.rint(outline - low).astype(np.int32)], 1)
    stored = photo.pixels[low[1] : low[1] + inside.shape[0], low[0] : low[0] + inside.shape[1]]
    inside = inside[: stored.shape[0], : stored.shape[1]]
    places = np.flatnonzero(inside)
    count = len(places)
    step = max(1, count // _MOST_PIXELS)
    rows, cols = np.divmod(places[::step], inside.shape[1])
    values = stored[rows, cols]
    linear = photo.encoding.linear(values).astype(np.float64)
    keep, glint = _plain(linear)
    clipped = _clipped(values, photo)
    plain, plain_rows, plain_cols = linear[keep], rows[keep], cols[keep]
    mean, error = _mean(plain, plain_rows, plain_cols, inside.shape)
    left_out = np.zeros(inside.shape, dtype=bool)
    left_out[rows[~keep], cols[~keep]] = True
    if step > 1:  # mark the neighbours of thinned-out pixels too, for the eye
        left_out = cv2.dilate(left_out.astype(np.uint8), np.ones((2, step), np.uint8)).astype(bool) & (inside > 0)
    return SwatchSample(
        cell=cell,
        outline=outline,
        linear=mean,
        error=error,
        pixels=plain[:: max(1, len(plain) // 300)],
        count=count,
        clipped=float(clipped[keep].mean()) if keep.any() else 1.0,
        glint=glint,
        halves=_halves(plain, plain_rows, plain_cols),
        left_out=left_out,
        corner=(int(low[0]), int(low[1])),
        place=outline.mean(axis=0),
    )


def _outline(card: CardFind, cell: Cell) -> Floats:
    """Return the outline of a swatch without its rim, photo pixels."""
    blob = cell.blob
    reach = max(1, round(_ERODE * blob.radius))
    mask = np.pad(blob.mask.astype(np.uint8), 1)
    kernel = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * reach + 1, 2 * reach + 1))
    core = cv2.erode(mask, kernel)
    contours, _ = cv2.findContours(core if core.any() else mask, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_SIMPLE)
    contour = max(contours, key=cv2.contourArea).reshape(-1, 2).astype(np.float64)
    if len(contour) > 40:  # a twentieth of the radius is finer than the outline is known
        contour = (
            cv2.approxPolyDP(contour.astype(np.float32), 0.05 * blob.radius, True).reshape(-1, 2).astype(np.float64)
        )
    if len(contour) < 3:
        contour = contour.mean(axis=0) + 0.5 * np.array([[-1.0, -1.0], [1.0, -1.0], [1.0, 1.0], [-1.0, 1.0]])
    return card.plane.photo_points(contour + np.array(blob.corner) - 1.0)


def _plain(linear: Floats) -> tuple[npt.NDArray[np.bool_], float]:
    """Tell the pixels of plain paint from glints and marks; return the share of glints too.

    Judged by brightness and by colour, against the swatch's own robust spread.
    """
    keep = np.ones(len(linear), dtype=bool)
    log = np.log(np.maximum(np.ascontiguousarray(linear.T), 1e-4))
    brightness = log.mean(axis=0)
    tint = [channel - brightness for channel in log]
    glint = np.zeros(len(linear), dtype=bool)
    for _ in range(3):
        kept = np.flatnonzero(keep)
        off = brightness - median(brightness.take(kept))
        spread = 1.4826 * median(np.abs(off.take(kept))) + 0.01
        tint_off = np.sqrt(sum((channel - median(channel.take(kept))) ** 2 for channel in tint))
        tint_spread = 1.4826 * median(tint_off.take(kept)) + 0.01
        glint = off > _GLINT * spread
        keep = (off > -_OUTLIER * spread) & (off < _OUTLIER * spread) & (tint_off < _OUTLIER * tint_spread)
        if keep.sum() < 0.3 * len(keep):
            keep = np.abs(off) <= quantile(np.abs(off), 0.6)
    return keep, float(glint.mean())


def _clipped(values: npt.NDArray[np.integer], photo: Photo) -> npt.NDArray[np.bool_]:
    margin = photo.top // 128
    at_end = (values >= photo.top - margin) | (values <= margin // 2)
    return np.asarray(at_end[:, 0] | at_end[:, 1] | at_end[:, 2])


def _mean(
    linear: Floats, rows: npt.NDArray[np.intp], cols: npt.NDArray[np.intp], shape: tuple[int, int]
) -> tuple[Floats, Floats]:
    """Return the mean and its standard error between blocks: neighbouring pixels are not independent."""
    mean = linear.mean(axis=0)
    block = (rows * _BLOCKS // shape[0]) * _BLOCKS + cols * _BLOCKS // shape[1]
    count = np.bincount(block, minlength=_BLOCKS**2).astype(np.float64)
    used = count > 0.2 * len(rows) / _BLOCKS**2
    sums = np.stack([np.bincount(block, linear[:, k], minlength=_BLOCKS**2) for k in range(3)], axis=-1)
    blocks = sums[used] / count[used, None]
    if len(blocks) < 3:
        return mean, linear.std(axis=0)
    return mean, blocks.std(axis=0, ddof=1) / np.sqrt(len(blocks))


def _halves(linear: Floats, rows: npt.NDArray[np.intp], cols: npt.NDArray[np.intp]) -> float:
    brightness = linear[:, 0] + linear[:, 1] + linear[:, 2]
    contrast = [0.0]
    for axis in (rows, cols, rows + cols, rows - cols):
        first = axis < median(axis)
        if first.any() and not first.all():
            one, two = median(brightness[first]), median(brightness[~first])
            contrast.append(abs(one - two) / max(one, two, 1e-6))
    return max(contrast)


def sample_ground(card: CardFind, elsewhere: OtherLight) -> tuple[Floats, Floats]:
    """Sample the bare ground in cells over the card; return linear means and places."""
    surface, photo = card.surface, card.plane.sample.find.photo
    # A shadow can part the card from its ground; what lies beyond tells the light as well.
    ground = (surface.bare | elsewhere.places).astype(np.uint8)
    eroded = cv2.erode(np.pad(ground, 1), np.ones((5, 5), np.uint8))[1:-1, 1:-1]
    bare = _less_scraps(np.asarray(eroded, dtype=np.uint8), card)
    down, across = (-(-np.arange(_GROUND_CELLS + 1) * side // _GROUND_CELLS) for side in bare.shape)
    chosen = []
    for top, bottom in pairwise(down):
        for left, right in pairwise(across):
            rows, cols = np.nonzero(bare[top:bottom, left:right])
            if len(rows) >= _LEAST_GROUND:
                some = slice(None, None, max(1, len(rows) // _GROUND_POINTS))
                chosen.append(np.stack([cols[some] + left, rows[some] + top], axis=-1))
    if not chosen:
        return np.zeros((0, 3)), np.zeros((0, 2))
    points = card.plane.photo_points(np.concatenate(chosen) + np.array(surface.box[:2]))
    col = np.clip(np.rint(points[:, 0]), 0, photo.width - 1).astype(np.intp)
    row = np.clip(np.rint(points[:, 1]), 0, photo.height - 1).astype(np.intp)
    values = photo.encoding.linear(photo.pixels[row, col]).astype(np.float64)
    ends = np.cumsum([len(c) for c in chosen])[:-1]
    linear = [medians(v) for v in np.split(values, ends)]
    return np.array(linear), np.array([p.mean(axis=0) for p in np.split(points, ends)])


def _less_scraps(bare: Picture, card: CardFind) -> Mask:
    """Leave out small pieces of ground outside of the swatches: a cloth's pale squares, where it runs into the card."""
    if not card.grid.cells:
        return bare > 0
    _, labels, stats, _ = cv2.connectedComponentsWithStats(bare, connectivity=4)
    area = stats[:, cv2.CC_STAT_AREA]
    broad = area >= _SCRAP * area[1:].max(initial=0)
    among = hull_round([cell.blob for cell in card.grid.cells], card.surface.box) > 0
    broad[labels[among]] = True
    broad[0] = False
    return np.asarray(broad[labels])
