"""Ink on a card: thin strokes on its bare ground, looked for along the card's own rows and finer than paint is."""

from __future__ import annotations

from dataclasses import dataclass
from weakref import WeakKeyDictionary

import numpy as np
import numpy.typing as npt

from swatchread.card.background import Mask, Picture, places_of, thin_pieces
from swatchread.card.card_detection import CardFind
from swatchread.card.segmentation import Blob
from swatchread.colour.cielab import Floats
from swatchread.colour.order import median, quantiles
from swatchread.photo import opencv as cv2
from swatchread.photo.downsampling import halved
from swatchread.photo.geometry import project
from swatchread.photo.preview import for_the_eye

_MOST_PIXELS = 3_000_000
_FINEST = 128.0
"""Pixels across a swatch beyond which more detail says nothing about its writing."""

_STROKE = 0.09
"""Breadth, in swatch extents, above which a mark is no stroke of a pen."""

_RIM = 0.05
_LINE = 0.4
_FAINT = 0.35
"""Share of the strongest strokes' contrast below which a mark is texture."""

_LEAST_MARK = 6e-4
_LIGHT_GROUND = 40.0


@dataclass(frozen=True, eq=False)
class InkView:
    """A card seen along its rows.

    Attributes
    ----------
    ink : ndarray, shape (h, w), bool
        Strokes on the bare ground.
    boxes : ndarray, shape (n, 4)
        Left, top, right, bottom of each swatch, in the order of the grid's cells.
    extent : float
        Usual extent of a swatch, pixels.
    to_photo : ndarray, shape (3, 3)
        From (x, y) here to photo pixels.
    """

    ink: Mask
    boxes: Floats
    extent: float
    to_photo: Floats

    def photo_points(self, points: npt.ArrayLike) -> Floats:
        """Turn points here into photo pixels."""
        return project(self.to_photo, points)


_SEEN: WeakKeyDictionary[CardFind, InkView] = WeakKeyDictionary()


def see_ink(card: CardFind) -> InkView:
    """Look for ink on a card's bare ground.

    Parameters
    ----------
    card : CardFind
        Its view is kept as long as the card itself: the turn and the writing are read from the same.

    Returns
    -------
    InkView
    """
    if card not in _SEEN:
        _SEEN[card] = _look(card)
    return _SEEN[card]


def _look(card: CardFind) -> InkView:
    to_plane, size, extent = _frame(card)
    from_plane: Floats = np.asarray(np.linalg.inv(to_plane), dtype=np.float64)
    grey = _grey(card, to_plane, size)
    bare = _warped(card.surface.card, card.surface.box[:2], from_plane, size)
    rim = max(2, round(_RIM * extent))
    bare = np.asarray(cv2.erode(bare, np.ones((rim + 1, rim + 1), np.uint8), borderValue=0), dtype=np.uint8)
    outlines = [project(from_plane, _outline(cell.blob)) for cell in card.grid.cells]
    for outline in outlines:
        corners = [np.rint(outline).astype(np.int32)]
        cv2.fillPoly(bare, corners, 0)
        cv2.polylines(bare, corners, isClosed=True, color=0, thickness=2 * rim + 1)
    boxes = [np.concatenate([outline.min(axis=0), outline.max(axis=0)]) for outline in outlines]
    ink = _strokes(grey, bare > 0, extent, dark_ground=bool(card.surface.lab[0] < _LIGHT_GROUND))
    return InkView(ink, np.array(boxes, dtype=np.float64), extent, card.plane.to_photo @ to_plane)


def _frame(card: CardFind) -> tuple[Floats, tuple[int, int], float]:
    """Return the way from the card's own frame to the plane, the frame's size and a swatch's extent in it."""
    x, y = card.surface.box[:2]
    rows, cols = np.nonzero(card.surface.card[::4, ::4])
    cos, sin = np.cos(card.grid.angle), np.sin(card.grid.angle)
    turn = np.array([[cos, sin], [-sin, cos]])
    places = np.stack([cols * 4.0 + x, rows * 4.0 + y], axis=-1) @ turn.T
    low, high = places.min(axis=0) - 2.0, places.max(axis=0) + 6.0
    extent = median([c.blob.size.max() for c in card.grid.cells])
    fine = min(_native(card, places.mean(axis=0) @ turn), _FINEST / extent, np.sqrt(_MOST_PIXELS / (high - low).prod()))
    width, height = np.ceil((high - low) * fine).astype(int)
    to_plane = np.eye(3)
    to_plane[:2, :2] = turn.T / fine
    to_plane[:2, 2] = low @ turn
    return to_plane, (int(width), int(height)), extent * fine


