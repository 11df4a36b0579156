"""Ink on a card: thin strokes on its bare ground, in a picture that runs along the card's rows."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from swatchread.card.card_find import CardFind
from swatchread.colour.cielab import Floats
from swatchread.ground.segmentation import Blob
from swatchread.photo import opencv as cv2
from swatchread.photo.derived_pictures import for_the_eye, halved
from swatchread.photo.geometry import project, rotation
from swatchread.photo.masks import Mask, Picture, dilated, eroded, outlines_of
from swatchread.photo.order_statistics import quantiles_of_bytes

# Measured on development scenes. Lengths are in extents of a swatch.

_MOST_PIXELS = 3_000_000
"""Pixels of the view at most."""

_FINEST = 128.0
"""Pixels across a swatch beyond which more detail says nothing about its writing."""

_STROKE = 0.09
"""Breadth above which a mark is no stroke of a pen."""

_RIM = 0.05
"""Breadth of the rim of a swatch, and of the card's edge, that is not looked at."""

_LINE = 0.4
"""Length from which a straight line along the card's sides is ruled, not written."""

_FAINT, _SPARE = 0.35, 0.6
"""Share of the strongest strokes' contrast below which a mark is texture; and of the contrast of a clear stroke that
its fainter ends have."""

_OVER_TEXTURE, _LEAST_CONTRAST = 4.5, 6.0
"""Contrast of a clear stroke: over the spread of the ground's texture, and grey levels at least."""

_LEAST_MARK = 6e-4
"""Area of a mark, square extents, below which it is a speck."""

_LIGHT_GROUND = 40.0
"""L* of the ground above which ink is always darker than it."""


@dataclass(frozen=True, eq=False)
class InkView:
    """A picture of a card that runs along its rows, with its ink.

    Attributes
    ----------
    ink : ndarray, shape (h, w), bool
        Strokes on the bare ground.
    boxes : ndarray, shape (n, 4)
        Left, top, right, bottom of each swatch, in the order of the grid's cells.
    extent : float
        Usual extent of a swatch, pixels.
    to_photo : ndarray, shape (3, 3)
        From (x, y) in this picture to photo pixels.
    """

    ink: Mask
    boxes: Floats
    extent: float
    to_photo: Floats

    def photo_points(self, points: npt.ArrayLike) -> Floats:
        """Return the photo pixels of points (x, y) in this picture."""
        return project(self.to_photo, points)


def see_ink(card: CardFind) -> InkView:
    """Find the ink on a card's bare ground.

    Parameters
    ----------
    card : CardFind

    Returns
    -------
    InkView
    """
    to_plane, size, extent = _frame(card)
    from_plane: Floats = np.linalg.inv(to_plane).astype(np.float64)
    grey = _grey(card, to_plane, size)
    bare = _warped(card.surface.card, card.surface.box[:2], from_plane, size)
    rim = max(2, round(_RIM * extent))
    bare = eroded(bare > 0, rim + 1).astype(np.uint8)
    outlines = [project(from_plane, _outer_outline(cell.blob)) for cell in card.grid.cells]
    for outline in outlines:
        corners = [np.rint(outline).astype(np.int32)]
        cv2.fillPoly(bare, corners, 0)
        cv2.polylines(bare, corners, isClosed=True, color=0, thickness=2 * rim + 1)
    boxes = [np.concatenate([outline.min(axis=0), outline.max(axis=0)]) for outline in outlines]
    ink = _strokes(grey, bare > 0, extent, dark_ground=bool(card.surface.lab[0] < _LIGHT_GROUND))
    return InkView(ink, np.array(boxes, dtype=np.float64), extent, card.plane.to_photo @ to_plane)


def _frame(card: CardFind) -> tuple[Floats, tuple[int, int], float]:
    """Return the matrix from the view to the plane, the size of the view, and the extent of a swatch in it."""
    x, y = card.surface.box[:2]
    rows, cols = np.nonzero(card.surface.card[::4, ::4])
    turn = rotation(card.grid.angle)
    places = np.stack([cols * 4.0 + x, rows * 4.0 + y], axis=-1) @ turn
    low, high = places.min(axis=0) - 2.0, places.max(axis=0) + 6.0
    extent = float(np.median([c.blob.size.max() for c in card.grid.cells]))
    finest = _scale_at(card.plane.to_photo, places.mean(axis=0) @ turn.T)
    fine = min(finest, _FINEST / extent, float(np.sqrt(_MOST_PIXELS / (high - low).prod())))
    width, height = np.ceil((high - low) * fine).astype(int)
    to_plane = np.eye(3)
    to_plane[:2, :2] = turn / fine
    to_plane[:2, 2] = low @ turn.T
    return to_plane, (int(width), int(height)), extent * fine


