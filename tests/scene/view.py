"""The camera's geometry: plan millimetres on the table <-> photo pixels (x, y), a pixel's centre being an integer."""

from dataclasses import dataclass

import cv2
import numpy as np

_FOCAL = 0.722  # focal length over the photo's long side: a 26-mm-equivalent phone lens


@dataclass(frozen=True)
class View:
    """Pinhole camera with radial distortion over a flat table.

    Attributes
    ----------
    homography : (3, 3) plan mm -> undistorted px.
    k1 : distortion; the radius is taken over the half diagonal.
    size : (width, height) of the photo as viewed, px.
    """

    homography: np.ndarray
    k1: float
    size: tuple

    @property
    def _centre(self):
        return (np.asarray(self.size, float) - 1) / 2, float(np.hypot(*self.size)) / 2

    def project(self, points_mm):
        """Plan points (n, 2) mm -> photo px."""
        centre, half = self._centre
        flat = _apply(self.homography, points_mm)
        q = (flat - centre) / half
        return centre + half * q * (1 + self.k1 * (q**2).sum(-1, keepdims=True))

    def unproject(self, points_px):
        """Photo px (n, 2) -> plan mm; the distortion is undone by fixed-point iteration."""
        centre, half = self._centre
        bent = (np.asarray(points_px, float) - centre) / half
        q = bent
        for _ in range(8 if self.k1 else 0):
            q = bent / (1 + self.k1 * (q**2).sum(-1, keepdims=True))
        return _apply(np.linalg.inv(self.homography), centre + half * q)

    def px_per_mm(self, point_mm):
        """Local scale at a plan point: the square root of the area's magnification."""
        around = self.project(np.asarray(point_mm) + np.array([[0, 0], [1, 0], [0, 1.0]]))
        return float(np.sqrt(abs(np.linalg.det(around[1:] - around[0]))))


def _apply(matrix, points):
    points = np.asarray(points, float)
    out = points @ matrix[:, :2].T + matrix[:, 2]
    return out[..., :2] / out[..., 2:]


def turn(points, degrees, about=(0.0, 0.0)):
    """Points (n, 2) turned clockwise as seen in a picture (y downwards)."""
    angle = np.radians(degrees)
    matrix = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    return (np.asarray(points, float) - about) @ matrix.T + about


def _camera_matrix(spec, distance, aim):
    """Homography for a camera at `distance` (mm) aimed at plan point `aim`, rolled and tilted as the spec says."""
    width, height = spec.view_size
    focal = _FOCAL * max(width, height)
    axis = np.radians(spec.tilt_direction)
    tilt = np.radians(spec.tilt) * np.array([np.cos(axis), np.sin(axis), 0.0])
    roll = np.radians(spec.chart_turn) * np.array([0.0, 0.0, 1.0])
    rotation = cv2.Rodrigues(tilt)[0] @ cv2.Rodrigues(roll)[0]
    shift = np.array([0, 0, distance]) - rotation @ np.array([*aim, 0.0])
    lens = np.array([[focal, 0, (width - 1) / 2], [0, focal, (height - 1) / 2], [0, 0, 1]])
    return lens @ np.column_stack([rotation[:, 0], rotation[:, 1], shift])


def aim_at(spec, outline_mm, distance, off_middle=(0.0, 0.0)):
    """View from `distance` with the outline's bounding box in the middle of the photo, or `off_middle` (px) from it."""
    aim = outline_mm.mean(0)
    middle = (np.asarray(spec.view_size, float) - 1) / 2 + off_middle
    for _ in range(5):
        view = View(_camera_matrix(spec, distance, aim), spec.distortion, spec.view_size)
        seen = view.project(outline_mm)
        off = (seen.min(0) + seen.max(0)) / 2 - middle
        aim = aim + (view.unproject([middle + off]) - view.unproject([middle]))[0]
    return View(_camera_matrix(spec, distance, aim), spec.distortion, spec.view_size)


def slack(view, outline_mm, border=0.02):
    """How far inside the frame the outline lies: the least margin over the photo's size less `border` (≥ 0 = fits)."""
    seen = view.project(outline_mm)
    size = np.asarray(view.size, float)
    return float(min((seen.min(0) / size).min(), ((size - 1 - seen.max(0)) / size).min()) - border)


def off_centre(spec, view, outline_mm, distance):
    """Return the view moved a random way off the middle, within the room that is left."""
    seen = view.project(outline_mm)
    room = np.maximum((np.asarray(view.size) * 0.96 - np.ptp(seen, axis=0)) / 2, 0)
    rng = np.random.default_rng([spec.seed, 13])
    moved = aim_at(spec, outline_mm, distance, rng.uniform(-0.7, 0.7, 2) * room)
    return moved if slack(moved, outline_mm, 0.01) >= 0 else view


def distance_to_fit(spec, outline_mm, border):
    """Distance at which the outline just fits within `border` of the frame."""
    reach = float(np.ptp(outline_mm, axis=0).max())
    low, high = 0.4 * reach, 12.0 * reach
    for _ in range(24):
        middle = np.sqrt(low * high)
        fits = slack(aim_at(spec, outline_mm, middle), outline_mm, border) >= 0
        low, high = (low, middle) if fits else (middle, high)
    return high


def distance_for_width(spec, outline_mm, side_mm, wanted_px):
    """Distance at which the segment `side_mm` (2, 2) is `wanted_px` long in the photo."""
    distance = 3.0 * float(np.ptp(outline_mm, axis=0).max())
    for _ in range(8):  # the picture's size falls as one over the distance, nearly: a few corrections do
        seen = aim_at(spec, outline_mm, distance).project(side_mm)
        distance *= np.clip(np.hypot(*(seen[1] - seen[0])) / wanted_px, 0.5, 3.0)
    return distance
