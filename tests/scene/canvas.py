"""Painting in the photo's own pixels: exact polygons, soft shadows and textures, in noise-free camera values."""

import cv2
import numpy as np
from scipy.ndimage import gaussian_filter, gaussian_filter1d

_FRACTION_BITS = 6
_BROAD = 8.0  # deviation, px, from which a Fourier transform smooths sooner than a window


def tile(rng, size=512, along=1.0, across=1.0):
    """Return a wrapping noise tile (size, size) float32, mean 0, deviation 1, smoothed in x (`along`) and y, px."""
    field = rng.standard_normal((size, size), np.float32)
    for axis, sigma in enumerate((across, along)):
        narrow = sigma < _BROAD
        field = gaussian_filter1d(field, sigma, axis, mode="wrap") if narrow else _smoothed(field, sigma, axis)
    return (field - field.mean()) / field.std()


def _smoothed(field, sigma, axis):
    """Return what scipy's filter gives, which ends at four deviations, by a Fourier transform."""
    size, reach = field.shape[axis], int(4 * sigma + 0.5)
    away = np.arange(-reach, reach + 1)
    weights = np.exp(-0.5 * (away / sigma) ** 2)
    waves = np.fft.rfft(np.bincount(away % size, weights / weights.sum(), minlength=size))
    waves = waves * np.moveaxis(np.fft.rfft(field.astype(np.float64), axis=axis), axis, -1)
    return np.moveaxis(np.fft.irfft(waves, size), -1, axis).astype(np.float32)


def coverage(polygon_px, size, oversample):
    """Area coverage of a polygon within the photo.

    Parameters
    ----------
    polygon_px : (n, 2) points (x, y); a pixel's centre is an integer.
    size : (width, height) of the photo.
    oversample : samples per pixel and axis.

    Returns
    -------
    (rows, columns) slices and alpha (h, w) float32 in 0…1; None when the polygon lies outside the photo.
    """
    low = np.maximum(np.floor(polygon_px.min(0)).astype(int) - 2, 0)
    high = np.minimum(np.ceil(polygon_px.max(0)).astype(int) + 3, size)
    if (high <= low).any():
        return None
    w, h = high - low
    mask = np.zeros((h * oversample, w * oversample), np.uint8)
    # cv2 fills every sample its outline touches: half a sample too far, so the outline is drawn in by that much.
    points = (polygon_px - low + 0.5) * oversample - 0.5
    middle = points.mean(0)
    reach = np.maximum(np.hypot(*(points - middle).T)[:, None], 1e-6)
    points = points - (points - middle) / reach * 0.5
    fixed = np.round(points * (1 << _FRACTION_BITS)).astype(np.int32)
    cv2.fillPoly(mask, [fixed], 255, lineType=cv2.LINE_8, shift=_FRACTION_BITS)
    alpha = cv2.resize(mask, (int(w), int(h)), interpolation=cv2.INTER_AREA) if oversample > 1 else mask
    return (slice(low[1], high[1]), slice(low[0], high[0])), alpha.astype(np.float32) / 255.0