def _scale_at(homography: Floats, place: Floats) -> float:
    """Return the scale of a homography at a place: the side of a pixel's image."""
    points = project(homography, place + np.array([[0.0, 0.0], [1.0, 0.0], [0.0, 1.0]]))
    return float(np.sqrt(abs(np.linalg.det(points[1:] - points[0]))))


def _grey(card: CardFind, to_plane: Floats, size: tuple[int, int]) -> Picture:
    """Draw the card along its rows from the full-size photo, in grey."""
    photo = card.plane.sample.find.photo
    to_photo = card.plane.to_photo @ to_plane
    width, height = size
    coarser = _scale_at(to_photo, np.array(size) / 2.0)
    times = max(0, round(float(np.log2(coarser))))  # averaged first, or strokes would fall between the samples
    step = 2**times
    frame = project(to_photo, np.array([[0, 0], [width, 0], [width, height], [0, height]], dtype=np.float64))
    low = np.maximum(np.floor(frame.min(axis=0)).astype(int) - 2 * step, 0)
    high = np.ceil(frame.max(axis=0)).astype(int) + 3 * step
    piece = for_the_eye(photo, halved(photo.pixels[low[1] : high[1], low[0] : high[0]], times))
    x, y = 0.5 / step - 0.5 - low / step
    to_piece = np.array([[1 / step, 0, x], [0, 1 / step, y], [0, 0, 1.0]]) @ to_photo
    grey = cv2.transform(piece, _weights(piece)[None])
    flags = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    return cv2.warpPerspective(grey, to_piece, size, flags=flags, borderMode=cv2.BORDER_REPLICATE)


def _weights(picture: Picture) -> Floats:
    """Weigh the channels by how little noise each carries: the blue of a lamp-lit photo drowns thin pencil."""
    thin = picture[::4, ::2].astype(np.int16)
    apart = np.abs(np.diff(thin, axis=1)).reshape(-1, 3)
    usual = np.array([quantiles_of_bytes(channel, [0.5])[0] for channel in apart.astype(np.uint8).T])
    weights: Floats = (1.5 + usual) ** -2.0
    whole: Floats = weights / weights.sum()
    return whole


def _outer_outline(blob: Blob) -> Floats:
    """Return the outline of a painted area, pixels of the plane."""
    outline: Floats = max(outlines_of(blob.mask), key=cv2.contourArea).reshape(-1, 2).astype(np.float64)
    points: Floats = outline + np.array(blob.corner)
    return points


def _warped(mask: Mask, corner: tuple[int, int], from_plane: Floats, size: tuple[int, int]) -> Picture:
    move = from_plane @ np.array([[1.0, 0, corner[0]], [0, 1.0, corner[1]], [0, 0, 1.0]])
    return cv2.warpAffine(mask.astype(np.uint8), move[:2], size, flags=cv2.INTER_NEAREST)


def _strokes(grey: Picture, bare: Mask, extent: float, *, dark_ground: bool) -> Mask:
    """Return thin marks that stand clear of the ground's own texture; ruled lines are not writing."""
    if not bare.any():
        return bare
    breadth = max(5, round(_STROKE * extent)) | 1
    kernel = np.ones((breadth, breadth), np.uint8)
    smooth = cv2.GaussianBlur(grey, (0, 0), 0.8)
    thin = cv2.morphologyEx(smooth, cv2.MORPH_BLACKHAT, kernel)
    if dark_ground:
        thin = np.maximum(thin, cv2.morphologyEx(smooth, cv2.MORPH_TOPHAT, kernel))
    middle, upper, top = quantiles_of_bytes(thin[bare][::3], [0.5, 0.75, 0.995])
    clear = max(_LEAST_CONTRAST, float(middle + _OVER_TEXTURE * max(upper - middle, 0.5)), _FAINT * float(top))
    marks = (thin > _SPARE * clear) & bare
    count, labels = cv2.connectedComponents(marks.astype(np.uint8), connectivity=8)
    places = np.flatnonzero(marks)
    mark = labels.ravel()[places]
    kept = np.bincount(mark, minlength=count) >= max(5.0, _LEAST_MARK * extent**2)
    strong = np.zeros(count, dtype=bool)
    strong[mark[thin.ravel()[places] > clear]] = True
    found: Mask = np.zeros_like(bare)
    found.ravel()[places] = (kept & strong)[mark]
    return found & ~_ruled(found, extent)


def _ruled(marks: Mask, extent: float) -> Mask:
    """Return what belongs to long straight lines along the card's sides: pencil frames, the lines of a form."""
    length = max(9, round(_LINE * extent))
    ruled = np.zeros(marks.shape, dtype=bool)
    for shape, across in (((1, length), (3, 1)), ((length, 1), (1, 3))):
        broad = cv2.dilate(marks.astype(np.uint8), np.ones(across, np.uint8))  # a line by hand is not quite straight
        lines = cv2.morphologyEx(broad, cv2.MORPH_OPEN, np.ones(shape, np.uint8))
        ruled |= dilated(lines > 0, 3)
    return ruled
