"""From a spec to a photo with its truth."""

from dataclasses import dataclass

import cv2
import numpy as np

from . import camera, light, local_tone, overlay, truth
from .known import flipped, truth_of
from .picture import STRIP, paint


@dataclass(frozen=True)
class Scene:
    """A simulated photo.

    Attributes
    ----------
    spec : the factors.
    rgb : (h, w, 3) uint8 code values in the spec's colour space, as viewed (after the EXIF turn), before JPEG.
    truth : what is true of it.
    """

    spec: object
    rgb: np.ndarray
    truth: truth.Truth
    rendering: camera.Rendering
    light: light.Light
    gain_map: np.ndarray

    def light_at(self, points_px):
        """Relative irradiance with vignetting at photo points (n, 2); 1 at the chart's middle without shadow."""
        return self.light.at_px(flipped(np.asarray(points_px, float), self.spec))

    def gain_at(self, points_px):
        """Gain of the local tone mapping at photo points (n, 2); 1 without one."""
        points = flipped(np.asarray(points_px, float), self.spec)
        x, y = ((points + 0.5) / self.spec.view_size * self.gain_map.shape[::-1] - 0.5).astype(np.float32).T
        return cv2.remap(self.gain_map, x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)[:, 0]

    def undo_rendering(self, rgb_float, points_px):
        """Code values (n, 3) in 0…1 at photo points (n, 2) -> camera values (`SwatchTruth.camera` × the light there).

        Exact but for noise, clipping, sharpening and quantisation.
        """
        gain = self.gain_at(points_px)
        return self.rendering.undo(rgb_float, gain)

    def sensor(self):
        """Noise-free sensor values (h, w, 3) float32 of full scale, unbalanced and unclipped; paints anew."""
        picture = paint(self.spec)
        out = picture.lit(slice(0, picture.pixels.shape[0])) * np.float32(self.rendering.exposure)
        return out[:, ::-1] if self.spec.mirrored else out


def _noise(rng, sensor, spec):
    """Shot and read noise after a camera's denoising: correlated over neighbours, weaker than at the sensor."""
    full_well = 6000.0 * 100.0 / spec.iso
    sigma = np.sqrt(np.maximum(sensor, 0) / np.float32(full_well) + np.float32((2.5 / full_well) ** 2))
    grain = rng.standard_normal(sensor.shape, np.float32)
    if spec.denoise > 0:
        # A 3×3 binomial mean leaves 0.375 of the deviation; stronger denoising takes more.
        grain = cv2.GaussianBlur(grain, (3, 3), 0.85) * np.float32(1.25 - spec.denoise)
    return sensor + sigma * grain


def _developed(picture, rendering, gain_map):
    """Yield (rows, code values float32) strip by strip, noise included."""
    rng = np.random.default_rng([picture.spec.seed, 64])
    table = rendering.table
    height, width = picture.pixels.shape[:2]
    whole_gain = cv2.resize(gain_map, (width, height)) if picture.spec.local_tone > 0 else None
    for first in range(0, height, STRIP):
        rows = slice(first, min(first + STRIP, height))
        sensor = _noise(rng, picture.lit(rows) * np.float32(rendering.exposure), picture.spec)
        yield rows, rendering.develop(sensor, table, None if whole_gain is None else whole_gain[rows])


def develop_float(scene):
    """Develop the photo as code values float32 (h, w, 3), unrounded and unsharpened; painted anew."""
    picture = paint(scene.spec)
    code = np.vstack([strip for _, strip in _developed(picture, scene.rendering, scene.gain_map)])
    return code[:, ::-1] if scene.spec.mirrored else code


def sharpened(rgb, spec):
    """Return finished code values (h, w, 3) uint8, sharpened as the spec says."""
    if spec.sharpening <= 0:
        return rgb
    soft = cv2.GaussianBlur(rgb, (0, 0), 1.2)
    return cv2.addWeighted(rgb, 1 + spec.sharpening, soft, -spec.sharpening, 0)


def developed(picture, rendering, top):
    """Return the code values (h, w, 3) float32 of a picture, 0 … `top`, rounded to whole numbers, not sharpened."""
    gain_map = local_tone.gain_map(picture, rendering)
    return np.vstack(
        [np.floor(np.clip(code * top + 0.5, 0, top)) for _, code in _developed(picture, rendering, gain_map)]
    )


def draw(spec):
    """Draw a scene.

    Parameters
    ----------
    spec : SceneSpec

    Returns
    -------
    Scene
    """
    picture = paint(spec)
    rendering = camera.draw_rendering(spec)
    gain_map = local_tone.gain_map(picture, rendering)
    rgb = np.empty((*picture.pixels.shape[:2], 3), np.uint8)
    for rows, code in _developed(picture, rendering, gain_map):
        rgb[rows] = np.clip(code * 255 + 0.5, 0, 255)
    rgb = sharpened(rgb, spec)
    if picture.overlay is not None:
        rgb = overlay.laid(rgb, picture.overlay)
    if spec.mirrored:
        rgb = np.ascontiguousarray(rgb[:, ::-1])
    return Scene(spec, rgb, truth_of(picture, rendering), rendering, picture.light, gain_map)
