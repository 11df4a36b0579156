"""A minimal DNG 1.4: the sensor's values, black level, matrix and neutral, uncompressed."""

import io
import struct
from pathlib import Path

import numpy as np

from . import camera, spectra
from .files import TAKEN, stored


def colour_matrix_1(name):
    """DNG ColorMatrix1 for D65: XYZ -> camera raw, fitted on the training samples, (3, 3)."""
    samples = spectra.training_reflectances()
    raw = camera.responses(samples, name, "D65")
    return np.linalg.lstsq(spectra.xyz_of(samples, "D65"), raw, rcond=None)[0].T


def _rational(values, signed=False):
    kind = ">i" if signed else ">I"
    return b"".join(struct.pack(kind, round(float(v) * 100000)) + struct.pack(">I", 100000) for v in np.ravel(values))


def save_dng(scene, path, bits=14, black=512, mosaic=True):
    """Write the sensor's values as a minimal DNG 1.4: Bayer RGGB, or LinearRaw when not `mosaic`.

    Noise is that of the spec's ISO, per pixel and undenoised; white balance and all that follows is the reader's.
    """
    sensor = scene.sensor()
    spec = scene.spec
    rng = np.random.default_rng([spec.seed, 71])
    full_well = 6000.0 * 100.0 / spec.iso
    sigma = np.sqrt(np.maximum(sensor, 0) / full_well + (2.5 / full_well) ** 2)
    sensor = sensor + sigma * rng.standard_normal(sensor.shape, np.float32)
    white = (1 << bits) - 1
    counts = np.clip(np.round(black + sensor * (white - black)), 0, white).astype(np.uint16)
    # The sensor lies as the file stores it; an even size keeps the mosaic's phase.
    counts = stored(counts, spec.exif_orientation)
    counts = counts[: counts.shape[0] // 2 * 2, : counts.shape[1] // 2 * 2]
    if mosaic:
        bayer = counts[..., 1].copy()
        bayer[::2, ::2], bayer[1::2, 1::2] = counts[::2, ::2, 0], counts[1::2, 1::2, 2]
        counts = bayer
    path = Path(path)
    path.write_bytes(_dng_bytes(scene, counts, (black, white)))
    return path


def _short(*values):
    return struct.pack(f">{len(values)}H", *values)


def _long(*values):
    return struct.pack(f">{len(values)}I", *values)


def _tags(scene, counts, levels):
    """Directory entries (tag, type, bytes); the picture's offset (273) is left open."""
    spec, (height, width) = scene.spec, counts.shape[:2]
    channels = 1 if counts.ndim == 2 else 3
    neutral = 1 / scene.rendering.gains
    name = f"Simulated {spec.camera}\0".encode()
    entries = [
        (254, 4, _long(0)),
        (256, 4, _long(width)),
        (257, 4, _long(height)),
        (258, 3, _short(*[16] * channels)),
        (259, 3, _short(1)),
        (262, 3, _short(32803 if channels == 1 else 34892)),
        (271, 2, b"Invented\0"),
        (272, 2, name),
        (273, 4, _long(0)),
        (274, 3, _short(spec.exif_orientation)),
        (277, 3, _short(channels)),
        (278, 4, _long(height)),
        (279, 4, _long(counts.size * 2)),
        (284, 3, _short(1)),
        (306, 2, TAKEN.format(spec.seed // 60 % 60, spec.seed % 60).encode() + b"\0"),
    ]
    if channels == 1:
        entries += [(33421, 3, _short(2, 2)), (33422, 1, bytes([0, 1, 1, 2]))]
    return entries + [
        (50706, 1, bytes([1, 4, 0, 0])),
        (50707, 1, bytes([1, 1, 0, 0])),
        (50708, 2, name),
        (50714, 3, _short(*[levels[0]] * channels)),
        (50717, 3, _short(*[levels[1]] * channels)),
        (50721, 10, _rational(colour_matrix_1(spec.camera), signed=True)),
        (50728, 5, _rational(neutral / neutral.max())),
        (50778, 3, _short(21)),
    ]


def _dng_bytes(scene, counts, levels):
    """Big-endian TIFF with one directory of DNG 1.4 tags before the uncompressed picture."""
    entries = _tags(scene, counts, levels)
    sizes = {1: 1, 2: 1, 3: 2, 4: 4, 5: 8, 10: 8}
    start = 8 + 2 + 12 * len(entries) + 4
    extra, directory = io.BytesIO(), io.BytesIO()
    length = sum(len(d) + len(d) % 2 for _, _, d in entries if len(d) > 4)
    for tag, kind, data in sorted(entries):
        value = _long(start + length) if tag == 273 else data
        directory.write(struct.pack(">HHI", tag, kind, len(data) // sizes[kind]))
        if len(value) <= 4:
            directory.write(value.ljust(4, b"\0"))
        else:
            directory.write(_long(start + extra.tell()))
            extra.write(value + b"\0" * (len(value) % 2))
    head = b"MM\0*" + _long(8) + _short(len(entries)) + directory.getvalue() + _long(0)
    return head + extra.getvalue() + counts.astype(">u2").tobytes()