class Canvas:
    """The picture being painted: camera values (height, width, channels) float32 under even light.

    Channels are 3, or 6 when a second light shines: the values under each light.
    """

    def __init__(self, view, channels):
        width, height = view.size
        self.view = view
        self.pixels = np.zeros((height, width, channels), np.float32)

    @property
    def size(self):
        return self.view.size

    def blend(self, where, alpha, colour):
        """Lay `colour` (channels,) or (h, w, channels) over a region with opacity `alpha` (h, w)."""
        region = self.pixels[where]
        a = alpha[..., None]
        region += a * (np.asarray(colour, np.float32) - region)

    def polygon(self, points_mm, colour, alpha=1.0, oversample=4):
        """Fill a plan polygon with one colour."""
        found = coverage(self.view.project(points_mm), self.size, oversample)
        if found:
            self.blend(found[0], found[1] * np.float32(alpha), colour)

    def strokes(self, strokes_mm, width_mm, colour, alpha=0.8):
        """Draw pen or pencil strokes (list of (n, 2) mm)."""
        if not strokes_mm:
            return
        lines = [self.view.project(s) for s in strokes_mm]
        everything = np.vstack(lines)
        low = np.maximum(np.floor(everything.min(0)).astype(int) - 4, 0)
        high = np.minimum(np.ceil(everything.max(0)).astype(int) + 5, self.size)
        if (high <= low).any():
            return
        over = 2
        mask = np.zeros(((high - low) * over)[::-1], np.uint8)
        thick = max(1, round(width_mm * self.view.px_per_mm(np.vstack(strokes_mm).mean(0)) * over))
        fixed = [np.round(((line - low + 0.5) * over - 0.5) * 16).astype(np.int32) for line in lines]
        cv2.polylines(mask, fixed, isClosed=False, color=255, thickness=thick, lineType=cv2.LINE_AA, shift=4)
        soft = cv2.resize(mask, tuple(int(n) for n in high - low), interpolation=cv2.INTER_AREA)
        self.blend((slice(low[1], high[1]), slice(low[0], high[0])), soft * np.float32(alpha / 255), colour)

    def stamp(self, ink, corners_mm, colour, alpha=0.8):
        """Lay a picture of ink (h, w), 0 to 1, on a plan quadrangle: its upper left, upper right and lower left corner.

        A lens that distorts moves it like the middle of the quadrangle.
        """
        h, w = ink.shape
        right, down = (corners_mm[1] - corners_mm[0]) / w, (corners_mm[2] - corners_mm[0]) / h
        lay = np.array([[right[0], down[0], corners_mm[0][0]], [right[1], down[1], corners_mm[0][1]], [0, 0, 1]])
        middle = corners_mm[0] + (right * w + down * h) / 2
        flat = self.view.homography @ np.append(middle, 1.0)
        moved = self.view.project(middle[None])[0] - flat[:2] / flat[2]
        outline = self.view.project(np.array([*corners_mm, corners_mm[1] + corners_mm[2] - corners_mm[0]]))
        low = np.maximum(np.floor(outline.min(0)).astype(int) - 2, 0)
        high = np.minimum(np.ceil(outline.max(0)).astype(int) + 3, self.size)
        if (high <= low).any():
            return
        shift = np.array([[1, 0, moved[0] - low[0]], [0, 1, moved[1] - low[1]], [0, 0, 1.0]])
        scale = self.view.px_per_mm(middle) * float(np.hypot(*right))
        soft = gaussian_filter(ink.astype(np.float32), 0.45 / max(scale, 1e-6))
        size = tuple(int(n) for n in high - low)
        drawn = cv2.warpPerspective(soft, shift @ self.view.homography @ lay, size, flags=cv2.INTER_LINEAR)
        self.blend((slice(low[1], high[1]), slice(low[0], high[0])), drawn * np.float32(alpha), colour)

    def cast_shadow(self, points_mm, reach_mm, depth, offset_mm=(0.0, 0.0)):
        """Darken what lies under an object's edge: the object's outline, moved, blurred and multiplied in."""
        points = self.view.project(np.asarray(points_mm) + offset_mm)
        px = reach_mm * self.view.px_per_mm(points_mm.mean(0))
        step = max(1, int(px / 3))
        low = np.maximum(np.floor(points.min(0) - 3 * px).astype(int), 0)
        high = np.minimum(np.ceil(points.max(0) + 3 * px).astype(int), self.size)
        if (high <= low).any():
            return
        w, h = (int(n) for n in high - low)
        mask = np.zeros((h // step + 2, w // step + 2), np.float32)
        cv2.fillPoly(mask, [np.round((points - low) / step * 16).astype(np.int32)], 1.0, shift=4)
        mask = cv2.GaussianBlur(mask, (0, 0), max(px / step / 1.5, 0.8))
        shade = cv2.resize(mask, None, fx=step, fy=step, interpolation=cv2.INTER_LINEAR)[:h, :w]
        self.pixels[low[1] : high[1], low[0] : high[0]] *= (1 - depth * shade)[..., None]

    def texture(self, noise, where, mm_per_tile, origin_mm=(0.0, 0.0), angle=0.0):
        """Warp a wrapping tile onto the table plane within a region: (h, w) float32."""
        rows, columns = where
        h, w = rows.stop - rows.start, columns.stop - columns.start
        c, s = np.cos(np.radians(angle)), np.sin(np.radians(angle))
        scale = mm_per_tile / noise.shape[0]
        lay = np.array([[c * scale, -s * scale, origin_mm[0]], [s * scale, c * scale, origin_mm[1]], [0, 0, 1]])
        shift = np.array([[1, 0, -columns.start], [0, 1, -rows.start], [0, 0, 1.0]])
        matrix = shift @ self.view.homography @ lay
        return cv2.warpPerspective(noise, matrix, (w, h), flags=cv2.INTER_LINEAR, borderMode=cv2.BORDER_WRAP)
