"""A minimal DNG 1.4: the sensor's values, black level, matrix and neutral, uncompressed."""

from pathlib import Path

import numpy as np
import tifffile

from . import camera, spectra
from .files import TAKEN, stored

_BLACK, _WHITE = 512, (1 << 14) - 1  # a 14-bit sensor's black level and full scale, counts


def colour_matrix_1(name):
    """DNG ColorMatrix1 for D65: XYZ -> camera raw, fitted on the training samples, (3, 3)."""
    samples = spectra.training_reflectances()
    raw = camera.responses(samples, name, "D65")
    return np.linalg.lstsq(spectra.xyz_of(samples, "D65"), raw, rcond=None)[0].T


def _fractions(values):
    """Numerators over a common denominator, as TIFF's rationals are stored."""
    return [whole for value in np.ravel(values) for whole in (round(float(value) * 100000), 100000)]


def save_dng(scene, path, mosaic=True):
    """Write the sensor's values as a minimal DNG 1.4: Bayer RGGB, or LinearRaw when not `mosaic`.

    Noise is that of the spec's ISO, per pixel and undenoised; white balance and all that follows is the reader's.
    """
    sensor = scene.sensor()
    spec = scene.spec
    rng = np.random.default_rng([spec.seed, 71])
    full_well = 6000.0 * 100.0 / spec.iso
    sigma = np.sqrt(np.maximum(sensor, 0) / full_well + (2.5 / full_well) ** 2)
    sensor = sensor + sigma * rng.standard_normal(sensor.shape, np.float32)
    counts = np.clip(np.round(_BLACK + sensor * (_WHITE - _BLACK)), 0, _WHITE).astype(np.uint16)
    # The sensor lies as the file stores it; an even size keeps the mosaic's phase.
    counts = stored(counts, spec.exif_orientation)
    counts = counts[: counts.shape[0] // 2 * 2, : counts.shape[1] // 2 * 2]
    if mosaic:
        bayer = counts[..., 1].copy()
        bayer[::2, ::2], bayer[1::2, 1::2] = counts[::2, ::2, 0], counts[1::2, 1::2, 2]
        counts = bayer
    _write(scene, path, counts)
    return Path(path)


def _write(scene, path, counts):
    """Write the tags of DNG 1.4 round the uncompressed picture."""
    spec, channels = scene.spec, 1 if counts.ndim == 2 else 3
    neutral, matrix = 1 / scene.rendering.gains, colour_matrix_1(spec.camera)
    tags = [
        (271, "s", 0, "Invented"),
        (272, "s", 0, f"Simulated {spec.camera}"),
        (274, "H", 1, spec.exif_orientation),
        (50706, "B", 4, (1, 4, 0, 0)),
        (50707, "B", 4, (1, 1, 0, 0)),
        (50708, "s", 0, f"Simulated {spec.camera}"),
        (50714, "H", channels, (_BLACK,) * channels),
        (50717, "H", channels, (_WHITE,) * channels),
        (50721, "2i", 9, _fractions(matrix)),
        (50728, "2I", 3, _fractions(neutral / neutral.max())),
        (50778, "H", 1, 21),
    ]
    if channels == 1:
        tags += [(33421, "H", 2, (2, 2)), (33422, "B", 4, (0, 1, 1, 2))]
    tifffile.imwrite(
        path,
        counts,
        photometric="cfa" if channels == 1 else "linear_raw",
        metadata=None,
        software=False,
        datetime=TAKEN.format(spec.seed // 60 % 60, spec.seed % 60),
        extratags=[(*tag, True) for tag in tags],
    )
