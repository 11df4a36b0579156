"""Which swatch of a note is which swatch of the truth."""

import cv2
import numpy as np
from scipy.optimize import linear_sum_assignment
from skimage.draw import polygon

VISIBLE = 2.0  # least contrast with the ground, 8-bit codes, at which a swatch counts as there (the simulator's own)


def match(found_px, swatches):
    """Pair found centres with true swatches, one to one, nearest first overall.

    A pair counts when the found centre lies inside the true outline, or nearer to the true centre than the
    radius of a disc of the outline's area.

    Parameters
    ----------
    found_px : (n, 2)
    swatches : sequence of SwatchTruth

    Returns
    -------
    list of (found, true) indices
    """
    if not len(found_px) or not swatches:
        return []
    centres = np.array([s.centre_px for s in swatches])
    apart = np.linalg.norm(np.asarray(found_px)[:, None] - centres[None], axis=-1)
    allowed = np.array([[_belongs(point, s) for s in swatches] for point in found_px])
    rows, columns = linear_sum_assignment(np.where(allowed, apart, 1e6))
    return [(int(i), int(j)) for i, j in zip(rows, columns, strict=True) if allowed[i, j]]


def radius_px(swatch):
    """Radius of the disc of a true outline's area."""
    return float(np.sqrt(cv2.contourArea(swatch.outline_px.astype(np.float32)) / np.pi))


def _belongs(point, swatch):
    if np.linalg.norm(point - swatch.centre_px) < radius_px(swatch):
        return True
    return cv2.pointPolygonTest(swatch.outline_px.astype(np.float32), tuple(map(float, point)), False) >= 0


def rightly_placed(pairs, swatches):
    """Count pairs whose row and column are right.

    A row or column of the card in which nothing was painted cannot be seen, nor one whose paint the photo shows as its
    ground (white on paper that is over-exposed). So the truth is taken as it is, with wholly unpainted rows and columns
    closed up, and with those that show nothing closed up; the best of the three counts for the whole photo.

    Parameters
    ----------
    pairs : list of ((row, column) read, index of the true swatch)
    swatches : sequence of SwatchTruth
    """
    true = np.array([(s.row, s.column) for s in swatches]).reshape(-1, 2)
    seen = np.array([s.contrast >= VISIBLE for s in swatches], dtype=bool)
    tables = (true, _closed(true, true), _closed(true, true[seen]))
    return max(sum(tuple(read) == tuple(table[j]) for read, j in pairs) for table in tables)


def _closed(places, taken):
    """Rows and columns numbered by those that are taken."""
    return np.stack([np.searchsorted(np.unique(taken[:, k]), places[:, k]) + 1 for k in (0, 1)], axis=-1)


def in_outline(outline_px, shrink, limit, size_px):
    """Pixels inside an outline shrunk about its middle: integer (x, y), at most about `limit` of them."""
    middle = outline_px.mean(axis=0)
    outline = middle + (outline_px - middle) * shrink
    rows, columns = polygon(outline[:, 1], outline[:, 0], shape=size_px[::-1])
    step = max(1, len(rows) // limit)
    return np.stack([columns, rows], axis=-1)[::step]