def _native(card: CardFind, place: Floats) -> float:
    """Return photo pixels per pixel of the plane at a place."""
    points = card.plane.photo_points(place + np.array([[0.0, 0.0], [1.0, 0.0], [0.0, 1.0]]))
    return float(np.sqrt(abs(np.linalg.det(points[1:] - points[0]))))


def _grey(card: CardFind, to_plane: Floats, size: tuple[int, int]) -> Picture:
    """Draw the card in its own frame from the full-size photo, in grey."""
    photo = card.plane.sample.find.photo
    to_photo = card.plane.to_photo @ to_plane
    width, height = size
    middle = np.array(size) / 2.0
    points = project(to_photo, middle + np.array([[0.0, 0.0], [1.0, 0.0], [0.0, 1.0]]))
    coarser = float(np.sqrt(abs(np.linalg.det(points[1:] - points[0]))))
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
    return np.asarray(cv2.warpPerspective(grey, to_piece, size, flags=flags, borderMode=cv2.BORDER_REPLICATE), np.uint8)


def _weights(picture: Picture) -> Floats:
    """Weigh the channels by how little noise each carries: the blue of a lamp-lit photo drowns thin pencil."""
    thin = picture[::4, ::2].astype(np.int16)
    apart = np.abs(np.diff(thin, axis=1)).reshape(-1, 3)
    # The median of whole numbers, from how many there are of each.
    noise = np.array([1.5 + np.searchsorted(np.cumsum(np.bincount(a)), (len(a) + 1) // 2) for a in apart.T])
    return np.asarray(noise**-2.0 / (noise**-2.0).sum())


def _outline(blob: Blob) -> Floats:
    """Return the outline of a painted area, pixels of the plane."""
    contours, _ = cv2.findContours(blob.mask.astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_SIMPLE)
    contour = max(contours, key=cv2.contourArea).reshape(-1, 2)
    return np.asarray(contour + np.array(blob.corner, dtype=np.float64), dtype=np.float64)


def _warped(mask: Mask, corner: tuple[int, int], from_plane: Floats, size: tuple[int, int]) -> Picture:
    move = from_plane @ np.array([[1.0, 0, corner[0]], [0, 1.0, corner[1]], [0, 0, 1.0]])
    return np.asarray(cv2.warpAffine(mask.astype(np.uint8), move[:2], size, flags=cv2.INTER_NEAREST), dtype=np.uint8)


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
    values = thin[bare][::3]
    middle, upper, top = quantiles(values, [0.5, 0.75, 0.995])
    clear = max(6.0, float(middle + 4.5 * max(upper - middle, 0.5)), _FAINT * float(top))
    marks = ((thin > 0.6 * clear) & bare).astype(np.uint8)
    labels, stats = thin_pieces(marks)
    kept = np.zeros(len(stats), dtype=bool)
    kept[labels[(thin > clear) & bare]] = True
    kept &= stats[:, cv2.CC_STAT_AREA] >= max(5.0, _LEAST_MARK * extent**2)
    kept[0] = False
    found = np.zeros(labels.shape, dtype=np.uint8)
    places = places_of(marks)
    found[places] = kept[labels[places]]
    return np.asarray((found > 0) & ~_ruled(found, extent), dtype=bool)


def _ruled(marks: Picture, extent: float) -> Mask:
    """Return what belongs to long straight lines along the card's sides: pencil frames, the lines of a form."""
    length = max(9, round(_LINE * extent))
    ruled = np.zeros(marks.shape, dtype=bool)
    for shape, across in (((1, length), (3, 1)), ((length, 1), (1, 3))):
        broad = cv2.dilate(marks, np.ones(across, np.uint8))  # a line by hand is not quite straight
        lines = cv2.morphologyEx(broad, cv2.MORPH_OPEN, np.ones(shape, np.uint8))
        ruled |= cv2.dilate(lines, np.ones((3, 3), np.uint8)) > 0
    return ruled
